"""ISO 11784: the 64-bit code on a tag, its fields, and its decimal and hexadecimal spellings.

    value bit  63      62..60  59..55  54..49    48          47..38   37..0
    field      animal  retag   user    reserved  data block  country  national

Bit 0 of the value goes on air first.  Field positions: H4005 transponder datasheet, p. 5/6, and the comments of a
general RFID research tool (facts read in both); the standard itself was not seen.

Two hexadecimal spellings of the same 64 bits are about: the value as one writes a number (`8000F9C00001B669`), and the
order on air, first bit as the highest of the first byte (`966D8000039F0001`).  They are exact reversals of each other
and cannot be told apart safely, so which one a reader sends is a setting (`hex_order`).
"""

import re
from enum import StrEnum
from functools import lru_cache
from typing import Final, Literal, NamedTuple, TypeAlias

from neckyoke.protocols.countries import COUNTRIES
from neckyoke.protocols.rejects import Reject, RejectReason

NATIONAL_MAX = 2**38 - 1
"""Largest national code a tag can hold: 274 877 906 943, exactly 12 digits."""
COUNTRY_MAX = 1023
"""Largest country or manufacturer code ten bits can hold; above 999 it is outside the rules."""
FIRST_MANUFACTURER = 900
"""From here to 998 codes of manufacturers stand; below are countries (ISO 3166-1 numeric)."""
TEST_COUNTRY = 999
"""ISO 11784 keeps 999 for test transponders."""

HexOrder: TypeAlias = Literal["value", "air"]

_HEX: Final = re.compile(r"[0-9A-Fa-f]{16}")
_DIGITS: Final = re.compile(r"[0-9]+")
_new: Final = tuple.__new__


class Remark(StrEnum):
    """What can be odd about a code.  A closed list: none of these is an error, all of them are worth a look."""

    NOT_ANIMAL = "not-animal"  # the animal bit is clear
    TEST_CODE = "test-code"  # 999: a test transponder
    NO_COUNTRY = "no-country"  # 000 stands for nobody
    ODD_COUNTRY = "odd-country"  # below 900, but no country of ISO 3166-1 (nor 899, Northern Ireland)
    CODE_TOO_HIGH = "code-too-high"  # 1000 to 1023: ten bits can hold it, the rules do not know it
    RESERVED_BITS = "reserved-bits"  # bits that should be zero are not
    DATA_BLOCK = "data-block"  # the tag says that more data follows its code


class TagCode(NamedTuple):
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

    @classmethod
    def from_digits(cls, digits: str) -> "TagCode | Reject":
        """Read the 15 digits: WRONG_LENGTH for more or fewer, OUT_OF_RANGE above the largest national code."""
        if not _DIGITS.fullmatch(digits):
            return _reject(RejectReason.WRONG_SHAPE, digits)
        if len(digits) != 15:
            return _reject(RejectReason.WRONG_LENGTH, digits)
        national = int(digits[3:])
        if national > NATIONAL_MAX:
            return _reject(RejectReason.OUT_OF_RANGE, digits)
        return cls(int(digits[:3]), national)

    @classmethod
    def from_value(cls, value: int) -> "TagCode | Reject":
        """Take the 64-bit value apart; OUT_OF_RANGE when it is not one."""
        if not 0 <= value < 1 << 64:
            return _reject(RejectReason.OUT_OF_RANGE, f"{value:x}")
        return cls.from_bits(value)

    @classmethod
    def from_bits(cls, value: int) -> "TagCode":
        """Take apart a value known to have no more than 64 bits."""
        country, head = _upper(value >> 38)
        return _new(cls, (country, value & NATIONAL_MAX) + head)  # noqa: RUF005  # faster

    @classmethod
    def from_hex(cls, digits: str, order: HexOrder = "value") -> "TagCode | Reject":
        """Read 16 hexadecimal digits in either order; WRONG_LENGTH or WRONG_SHAPE when they are none."""
        if len(digits) != 16:
            return _reject(RejectReason.WRONG_LENGTH, digits)
        if not _HEX.fullmatch(digits):
            return _reject(RejectReason.WRONG_SHAPE, digits)
        value = int(digits, 16)
        return cls.from_value(reverse64(value) if order == "air" else value)

    def remarks(self) -> tuple[Remark, ...]:
        """Return what is odd about the code; empty for an ordinary animal's."""
        odd = {
            Remark.NOT_ANIMAL: not self.animal,
            Remark.TEST_CODE: self.country == TEST_COUNTRY,
            Remark.NO_COUNTRY: self.country == 0,
            Remark.ODD_COUNTRY: 0 < self.country < FIRST_MANUFACTURER and self.country not in COUNTRIES,
            Remark.CODE_TOO_HIGH: self.country > TEST_COUNTRY,
            Remark.RESERVED_BITS: self.reserved != 0,
            Remark.DATA_BLOCK: self.data_block,
        }
        return tuple(remark for remark, is_so in odd.items() if is_so)


Head: TypeAlias = tuple[bool, int, int, int, bool]
"""Animal, retag, user, reserved and data block."""


@lru_cache(maxsize=64)
def _upper(bits: int) -> tuple[int, Head]:
    """Take the upper 26 bits apart, country and all above: remembered, since the tags of a herd share them."""
    head = bool(bits >> 25), bits >> 22 & 0b111, bits >> 17 & 0b11111, bits >> 11 & 0b111111, bool(bits >> 10 & 1)
    return bits & COUNTRY_MAX, head


def reverse64(value: int) -> int:
    """Turn the order of 64 bits round: between value and air order."""
    return int(f"{value:064b}"[::-1], 2)


def _reject(reason: RejectReason, text: str) -> Reject:
    return Reject.of(reason, text.encode("ascii", "replace"))
