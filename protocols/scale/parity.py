"""Seven data bits and parity, seen through a port set to eight data bits: the parity is the highest bit.

A byte whose parity is wrong becomes `BAD`, so that its frame can be told; its other bits are not believed.
"""

from typing import Final

from neckyoke.protocols.scale.layout import Parity

BAD: Final = b"\x80"


def strip_table(parity: Parity) -> bytes:
    """Make the table for `bytes.translate` that checks and takes off the parity bit."""
    return bytes(byte & 0x7F if holds(byte, parity) else BAD[0] for byte in range(256))


def holds(byte: int, parity: Parity) -> bool:
    """Return whether a byte's highest bit is right for its parity."""
    match parity:
        case "even":
            return byte.bit_count() % 2 == 0
        case "odd":
            return byte.bit_count() % 2 == 1
        case "mark":
            return byte >= 0x80
        case "space":
            return byte < 0x80
