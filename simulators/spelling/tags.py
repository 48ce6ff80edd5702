"""Ear tags and the ways readers print them.

A tag holds 64 bits (ISO 11784).  Bit 63 of the value is the most significant; bit 0 goes on air first:

    63      62..60  59..55  54..50    49    48          47..38   37..0
    animal  retag   user    reserved  RUDI  data block  country  national

The positions are those of a general transponder's data sheet and of a general research tool's comments; the standard
itself was not seen.  Each spelling gives the bytes of one read, with its line end or its STX and ETX.
"""

from collections.abc import Callable
from dataclasses import dataclass

TEST_COUNTRY = 999
"""The code ISO 11784 keeps for test transponders: every animal of our scenario wears it."""

STX, ETX = b"\x02", b"\x03"


@dataclass(frozen=True, slots=True, order=True)
class Tag:
    """What one tag holds; `reserved` takes the five reserved bits and the RUDI bit below them."""

    national: int
    country: int = TEST_COUNTRY
    animal: bool = True
    retag: int = 0
    user: int = 0
    reserved: int = 0
    data_block: bool = False

    def __str__(self) -> str:
        """Fifteen digits: the way people write it, and the way truth is kept."""
        return f"{self.country:03d}{self.national:012d}"

    @property
    def value(self) -> int:
        """The 64 bits as an integer."""
        word = int(self.animal)
        for field, width in (
            (self.retag, 3),
            (self.user, 5),
            (self.reserved, 6),  # five reserved bits and RUDI
            (int(self.data_block), 1),
            (self.country, 10),
            (self.national, 38),
        ):
            word = word << width | field
        return word

    @property
    def air(self) -> bytes:
        """Eight bytes in the order of transmission: bit 0 of the value is the top bit of the first byte."""
        return bytes(int(f"{byte:08b}"[::-1], 2) for byte in self.value.to_bytes(8, "little"))


def digits(tag: Tag) -> bytes:
    """Fifteen digits."""
    return str(tag).encode() + b"\r\n"


def parted(tag: Tag, separator: str = " ") -> bytes:
    """Three digits, a separator, twelve digits."""
    return f"{tag.country:03d}{separator}{tag.national:012d}\r\n".encode()


def wrapped(tag: Tag) -> bytes:
    """STX, fifteen digits, ETX and no line end."""
    return STX + str(tag).encode() + ETX


def full(tag: Tag, country_width: int = 3) -> bytes:
    """Every field at its natural decimal width, in the order of the bits: 22 digits, or 23 with a wide country."""
    return (
        f"{tag.animal:d}{tag.retag:d}{tag.user:02d}{tag.reserved:02d}{tag.data_block:d}"
        f"{tag.country:0{country_width}d}{tag.national:012d}\r\n"
    ).encode()


SPELLINGS: dict[str, Callable[[Tag], bytes]] = {
    "digits": digits,
    "space": parted,
    "hyphen": lambda tag: parted(tag, "-"),
    "underscore": lambda tag: parted(tag, "_"),
    "dot": lambda tag: parted(tag, "."),
    "letters": lambda tag: b"TAG " + digits(tag),
    "wrapped": wrapped,
    "wrapped-line": lambda tag: STX + parted(tag),
    "hex-value": lambda tag: f"{tag.value:016X}\r\n".encode(),
    "hex-air": lambda tag: tag.air.hex().upper().encode() + b"\r\n",
    "hex-parts": lambda tag: f"{tag.country:03X}{tag.national:010X}\r\n".encode(),
    "full": full,
    "full-wide": lambda tag: full(tag, 4),
    "lone-cr": lambda tag: str(tag).encode() + b"\r",
    "lone-lf": lambda tag: str(tag).encode() + b"\n",
}
"""How a read is printed, by a name of its shape."""
