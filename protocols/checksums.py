"""Checksums: XOR, sum, and the CRCs met on serial lines, by their names in the public catalogue of CRCs.

    name         width  poly  init  reflected  check on "123456789"
    kermit       16     1021  0000  yes        2189    ISO 11785 telegrams
    xmodem       16     1021  0000  no         31C3
    ibm-sdlc     16     1021  FFFF  yes        906E    (final XOR FFFF)
    ibm-3740     16     1021  FFFF  no         29B1
    modbus       16     8005  FFFF  yes        4B37
    arc          16     8005  0000  yes        BB3D
    smbus        8      07    00    no         F4
    maxim        8      31    00    yes        A1

Parameters and check values: the crc-catalog crate's documentation and three CRC libraries that agree (read and
recomputed).
"""

import operator
from binascii import crc_hqx
from collections.abc import Callable
from functools import reduce
from typing import Final

MIRRORED: Final = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
"""Every byte with its bits in reverse: a table for `bytes.translate`."""


def xor(data: bytes) -> int:
    """Exclusive or of all bytes."""
    return reduce(operator.xor, data, 0)


def total(data: bytes) -> int:
    """Sum of all bytes modulo 256."""
    return sum(data) & 0xFF


def negated(data: bytes) -> int:
    """Two's complement of the sum: what makes the sum of all bytes with the check zero modulo 256."""
    return -sum(data) & 0xFF


def _crc(width: int, poly: int, init: int, *, reflected: bool) -> Callable[[bytes], int]:
    """Make the function of one CRC, a table of 256 entries behind it."""
    top, mask = 1 << width - 1, (1 << width) - 1
    mirrored = int(f"{poly:0{width}b}"[::-1], 2)

    def entry(byte: int) -> int:
        value = byte if reflected else byte << width - 8
        for _ in range(8):
            if reflected:
                value = value >> 1 ^ (mirrored if value & 1 else 0)
            else:
                value = (value << 1 ^ (poly if value & top else 0)) & mask
        return value

    table = tuple(entry(byte) for byte in range(256))

    def run(data: bytes) -> int:
        value = init
        if reflected:
            for byte in data:
                value = value >> 8 ^ table[(value ^ byte) & 0xFF]
        else:
            for byte in data:
                value = value << 8 & mask ^ table[(value >> width - 8 ^ byte) & 0xFF]
        return value

    return run


def kermit(data: bytes, start: int = 0) -> int:
    """CRC-16/KERMIT: the standard library's CRC of the same polynomial, which is not reflected, seen in a mirror."""
    crc = crc_hqx(data.translate(MIRRORED), start)
    return MIRRORED[crc & 0xFF] << 8 | MIRRORED[crc >> 8]


CHECKS: Final[dict[str, tuple[int, Callable[[bytes], int]]]] = {
    "xor": (1, xor),
    "sum": (1, total),
    "negated-sum": (1, negated),
    "crc8-smbus": (1, _crc(8, 0x07, 0, reflected=False)),
    "crc8-maxim": (1, _crc(8, 0x31, 0, reflected=True)),
    "crc16-kermit": (2, kermit),
    "crc16-xmodem": (2, lambda data: crc_hqx(data, 0)),
    "crc16-ibm-sdlc": (2, lambda data: kermit(data, 0xFFFF) ^ 0xFFFF),
    "crc16-ibm-3740": (2, lambda data: crc_hqx(data, 0xFFFF)),
    "crc16-modbus": (2, _crc(16, 0x8005, 0xFFFF, reflected=True)),
    "crc16-arc": (2, _crc(16, 0x8005, 0, reflected=True)),
}
"""Name -> (bytes it takes, function)."""
