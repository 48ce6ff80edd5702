"""ISO 11784: the 64-bit code on a tag, its fields, and its decimal and hexadecimal spellings.

    value bit  63      62..60  59..55  54..49    48          47..38   37..0
    field      animal  retag   user    reserved  data block  country  national

Bit 0 of the value goes on air first.  Field positions: H4005 transponder datasheet, p. 5/6, and the comments of a
general RFID research tool (facts read in both); the standard itself was not seen.
"""

from dataclasses import dataclass

NATIONAL_MAX = 2**38 - 1
"""Largest national code a tag can hold: 274 877 906 943, exactly 12 digits."""
COUNTRY_MAX = 1023
"""Largest country or manufacturer code ten bits can hold; above 999 it is outside the rules."""
TEST_COUNTRY = 999
"""ISO 11784 keeps 999 for test transponders."""


@dataclass(frozen=True, slots=True)
class TagCode:
    """One tag's code.  Two codes are the same animal's when all fields agree; `str()` is the 15 digits."""

    country: int
    national: int
    animal: bool = True
    retag: int = 0
    user: int = 0
    reserved: int = 0
    data_block: bool = False

    def __str__(self) -> str:
        """Fifteen digits: three of country or manufacturer, twelve of national code, zeros kept."""
        return f"{self.country:03d}{self.national:012d}"
