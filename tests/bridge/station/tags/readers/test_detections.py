"""What was heard, in passes: a plain count beside it, and a table of when a tag is on another way through."""

import random
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Position
from neckyoke.bridge.station.tags.readers.detections import (
    KEPT_HEARD,
    KEPT_TAGS,
    PASS_STAYS,
    Detection,
    Detections,
    Span,
    during,
    stays_between,
)
from neckyoke.protocols.tagcode import TagCode

A, B = TagCode(999, 1), TagCode(999, 2)


def heard(*times: float, position: Position = "platform") -> Detections:
    made = Detections()
    for t in times:
        made.hear(t, "panel", position, A)
    return made


@pytest.mark.parametrize(
    ("slack", "expected"), [(True, [9.0, 9.5, 10.0, 15.0, 20.0, 20.5]), (False, [10.0, 15.0, 20.0])]
)
def test_a_moment_at_either_end_belongs_to_a_stay_too(*, slack: bool, expected: list[float]) -> None:
    detections = [Detection(t, "panel", "platform") for t in (8.9, 9.0, 9.5, 10.0, 15.0, 20.0, 20.5, 20.6)]
    assert [one.t for one in during(detections, Span(1, 10.0, 20.0), slack=slack)] == expected


@pytest.mark.parametrize("seed", range(5))
def test_reads_a_quarter_of_a_second_together_are_one_detection_and_none_is_lost(seed: int) -> None:
    rng = random.Random(seed)
    times = sorted(round(rng.uniform(0, 10), 2) for _ in range(200))
    (one,) = heard(*times).passes([])
    starts: list[float] = []
    for t in times:  # the plain reference: a new one when the last began a quarter of a second ago or more
        if not starts or t - starts[-1] >= 0.25:
            starts.append(t)
    assert [detection.t for detection in one.heard] == starts
    assert sum(detection.reads for detection in one.heard) == len(times)


def test_two_readers_are_kept_apart_and_so_are_two_tags() -> None:
    made = Detections()
    made.hear(1.0, "panel", "platform", A)
    made.hear(1.1, "race", "ahead", A)
    made.hear(1.2, "panel", "platform", B)
    made.hear(1.2, "panel", "platform", A)
    first, second = made.passes([])
    assert [(one.link, one.reads) for one in first.heard] == [("panel", 2), ("race", 1)]
    assert (first.code, second.code) == (A, B)
    assert (first.first, first.last, len(first.near)) == (1.0, 1.1, 1)


STAY = Span(1, 10.0, 20.0)


@pytest.mark.parametrize(
    ("times", "spans", "passes"),
    [
        ((12.0, 18.0, 77.9), [STAY], 1),  # not yet a minute
        ((12.0, 18.0, 78.0), [STAY], 2),  # a minute
        ((12.0, 14.0, 40.0, 99.0), [STAY], 1),  # heard on: it never was silent for a minute
        ((5.0, 70.0), [STAY], 1),  # a minute, but it cannot have stood before
        ((12.0, 14.0, 22.0, 83.0), [STAY], 1),  # not all in the stay, nor for two fifths of it
        ((12.0, 16.0, 22.0, 83.0), [STAY], 2),  # for two fifths of it
        ((12.0, 18.0, 41.0), [STAY, Span(2, 25.0, 35.0)], 2),  # another stood there in between
        ((12.0, 18.0, 34.0), [STAY, Span(2, 25.0, 35.0)], 1),  # not for the whole of that stay
        ((12.0, 24.8, 41.0), [STAY, Span(2, 25.0, 35.0)], 1),  # silent only from just before it
    ],
)
def test_a_tag_is_on_another_way_through_after_a_silence_that_follows_a_stay_of_its_own(
    times: tuple[float, ...], spans: list[Span], passes: int
) -> None:
    assert len(heard(*times).passes(spans)) == passes


@pytest.mark.parametrize(("more", "passes"), [(-1, 1), (0, 2)])
def test_heard_only_ahead_it_is_on_another_way_after_a_dozen_stays(more: int, passes: int) -> None:
    spans = [Span(n, 10.0 * n, 10.0 * n + 8) for n in range(1, PASS_STAYS + 1 + more)]
    assert len(heard(5.0, spans[-1].off + 1, position="ahead").passes(spans)) == passes
    assert len(heard(5.0, spans[-1].off - 1, position="ahead").passes(spans)) == 1
    assert len(heard(11.0, spans[-1].off + 1, position="ahead").passes(spans)) == 1


@pytest.mark.parametrize(
    ("start", "end", "between"), [(9.0, 21.0, True), (10.0, 21.0, False), (9.0, 20.0, False), (11.0, 30.0, False)]
)
def test_a_whole_stay_lies_between(start: float, end: float, *, between: bool) -> None:
    assert stays_between(start, end, [STAY]) is between


@given(st.lists(st.integers(0, 5), max_size=12), st.integers(-1, 30), st.integers(-1, 30))
def test_a_whole_stay_lies_between_if_any_does_that_is_asked_one_by_one(steps: list[int], start: int, end: int) -> None:
    moments = list(accumulate(steps))
    spans = [
        Span(n, float(on), float(off)) for n, (on, off) in enumerate(zip(moments[::2], moments[1::2], strict=False))
    ]
    assert stays_between(start, end, spans) is any(start < one.on and one.off < end for one in spans)


def test_what_was_heard_before_a_time_is_forgotten_and_no_more() -> None:
    made = heard(1.0, 5.0, 9.0)
    made.hear(2.0, "panel", "platform", B)
    made.forget(5.0)
    (one,) = made.passes([])
    assert (one.code, [detection.t for detection in one.heard]) == (A, [5.0, 9.0])


def test_memory_is_bounded_and_the_latest_is_kept() -> None:
    made = Detections()
    for n in range(KEPT_TAGS + 1):
        made.hear(float(n), "panel", "platform", TagCode(999, 10 + n))
    made.hear(300.0, "panel", "platform", TagCode(999, 11))  # the oldest left is heard again
    made.hear(301.0, "panel", "platform", TagCode(999, 9))
    codes = {one.code.national for one in made.passes([])}
    assert len(codes) == KEPT_TAGS
    assert {10, 12} & codes == set()
    assert {9, 11, 13} <= codes
    many = heard(*(float(n) for n in range(KEPT_HEARD + 1)))
    (one,) = many.passes([])
    assert one.heard[0].t == KEPT_HEARD // 4
    assert len(one.heard) == KEPT_HEARD + 1 - KEPT_HEARD // 4
