"""Streams cut into frames: ends, starts, junk, caps, and streams joined in their middle."""

from collections.abc import Callable

import pytest

from neckyoke.protocols.framing.framer import (
    CAP,
    BlockFramer,
    EnclosedFramer,
    FixedFramer,
    Framer,
    LayoutError,
    PartialFrame,
    make_framer,
)
from neckyoke.protocols.readings import Reject


def told(pieces: list[bytes | Reject]) -> list[bytes | str]:
    return [piece if isinstance(piece, bytes) else piece.reason.value for piece in pieces]


CASES = [
    ("auto", b"a1\rb2\r", [b"a1", b"b2"]),
    ("auto", b"a1\nb2\n", [b"a1", b"b2"]),
    ("auto", b"a1\r\nb2\r\n", [b"a1", b"b2"]),
    ("auto", b"a1\n\rb2\n\r", [b"a1", b"b2"]),
    ("auto", b"\x02a1\x03\x02b2\x03", [b"a1", b"b2"]),
    ("auto", b"\x02a1\r\x02b2\r", [b"a1", b"b2"]),
    ("auto", b"\x00\xff\x00a1\xff\r\n\x00b2\x00\n", [b"a1", b"b2"]),
    ("auto", b"a\x00b\r\n", [b"a\x00b"]),
    ("auto", b"\x02a1\x0353\r\n\x02b2\x0354\x02c3\x03", [b"a1", b"b2", b"c3"]),
    ("auto", b"\x02a1\x03\r\nb2\r\n", [b"a1", b"b2"]),
    ("auto", b"a1\x03b2\x03", [b"a1", b"b2"]),
    ("auto", b"a1\x03b2\r\n\x02c3\x03", [b"a1", b"b2", b"c3"]),  # no STX began a1: b2 is no check of it
    ("auto", b"7" * CAP + b"\x02a1\x03", ["cut", b"a1"]),
    ("auto", b"7" * (CAP + 1) + b"\x02a1\x03", ["too-long", b"a1"]),
    ("auto", b"garb\x02a1\x03", ["cut", b"a1"]),
    ("auto", b"\x02a1\x02b2\x03", ["cut", b"b2"]),
    ("auto", b"   \r\n\r\n\t\r\na1\r\n", [b"a1"]),
    ("auto", b"7" * CAP + b"\r", [b"7" * CAP]),
    ("auto", b"7" * (CAP + 1) + b"\ra1\r", ["too-long", b"a1"]),
    ("auto", b"7" * (CAP + 1) + b"\x02a1\x03", ["too-long", b"a1"]),
    ("line", b"\x02a\x03b\r\n\x02c\x03\r\n", [b"a\x03b", b"c"]),
    ("stx-etx:2", b"\x02" + b"7" * (CAP + 1) + b"\x0353\x02a1\x0354", ["too-long", b"a1\x0354"]),
    ("stx-etx", b"7" * CAP, []),
    ("stx-etx", b"7" * (CAP + 1), ["too-long"]),  # said, and let go, though no frame ever begins
    ("stx-etx", b"x\x02a1\x03 \r\n\x02b2\x03", ["cut", b"a1", b"b2"]),
    ("stx-etx", b"\x02a1\x02b2\x03", ["cut", b"b2"]),
    ("stx-etx", b"\x02a1\x03 \x00\t\xff\r\n\x00\x02b2\x03", [b"a1", b"b2"]),
    ("fixed:2", b"a1b2c3", []),  # what nobody accepts is no frame
    ("stx-etx", b"\x02a\r\n1\x03", [b"a\r\n1"]),
    ("stx-etx", b"\x02\x03\x02b2\x03", [b"b2"]),
    ("stx-etx", b"\x02" + b"7" * (CAP + 1) + b"\x03\x02b2\x03", ["too-long", b"b2"]),
    ("stx-etx", b"7" * (CAP + 1) + b"\x02b2\x03", ["too-long", b"b2"]),
    ("stx-etx:1", b"\x02a1\x03\x02\x02b2\x03\x03", [b"a1\x03\x02", b"b2\x03\x03"]),
    ("stx-etx:2", b"\x02a1\x03\r\n\x02b2\x03AB", [b"a1\x03\r\n", b"b2\x03AB"]),
    ("block", b"G 1\r\nT 2\r\n\r\nG 3\r\nT 4\r\n\r\n", [b"G 1\nT 2", b"G 3\nT 4"]),
    ("block", b"\x02G 1\nT 2\x03\n\n", [b"G 1\nT 2"]),
    ("block", b"G 1\nT 2\n\x0cG 3\n\x0c", [b"G 1\nT 2", b"G 3"]),
    ("block", b"G 1\r\n \r\nT 2\n\t\nN 3\n\x00 \xff\n", [b"G 1", b"T 2", b"N 3"]),
    ("block", b"G 1\n\nT 2\n  \nN 3\n\n\n\n", [b"G 1", b"T 2", b"N 3"]),
    ("block", b"G 1\n\n" + b"7" * (CAP - 1) + b"\n\n", [b"G 1", b"7" * (CAP - 1)]),
    ("block", b"G 1\n\n" + b"7" * CAP + b"\n\n", [b"G 1", "too-long"]),
    ("block:N", b"G 1\nN 2\nG 3\n  N 4\n", [b"G 1\nN 2", b"G 3\n  N 4"]),
    ("block", (b"7" * 100 + b"\n") * 20 + b"\nG 1\n\n", ["too-long", b"G 1"]),
]


@pytest.mark.parametrize(("framing", "stream", "expected"), CASES)
@pytest.mark.parametrize("size", [1, 7, 10_000])
def test_streams_are_cut_the_same_in_whatever_chunks_they_come(
    framing: str,
    stream: bytes,
    expected: list[bytes | str],
    size: int,
) -> None:
    framer = make_framer(framing)
    pieces = [piece for at in range(0, len(stream), size) for piece in framer.feed(stream[at : at + size])]
    assert told(pieces) == expected
    assert not any(isinstance(piece, PartialFrame) for piece in pieces)


def starts_with_at(frame: bytes) -> bool:
    return frame[:1] == b"@" and frame[1:].isdigit()


@pytest.mark.parametrize(
    ("stream", "expected"),
    [
        (b"@123@456", [b"@123", b"@456"]),
        (b"23@456@789", ["cut", b"@456", b"@789"]),
        (b"@123@46@789", [b"@123", "cut", b"@789"]),
        (b"@123\x00\xff@456", [b"@123", b"@456"]),
        (b"7" * 600 + b"@456", ["too-long", b"@456"]),
        (b"7" * CAP + b"@456", ["cut", b"@456"]),
        (b"7" * (CAP + 1) + b"@456", ["too-long", b"@456"]),
    ],
)
@pytest.mark.parametrize("size", [1, 3, 1000])
def test_frames_of_fixed_length_are_found_again_after_a_lost_byte(
    stream: bytes, expected: list[bytes | str], size: int
) -> None:
    framer = make_framer("fixed:4", starts_with_at)
    assert told([p for at in range(0, len(stream), size) for p in framer.feed(stream[at : at + size])]) == expected


JOINED: list[tuple[Callable[[], Framer | EnclosedFramer | FixedFramer | BlockFramer], bytes, list[bytes]]] = [
    (Framer, b"00.0kg\r\n+00500.0kg\r\n", [b"00.0kg"]),
    (Framer, b"\r\n+00500.0kg\r\n", []),
    (Framer, b"\x02+00500.0kg\x03", []),
    (Framer, b"0kg\x02+00500.0kg\x03", []),
    (BlockFramer, b"T 2\nN 1\n\nG 3\n\n", [b"N 1"]),
    (EnclosedFramer, b"0.5\x03\x02+00500.0kg\x03", []),
]


@pytest.mark.parametrize(("make", "stream", "partial"), JOINED)
def test_a_stream_joined_in_its_middle_marks_its_first_frame_and_rejects_nothing(
    make: Callable[[], Framer | EnclosedFramer | FixedFramer | BlockFramer],
    stream: bytes,
    partial: list[bytes],
) -> None:
    framer = make()
    framer.reset()
    pieces = framer.feed(stream)
    assert [piece for piece in pieces if isinstance(piece, PartialFrame)] == partial
    assert not [piece for piece in pieces if isinstance(piece, Reject)]


def test_reset_forgets_what_was_pending() -> None:
    framer = Framer()
    framer.feed(b"+005")
    framer.reset()
    assert framer.feed(b"\r\n12 kg\r\n") == [b"12 kg"]


@pytest.mark.parametrize(
    "framing", ["lines", "fixed", "fixed:1", "fixed:99999", "fixed:x", "stx-etx:0", "stx-etx:99", "block:"]
)
def test_unknown_framings_are_refused_with_the_known_ones(framing: str) -> None:
    with pytest.raises(LayoutError, match="line, stx-etx"):
        make_framer(framing)


def test_a_check_has_at_most_eight_characters_and_a_frame_as_many_as_are_held() -> None:
    for least, most in (("stx-etx:1", "stx-etx:8"), ("fixed:2", f"fixed:{CAP}")):
        assert type(make_framer(least, starts_with_at)) is type(make_framer(most, starts_with_at))
    for refused in ("stx-etx:9", f"fixed:{CAP + 1}"):
        with pytest.raises(LayoutError):
            make_framer(refused, starts_with_at)
