"""What is told of bytes that were no reading."""

from neckyoke.protocols.rejects import Reject, RejectReason


def test_reasons_are_counted_by_these_words() -> None:
    """The words of the health figures, which recorders read: they may be added to, and not changed."""
    assert {reason.value for reason in RejectReason} >= {
        "too-long", "cut", "bad-bytes", "no-number", "two-numbers", "wrong-shape", "unknown-unit", "unknown-status",
        "bad-checksum", "bad-parity", "wrong-length", "out-of-range", "bad-header", "bad-control-bits", "unsuccessful",
    }  # fmt: skip


def test_a_reject_keeps_the_first_96_bytes() -> None:
    frame = bytes(range(200))
    assert Reject.of(RejectReason.TOO_LONG, frame).frame == frame[:96]
    assert Reject.of(RejectReason.WRONG_SHAPE, frame[:96]).frame == frame[:96]
    assert Reject.of(RejectReason.CUT, b"").frame == b""
