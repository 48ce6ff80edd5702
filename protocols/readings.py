"""The three outcomes of decoding one frame: a weight, a tag, or a named reject.

A decoder takes bytes and returns a list of these; an empty list means "not yet".  It never raises on what a device
sends: any exception out of `protocols` is a bug.  Outcomes carry no time.  Whoever read the bytes knows when, and hands
that time on beside the outcome, so that decoding stays a function of the bytes alone.
"""

from enum import StrEnum
from typing import NamedTuple, TypeAlias

from neckyoke.protocols.rejects import FRAME_KEPT, Reject, RejectReason
from neckyoke.protocols.tagcode import TagCode

__all__ = [
    "FRAME_KEPT",
    "KG_PER",
    "Condition",
    "Mode",
    "Outcome",
    "Reject",
    "RejectReason",
    "TagRead",
    "WeightReading",
]

KG_PER: dict[str, float] = {
    "kg": 1.0,
    "g": 0.001,
    "t": 1000.0,
    "lb": 0.45359237,  # exact: international avoirdupois pound (value from memory; two public parsers agree)
}
"""Kilograms in one of each unit understood."""


class Condition(StrEnum):
    """What the indicator says of the number it shows."""

    OK = "ok"
    OVERLOAD = "overload"
    UNDERLOAD = "underload"
    ERROR = "error"


class Mode(StrEnum):
    """Which weight is shown."""

    GROSS = "gross"
    NET = "net"
    TARE = "tare"


class WeightReading(NamedTuple):
    """One decoded weight.

    `kg` is None when the frame says overload, underload or error without a number.  `value` and `unit` are what was
    received.  `stable`, `at_zero` and `mode` are None when the frame does not say.

    A named tuple and not a frozen dataclass: it is made ten times a second for every scale, for years, at a third of
    the cost.
    """

    kg: float | None
    value: str | None = None
    unit: str = "kg"
    stable: bool | None = None
    mode: Mode | None = None
    at_zero: bool | None = None
    condition: Condition = Condition.OK


class TagRead(NamedTuple):
    """One decoded tag code."""

    code: TagCode


Outcome: TypeAlias = WeightReading | TagRead | Reject
