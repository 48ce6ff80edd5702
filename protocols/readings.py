"""The three outcomes of decoding one frame: a weight, a tag, or a named reject.

A decoder takes bytes and returns a list of these; an empty list means "not yet".  It never raises on what a device
sends: any exception out of `protocols` is a bug.  Outcomes carry no time.  Whoever read the bytes knows when, and hands
that time on beside the outcome, so that decoding stays a function of the bytes alone.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from protocols.tagcode import TagCode

KG_PER: dict[str, float] = {
    "kg": 1.0,
    "g": 0.001,
    "t": 1000.0,
    "lb": 0.45359237,  # exact: international avoirdupois pound (value from memory; two public parsers agree)
}
"""Kilograms in one of each unit understood."""

FRAME_KEPT = 96
"""Bytes of an offending frame kept in a reject: enough to see what it was, bounded whatever is sent."""


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


class RejectReason(StrEnum):
    """Why bytes were no reading.  A closed list: each is counted per link and shown in the health figures."""

    TOO_LONG = "too-long"  # no frame end within the cap
    CUT = "cut"  # a new frame began before this one ended
    BAD_BYTES = "bad-bytes"  # bytes outside printable ASCII (line noise, wrong baud rate)
    NO_NUMBER = "no-number"  # nothing that reads as a weight or a tag
    TWO_NUMBERS = "two-numbers"  # the free-form layout found more than one
    WRONG_SHAPE = "wrong-shape"  # not the layout it was told to be
    UNKNOWN_UNIT = "unknown-unit"
    UNKNOWN_STATUS = "unknown-status"
    BAD_CHECKSUM = "bad-checksum"
    BAD_PARITY = "bad-parity"
    WRONG_LENGTH = "wrong-length"  # 14 or 16 digits, 15 hex …
    OUT_OF_RANGE = "out-of-range"  # a national number above 2**38 - 1, a weight no scale shows
    BAD_HEADER = "bad-header"  # telegram start pattern missing
    BAD_CONTROL_BITS = "bad-control-bits"  # telegram control bits not as sent
    UNSUCCESSFUL = "unsuccessful"  # the device itself says it could not measure


@dataclass(frozen=True, slots=True)
class WeightReading:
    """One decoded weight.

    `kg` is None when the frame says overload, underload or error without a number.  `value` and `unit` are what was
    received.  `stable`, `at_zero` and `mode` are None when the frame does not say.
    """

    kg: float | None
    value: str | None = None
    unit: str = "kg"
    stable: bool | None = None
    mode: Mode | None = None
    at_zero: bool | None = None
    condition: Condition = Condition.OK


@dataclass(frozen=True, slots=True)
class TagRead:
    """One decoded tag code."""

    code: TagCode


@dataclass(frozen=True, slots=True)
class Reject:
    """Bytes that were no reading, with a named reason.  `frame` holds at most `FRAME_KEPT` bytes of them."""

    reason: RejectReason
    frame: bytes

    @classmethod
    def of(cls, reason: RejectReason, frame: bytes) -> "Reject":
        """Make a reject that keeps no more of the frame than `FRAME_KEPT` bytes."""
        return cls(reason, bytes(frame[:FRAME_KEPT]))


Outcome: TypeAlias = WeightReading | TagRead | Reject
