"""Bytes that were no reading, each with a named reason."""

from dataclasses import dataclass
from enum import StrEnum

FRAME_KEPT = 96
"""Bytes of an offending frame kept in a reject: enough to see what it was, bounded whatever is sent."""


class RejectReason(StrEnum):
    """Why bytes were no reading.  A closed list: each is counted per link and shown in the health figures."""

    TOO_LONG = "too-long"  # no frame end within the cap
    CUT = "cut"  # a frame without its start or its end
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
class Reject:
    """Bytes that were no reading, with a named reason.  `frame` holds at most `FRAME_KEPT` bytes of them."""

    reason: RejectReason
    frame: bytes

    @classmethod
    def of(cls, reason: RejectReason, frame: bytes) -> "Reject":
        """Make a reject that keeps no more of the frame than `FRAME_KEPT` bytes."""
        return cls(reason, bytes(frame[:FRAME_KEPT]))
