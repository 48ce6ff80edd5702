"""What the words, letters and bits of a scale frame mean, and a reading made from them.

Shared by the declarative layouts and the free-form one: both boil a frame down to a number and a set of meanings.
"""

from collections.abc import Iterable
from enum import StrEnum
from typing import Final, NamedTuple

from neckyoke.protocols.readings import KG_PER, Condition, Mode, Reject, RejectReason, WeightReading

HEAVIEST_KG: Final = 50_000.0
"""No platform for animals shows more (a laden stock lorry weighs less); a number above is no weight."""


class Meaning(StrEnum):
    """What one token or bit can say.  A closed list: the keys of a layout's `tokens` and `bits`."""

    STABLE = "stable"
    MOVING = "moving"
    OVERLOAD = "overload"
    UNDERLOAD = "underload"
    ERROR = "error"
    GROSS = "gross"
    NET = "net"
    TARE = "tare"
    ZERO = "zero"
    NOT_ZERO = "not-zero"
    KG = "kg"
    G = "g"
    T = "t"
    LB = "lb"
    IGNORED = "ignored"


UNITS: Final = frozenset(KG_PER)

UNIT_WORDS: Final[dict[str, str]] = {
    "kg": "kg", "kgs": "kg", "lb": "lb", "lbs": "lb", "g": "g", "t": "t",
}  # fmt: skip
"""Units as devices write them, in lower case."""


class Said(NamedTuple):
    """All that a frame says beside its number.  None where it says nothing."""

    stable: bool | None = None
    mode: Mode | None = None
    at_zero: bool | None = None
    condition: Condition = Condition.OK
    unit: str | None = None


def combine(meanings: Iterable[Meaning]) -> Said:
    """Join meanings.  Where a frame contradicts itself the cautious one wins: moving, error, overload."""
    said = set(meanings)
    return Said(
        stable=False if Meaning.MOVING in said else True if Meaning.STABLE in said else None,
        mode=next((mode for mode in Mode if Meaning(mode.value) in said), None),
        at_zero=True if Meaning.ZERO in said else False if Meaning.NOT_ZERO in said else None,
        condition=next((bad for bad in _WORST_FIRST if Meaning(bad.value) in said), Condition.OK),
        unit=next((unit for unit in KG_PER if Meaning(unit) in said), None),
    )


_WORST_FIRST: Final = (Condition.ERROR, Condition.OVERLOAD, Condition.UNDERLOAD)


def make_reading(number: float, text: str, unit: str, said: Said, frame: bytes) -> WeightReading | Reject:
    """Make the reading of a number; OUT_OF_RANGE when no scale shows it (or it is no number at all)."""
    kg = number / 1000.0 if unit == "g" else number * KG_PER[unit]  # grams divided: 0.001 is not exact in binary
    kg += 0.0  # never minus zero
    if not -HEAVIEST_KG <= kg <= HEAVIEST_KG:
        return Reject.of(RejectReason.OUT_OF_RANGE, frame)
    return WeightReading(kg, text, unit, said.stable, said.mode, said.at_zero, said.condition)


def numberless(unit: str, said: Said, frame: bytes) -> WeightReading | Reject:
    """Make the reading of a frame without a number: one that says why there is none, or a reject."""
    if said.condition is Condition.OK:
        return Reject.of(RejectReason.NO_NUMBER, frame)
    return WeightReading(None, None, unit, said.stable, said.mode, said.at_zero, said.condition)


def is_printable(frame: bytes) -> bool:
    """Return whether every byte is printable ASCII, a tab, or the line end within a block."""
    return not frame.translate(None, PRINTABLE)


PRINTABLE: Final = bytes(range(0x20, 0x7F)) + b"\t\n"
NO_DIGITS: Final = bytes(byte for byte in range(256) if not 0x30 <= byte <= 0x39)


def why_not(frame: bytes) -> RejectReason:
    """Name the reason for which a frame that fits no shape was refused."""
    if not is_printable(frame):
        return RejectReason.BAD_BYTES
    return RejectReason.WRONG_SHAPE if frame.strip(NO_DIGITS) else RejectReason.NO_NUMBER
