"""Framers held to plain reference models that look at a whole stream at once, with a small cap."""

import re
from collections.abc import Callable, Iterator

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.protocols.framing.framer import (
    BlockFramer,
    EnclosedFramer,
    FixedFramer,
    Framer,
    Framing,
    PartialFrame,
    Piece,
)
from neckyoke.protocols.readings import Reject

CAP = 8
EDGE = re.compile(rb"[\r\n\x0c\x02\x03]")
JUNK = b"\x00\xff"
ODD = st.sampled_from([b"\r", b"\n", b"\x0c", b"\x02", b"\x03", b"\x00", b"\xff", b" ", b"\t", b"\r\n", b"\n\n"])
TEXT = st.sampled_from([b"a", b"b7", b"N1", b"@12", b"cdefg", b"h" * CAP, b"i" * (CAP + 1)])
STREAMS = st.lists(ODD | TEXT, max_size=14).map(b"".join)
CUTS = st.lists(st.integers(1, 9), min_size=1, max_size=6)


def shown(pieces: list[Piece]) -> list[object]:
    return [piece.reason.value if isinstance(piece, Reject) else bytes(piece) for piece in pieces]


def chunks(stream: bytes, sizes: list[int]) -> Iterator[bytes]:
    at = turn = 0
    while at < len(stream):
        size = sizes[turn % len(sizes)]
        yield stream[at : at + size]
        at, turn = at + size, turn + 1


def outside(text: bytes) -> Iterator[str]:
    """Yield what is said of bytes before a start mark."""
    lost = text.lstrip(JUNK)
    if len(lost) > CAP:
        yield "too-long"
    elif lost.strip(JUNK + b" \t\r\n\x03"):
        yield "cut"


def marked(stream: bytes, ends: bytes, start: bytes, trim: bytes) -> Iterator[object]:
    """Cut at marks: split at every end, each part at every start."""
    *whole, rest = re.split(b"[" + re.escape(ends) + b"]", stream)
    for number, part in enumerate([*whole, rest]):
        *before, last = part.split(start) if start else [part]
        for piece in before:
            yield from outside(piece)
        body = last.lstrip(JUNK + trim)
        if len(body) > CAP:
            yield "too-long"
        elif number < len(whole) and (body := body.rstrip(JUNK + trim)).strip(b" \t"):
            yield body


@given(STREAMS, CUTS)
@settings(max_examples=300, deadline=None)
@example(b"\x00 \xff\n", [3])
@example(b"h" * CAP + b"\x00\n", [20])
def test_marked_frames_are_those_of_the_whole_stream(stream: bytes, sizes: list[int]) -> None:
    for ends, start, trim in ((b"\r\n\x0c\x03", b"\x02", b""), (b"\r\n\x0c", b"", b"\x02\x03")):
        framer = Framer(ends=ends, start=start, trim=trim, cap=CAP)
        found = [piece for chunk in chunks(stream, sizes) for piece in framer.feed(chunk)]

        assert shown(found) == list(marked(stream, ends, start, trim))


def enclosed(stream: bytes, tail: int) -> Iterator[object]:
    """Go through a stream byte by byte."""
    where, text, skipping, at = "out", b"", False, 0
    while at < len(stream):
        byte, at = stream[at : at + 1], at + 1
        if byte == b"\x02":
            yield from () if skipping else outside(text)
            where, text, skipping = "in", b"", False
        elif where == "in" and byte == b"\x03":
            if tail and at + tail > len(stream):
                return
            frame = text + byte * bool(tail) + stream[at : at + tail]
            where, text, at = "out", b"", at + tail
            if frame:
                yield frame
        elif not skipping:
            text += byte
            if len(text if where == "in" else text.lstrip(JUNK)) > CAP:
                yield "too-long"
                where, text, skipping = "out", b"", True


@pytest.mark.parametrize("tail", [0, 1, 2])
@given(STREAMS, CUTS)
@settings(max_examples=150, deadline=None)
@example(b"\x02\x03\x03\x02a\x03\x02b", [4])
def test_enclosed_frames_are_those_of_the_whole_stream(tail: int, stream: bytes, sizes: list[int]) -> None:
    framer = EnclosedFramer(tail, cap=CAP)
    found = [piece for chunk in chunks(stream, sizes) for piece in framer.feed(chunk)]

    assert shown(found) == list(enclosed(stream, tail))


def blocks(stream: bytes, last: bytes) -> Iterator[object]:
    """Gather the whole lines of a stream."""
    lines, size, skipping = list[bytes](), 0, False
    whole = [*stream.replace(b"\x0c", b"\n\n").split(b"\n")]
    for number, line in enumerate(whole):
        line = line.lstrip(JUNK + b"\r\x02\x03")  # noqa: PLW2901
        if len(line) > CAP:
            if not skipping:
                yield "too-long"
            lines, skipping = [], True
            continue
        if number == len(whole) - 1:
            return
        line = line.rstrip(JUNK + b"\r\x02\x03")  # noqa: PLW2901
        if line.strip() and not skipping:
            lines, size = [*lines, line], size + len(line) + 1
            if size > CAP:
                yield "too-long"
                lines, skipping = [], True
        if not line.strip() or (last and line.lstrip().startswith(last)):
            if lines:
                yield b"\n".join(lines)
            lines, size, skipping = [], 0, False


@pytest.mark.parametrize("last", [b"", b"N"])
@given(STREAMS, CUTS)
@settings(max_examples=150, deadline=None)
@example(b"a\n" + b"h" * (CAP - 3) + b"\n\n" + b"a\nb7\n N1\n", [5])
def test_blocks_are_those_of_the_whole_stream(last: bytes, stream: bytes, sizes: list[int]) -> None:
    framer = BlockFramer(last, cap=CAP)
    found = [piece for chunk in chunks(stream, sizes) for piece in framer.feed(chunk)]

    assert shown(found) == list(blocks(stream, last))


def fixed(stream: bytes, accept: Callable[[bytes], bool]) -> Iterator[object]:
    """Slip byte by byte until three bytes are a frame."""
    at, slipped, skipping = 0, b"", False
    while at + 3 <= len(stream):
        if accept(stream[at : at + 3]):
            yield from () if skipping else outside(slipped)
            yield stream[at : at + 3]
            at, slipped, skipping = at + 3, b"", False
            continue
        slipped, at = slipped + stream[at : at + 1], at + 1
        if len(slipped) > CAP and not skipping:
            yield "too-long"
            skipping = True


@given(STREAMS, CUTS)
@settings(max_examples=150, deadline=None)
@example(b"h" * (CAP + 3) + b"@12h@34", [4])
def test_frames_of_one_length_are_those_of_the_whole_stream(stream: bytes, sizes: list[int]) -> None:
    def accept(frame: bytes) -> bool:
        return frame[:1] == b"@" and frame[1:].isdigit()

    framer = FixedFramer(3, accept, cap=CAP)
    found = [piece for chunk in chunks(stream, sizes) for piece in framer.feed(chunk)]

    assert shown(found) == list(fixed(stream, accept))


@pytest.mark.parametrize("make", [Framer, BlockFramer, EnclosedFramer])
@given(STREAMS, CUTS)
@example(b"\ra\x02", [9])
@example(b"\x02a\x02", [9])
@example(b"a\x02a\x02", [1])
@settings(max_examples=100, deadline=None)
def test_after_a_reset_only_the_first_frame_may_be_partial_and_nothing_was_cut_before_it(
    make: Callable[..., Framing], stream: bytes, sizes: list[int]
) -> None:
    framer = make(cap=CAP)
    framer.reset()
    found = [piece for chunk in chunks(stream, sizes) for piece in framer.feed(chunk)]

    assert not any(isinstance(piece, PartialFrame) for piece in found[1:])
    edge = EDGE.search(stream)
    framer.reset()
    known = framer.feed(stream[edge.start() :]) if edge else []
    if make is BlockFramer and shown(found)[:1] == ["too-long"]:
        return  # of what no line ends is the edge
    assert shown(found) == shown(known) or shown(found[1:]) == shown(known)
    if len(found) > len(known):
        assert isinstance(found[0], PartialFrame) or shown(found)[0] == "too-long"
