"""Frames of reader modules: every code, every value of the check byte, and damage.  Common practice, no source."""

import pytest

from neckyoke.protocols.decoder import tag_decoder
from neckyoke.protocols.readings import Reject, RejectReason, TagRead
from neckyoke.protocols.tagcode import HexOrder
from neckyoke.protocols.tags.module_frame import decode_module
from tests.protocols.spelling import Code, module_frame


def frames_by_check() -> dict[int, tuple[Code, bytes]]:
    """Find a code for as many check bytes as there are."""
    found: dict[int, tuple[Code, bytes]] = {}
    for national in range(3000):
        for country in (999, 826, 36):
            code = Code(country, national * 7919)
            frame = module_frame(code)
            found.setdefault(frame[27], (code, frame))
    return found


FRAMES = frames_by_check()


def test_check_bytes_that_are_marks_of_framing_are_among_them() -> None:
    assert {0x00, 0x02, 0x03, 0x0A, 0x0D} <= set(FRAMES)


@pytest.mark.parametrize("size", [1, 9, 10_000])
@pytest.mark.parametrize("framing", [None, "fixed:30"])
def test_a_stream_of_them_is_read_whatever_the_check_byte(size: int, framing: str | None) -> None:
    stream = b"".join(frame for _, frame in FRAMES.values())
    decoder = tag_decoder(framing)
    outcomes = [outcome for at in range(0, len(stream), size) for outcome in decoder.feed(stream[at : at + size])]
    assert [str(outcome.code) for outcome in outcomes if isinstance(outcome, TagRead)] == [
        code.digits for code, _ in FRAMES.values()
    ]
    assert len(outcomes) == len(FRAMES)


def test_flags_are_read() -> None:
    read = decode_module(module_frame(Code(999, 112233, animal=0, block=1)))
    assert isinstance(read, TagRead)
    assert (read.code.animal, read.code.data_block) == (False, True)


def test_a_damaged_digit_is_caught_by_the_check() -> None:
    frame = module_frame(Code(999, 112233))
    assert frame[1:11] == b"966B100000"
    for at in range(1, 27):
        damaged = frame[:at] + bytes([frame[at] ^ 1]) + frame[at + 1 :]
        outcomes = tag_decoder().feed(damaged)
        assert [outcome.reason for outcome in outcomes if isinstance(outcome, Reject)] == [RejectReason.BAD_CHECKSUM]
        assert len(outcomes) == 1


@pytest.mark.parametrize(
    ("code", "reason"),
    [(Code(1024, 1), RejectReason.OUT_OF_RANGE), (Code(999, 2**38), RejectReason.OUT_OF_RANGE)],
)
def test_numbers_that_no_tag_holds_are_refused(code: Code, reason: RejectReason) -> None:
    frame = module_frame(code)
    assert decode_module(frame) == Reject(reason, frame)


def test_flags_that_are_no_flags_are_refused() -> None:
    digits = b"966B1000007E30" + b"20" + b"0" * 10
    check = 0
    for byte in digits:
        check ^= byte
    frame = b"\x02" + digits + bytes([check, check ^ 0xFF]) + b"\x03"
    assert decode_module(frame) == Reject(RejectReason.WRONG_SHAPE, frame)


def test_a_frame_begun_before_a_link_was_opened_anew_is_not_finished_after() -> None:
    frame = module_frame(Code(999, 112233))
    for cut in range(1, len(frame)):
        decoder = tag_decoder()
        decoder.feed(frame[:cut])
        decoder.reset()
        outcomes = decoder.feed(frame[cut:] + b"\r\n" + frame)
        assert [str(read.code) for read in outcomes if isinstance(read, TagRead)] == ["999000000112233"], cut


def frames_that_end_as_lines_do() -> list[bytes]:
    """Make frames of many countries whose check byte is NUL or ends a line."""
    codes = (Code(country, n * 7919, block=n % 2) for country in (*range(4, 900, 4), 76, 901, 999) for n in range(99))
    return [frame for frame in map(module_frame, codes) if frame[27] in b"\0\3\n\f\r"]


ENDED = frames_that_end_as_lines_do()


@pytest.mark.parametrize("order", ["value", "air"])
def test_the_end_of_a_frame_whose_check_ends_a_line_is_never_taken_for_a_code(order: HexOrder) -> None:
    assert {frame[27] for frame in ENDED} == {*b"\0\3\n\f\r"}
    for frame in ENDED:
        for cut in range(10, 15):
            decoder = tag_decoder(hex_order=order)
            decoder.reset()
            outcomes = decoder.feed(frame[cut:] + b"\r\n")
            assert not [outcome for outcome in outcomes if isinstance(outcome, TagRead)], (frame, cut)
