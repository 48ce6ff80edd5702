"""What a decoder leaves unread again and again, at its limits: outlines and shares counted by hand."""

import pytest

from neckyoke.protocols.readings import Outcome, Reject, RejectReason, TagRead, WeightReading
from neckyoke.protocols.recognition.candidates import Trial
from neckyoke.protocols.recognition.finding import Sure
from neckyoke.protocols.recognition.strangers import find_strangers, find_tags_beside, outline
from neckyoke.protocols.tagcode import TagCode

GOOD = b"ST,GS,+00412.5kg"
READ = WeightReading(412.5)


@pytest.mark.parametrize(
    ("frame", "drawn"),
    [
        (b"ST,GS,+00412.5kg", b"ST,GS,+9.9kg"),
        (b"  412.5  kg ", b"9.9 kg"),
        (b"SET\t POINT 12", b"SET POINT 9"),
        (b"", b""),
    ],
)
def test_an_outline_has_every_number_and_gap_as_one(frame: bytes, drawn: bytes) -> None:
    assert outline(frame) == drawn


def trial(good: int, *unread: tuple[int, bytes], cut_out: bool = True) -> Trial:
    """Let so many good frames be read, and so many of each other one not; a frame may never have been cut out."""
    frames: list[tuple[bytes, Outcome]] = [(GOOD, READ)] * good
    for times, frame in unread:
        frames += [(frame if cut_out else b"", Reject(RejectReason.WRONG_SHAPE, frame))] * times
    return Trial("own", tuple(frames))


LOW = b"LOW BATTERY"


@pytest.mark.parametrize(
    ("tried", "said"),
    [
        (trial(100), None),
        (trial(100, (2, LOW)), None),  # twice is chance
        (trial(100, (3, LOW)), "3 of 103 frames are like 'LOW BATTERY'"),
        (trial(297, (3, LOW)), "3 of 300"),  # a hundredth is enough
        (trial(298, (3, LOW)), None),
        (trial(396, (4, LOW)), "4 of 400"),
        (trial(100, (2, b"SET 1"), (2, b"SET  22")), "4 of 104 frames are like 'SET 1'"),  # of one outline
        (trial(100, (2, b"SET 1"), (3, b"SET 22")), "5 of 105 frames are like 'SET 22'"),  # the commonest text
        (trial(100, (2, b"SET 1"), (2, b"SET A")), None),  # of two
        (trial(100, (3, b" LOW BATTERY ")), "3 of 103 frames are like 'LOW BATTERY'"),
        (trial(100, (3, b"SET 1"), (4, LOW)), "4 of 107 frames are like 'LOW BATTERY'"),  # the one that came most
        (trial(100, (4, b"SET 1"), (3, LOW)), "4 of 107 frames are like 'SET 1'"),
        (trial(100, (3, b"\xa0")), "3 of 103 frames are like '\\xa0'"),
        (trial(100, (9, b"   ")), None),  # nothing stands there
        (trial(100, (3, LOW), cut_out=False), "3 of 103 frames are like 'LOW BATTERY'"),
        (trial(0, (3, LOW)), "3 of 3"),
        (trial(0), None),
    ],
)  # fmt: skip
def test_what_comes_unread_at_least_three_times_and_in_a_hundredth_is_quoted(tried: Trial, said: str | None) -> None:
    doubts = [(doubt.text, doubt.at_most) for doubt in find_strangers(tried)]
    if said is not None and " like " not in said:
        said += f" frames are like '{LOW.decode()}'"
    assert doubts == ([(f"{said} and are not read: see what that is.", Sure.LIKELY)] if said else [])


@pytest.mark.parametrize(
    "hurt",
    [
        b"T,GS,+00412.5kg",
        b"ST,GS,+00412.5k",
        b"ST,GS,0412.5kg",
        b"ST,GS,+00.5kg",  # digits lost
        b"ST,GS,+00412kg"[:9],  # cut
        b"12.5kg",
        b"S",
        b"ST,GS,+00412.5kg",  # a number that was too high, or a check that failed
    ],
)
def test_what_a_lost_byte_or_a_cut_makes_of_a_good_frame_may_be_damage_up_to_a_tenth(hurt: bytes) -> None:
    assert not find_strangers(trial(90, (9, hurt)))
    assert find_strangers(trial(90, (10, hurt)))
    assert find_strangers(trial(0, (10, hurt)))


@pytest.mark.parametrize("strange", [b"ST,GT,+00412.5kg", b"ST,GS,+00412.5kgX", b"ST,+00412.5kg", b"kgkg"])
def test_what_no_lost_byte_makes_of_a_good_frame_is_none(strange: bytes) -> None:
    assert find_strangers(trial(90, (3, strange)))


def tags(*frames: bytes) -> Trial:
    """Read frames as a tag reader's: those of fifteen digits."""
    return Trial("tags", tuple((frame, _tag(frame)) for frame in frames))


def _tag(frame: bytes) -> Outcome:
    return TagRead(TagCode(999, int(frame[3:]))) if len(frame) == 15 else Reject(RejectReason.WRONG_SHAPE, frame)


FIRST, SECOND = b"999000000112233", b"999000000445566"


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        (tags(GOOD, FIRST, SECOND), None),
        (tags(GOOD, FIRST, SECOND, FIRST), "3 frames are tag codes, the first 999000000112233"),
        (tags(GOOD, SECOND, FIRST, FIRST, GOOD, FIRST), "4 frames are tag codes, the first 999000000445566"),
        (tags(GOOD, GOOD, GOOD, GOOD), None),
        (tags(LOW, LOW, LOW, LOW), None),
        (tags(), None),
    ],
)
def test_three_tag_codes_are_a_reader_on_the_scales_line(heard: Trial, said: str | None) -> None:
    doubts = find_tags_beside(trial(50, (3, FIRST)), heard)
    assert [doubt.at_most for doubt in doubts] == [Sure.UNSURE] * (said is not None)
    assert [doubt.text.partition(":")[0] for doubt in doubts] == ([said] if said else [])


def test_what_the_scales_layout_reads_is_no_tag_code() -> None:
    weights = Trial("weight", tuple((frame, READ) for frame in (GOOD, FIRST, SECOND)))
    assert not find_tags_beside(weights, tags(FIRST, FIRST, SECOND, FIRST))
    assert find_tags_beside(trial(9), tags(FIRST, FIRST, SECOND, FIRST))
