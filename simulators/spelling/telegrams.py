"""ISO 11785 telegrams: the bits a tag sends, as text of 0 and 1 in the order of transmission.

    FDX-B, 128 bits   00000000001 | 8 x (8 code bits + 1) | 2 x (8 CRC bits + 1) | 3 x (8 extension bits + 1)
    HDX,   112 bits   01111110    | 64 code bits          | 16 CRC bits          | 24 trailer bits

Every field is sent least significant bit first.  The CRC (polynomial x^16 + x^12 + x^5 + 1, start 0, bits reflected)
covers the code only.  FDX-B as in a general transponder's data sheet; the HDX layout is from memory and only its length
was read anywhere; what the HDX trailer holds was not seen.
"""

from neckyoke.simulators.spelling.tags import Tag

FDXB_START = "00000000001"
HDX_START = "01111110"
CRC_POLYNOMIAL = 0x8408  # 0x1021 with its bits reflected


def crc16(data: bytes) -> int:
    """Divide bit by bit, least significant bit first: slow, short, and unlike any table."""
    remainder = 0
    for byte in data:
        remainder ^= byte
        for _ in range(8):
            remainder = remainder >> 1 ^ (CRC_POLYNOMIAL if remainder & 1 else 0)
    return remainder


def _bits(value: int, width: int) -> str:
    """Write a value as bits, least significant first."""
    return f"{value:0{width}b}"[::-1]


def _controlled(bits: str) -> str:
    """Put a 1 after every eight bits, so that no data can look like the start."""
    return "".join(bits[at : at + 8] + "1" for at in range(0, len(bits), 8))


def fdxb(tag: Tag, extension: int = 0) -> str:
    """Return one FDX-B telegram of 128 bits; `extension` is the 24-bit value sent after the CRC."""
    crc = crc16(tag.value.to_bytes(8, "little"))
    return FDXB_START + _controlled(_bits(tag.value, 64) + _bits(crc, 16) + _bits(extension, 24))


def hdx(tag: Tag, trailer: int = 0) -> str:
    """Return one HDX telegram of 112 bits; `trailer` is the 24-bit value sent after the CRC."""
    crc = crc16(tag.value.to_bytes(8, "little"))
    return HDX_START + _bits(tag.value, 64) + _bits(crc, 16) + _bits(trailer, 24)


def pack(bits: str) -> bytes:
    """Pack transmitted bits eight to a byte, the first bit on air at the top."""
    return int(bits, 2).to_bytes((len(bits) + 7) // 8, "big")


def flip(bits: str, *places: int) -> str:
    """Turn single bits over: a telegram damaged on its way."""
    damaged = list(bits)
    for place in places:
        damaged[place] = "10"[int(damaged[place])]
    return "".join(damaged)
