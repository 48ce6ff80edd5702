"""ISO 11785 telegrams: the bits a tag sends, first bit on air first -> TagRead.

FDX-B, 128 bits (layout: H4005 transponder datasheet and a general article on the format, both read):

    00000000001                header: ten zeros and a one
    8 x (8 bits + 1)           the 64-bit code, lowest bit first, a control bit 1 behind every eight
    2 x (8 bits + 1)           CRC, lowest bit first
    3 x (8 bits + 1)           extension: zeros unless the code's data-block bit is set; not covered by the CRC

HDX, 112 bits (the length was read; the layout is from memory, and no published telegram was found to check it with):

    01111110                   start
    64 bits                    the code, lowest bit first
    16 bits                    CRC, lowest bit first
    24 bits                    trailer, not looked at

The CRC is CRC-16/KERMIT over the code's eight bytes, lowest first (two public tools; reproduced on captures).  It finds
every error of up to three bits in the 80 bits of code and CRC.  A damaged telegram is rejected and never repaired: with
a distance of four, repairing one bit would turn some three-bit errors into another animal.
"""

import re
import struct
from binascii import crc_hqx
from typing import Final

from neckyoke.protocols.checksums import MIRRORED
from neckyoke.protocols.readings import Reject, RejectReason, TagRead
from neckyoke.protocols.tagcode import TagCode

FDXB_BITS: Final = 128
HDX_BITS: Final = 112
FDXB_HEADER: Final = "00000000001"
HDX_START: Final = "01111110"

_BITS: Final = re.compile(r"[01]*")
_HEX: Final = re.compile(r"[0-9A-Fa-f]*")
_match_hdx: Final = re.compile(HDX_START + "([01]{80})[01]{24}").fullmatch
_match_fdxb: Final = re.compile(FDXB_HEADER + "([01]{8})1" * 10 + "[01]{8}1" * 3).fullmatch
_unpack: Final = struct.Struct("<QH").unpack  # code and CRC
_new: Final = tuple.__new__


def decode_fdxb(bits: str) -> TagRead | Reject:
    """Read one FDX-B telegram of exactly 128 characters 0 and 1.  For a longer stream see `find_fdxb`."""
    match = _match_fdxb(bits)
    if match is None:
        return _reject(_unlike(bits, FDXB_BITS, FDXB_HEADER) or RejectReason.BAD_CONTROL_BITS, bits)
    return _proven("".join(match.groups()), bits)


def decode_hdx(bits: str) -> TagRead | Reject:
    """Read one HDX telegram of exactly 112 characters 0 and 1."""
    match = _match_hdx(bits)
    if match is None:
        return _reject(_unlike(bits, HDX_BITS, HDX_START) or RejectReason.BAD_HEADER, bits)
    return _proven(match[1], bits)


def decode_fdxb_hex(digits: str) -> TagRead | Reject:
    """Read one FDX-B telegram of 32 hexadecimal digits, the first bit on air the highest of the first digit."""
    return decode_fdxb(_to_bits(digits)) if _HEX.fullmatch(digits) else _reject(RejectReason.BAD_BYTES, digits)


def decode_hdx_hex(digits: str) -> TagRead | Reject:
    """Read one HDX telegram of 28 hexadecimal digits, the first bit on air the highest of the first digit."""
    return decode_hdx(_to_bits(digits)) if _HEX.fullmatch(digits) else _reject(RejectReason.BAD_BYTES, digits)


def fdxb_extension(bits: str) -> int:
    """Return the 24 bits behind the CRC of a good FDX-B telegram as a number.  Nothing in the telegram proves them."""
    blocks = bits[len(FDXB_HEADER) :]
    return int("".join(blocks[at : at + 8] for at in range(90, 117, 9))[::-1], 2)


def find_fdxb(bits: str) -> list[TagRead]:
    """Find the good FDX-B telegrams in a longer stream, wherever they begin.

    The control bits keep eleven-bit headers out of a telegram's inside, so a good one is never found askew; what lies
    between good ones is passed over.
    """
    found: list[TagRead] = []
    at = bits.find(FDXB_HEADER)
    while at >= 0:
        read = decode_fdxb(bits[at : at + FDXB_BITS])
        if isinstance(read, TagRead):
            found.append(read)
        at = bits.find(FDXB_HEADER, at + (FDXB_BITS if isinstance(read, TagRead) else 1))
    return found


def _unlike(bits: str, length: int, header: str) -> RejectReason | None:
    if not _BITS.fullmatch(bits):
        return RejectReason.BAD_BYTES
    if len(bits) != length:
        return RejectReason.WRONG_LENGTH
    return None if bits.startswith(header) else RejectReason.BAD_HEADER


def _proven(payload: str, bits: str) -> TagRead | Reject:
    """Read the code of 64 bits that the 16 bits behind it prove: `payload` is both.

    Seen in the order on air, highest bit first, the CRC is CRC-16/XMODEM, and that of code and CRC together is zero.
    """
    on_air = int(payload, 2).to_bytes(10, "big")
    if crc_hqx(on_air, 0):
        return _reject(RejectReason.BAD_CHECKSUM, bits)
    value, _crc = _unpack(on_air.translate(MIRRORED))
    return _new(TagRead, (TagCode.from_bits(value),))


def _to_bits(digits: str) -> str:
    return "".join(f"{int(digit, 16):04b}" for digit in digits)


def _reject(reason: RejectReason, text: str) -> Reject:
    return Reject.of(reason, text.encode("ascii", "replace"))
