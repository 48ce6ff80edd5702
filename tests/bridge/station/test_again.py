"""The stay before, kept from run to run: what the next one is held against."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Flag, Former, Stamp, Weight
from neckyoke.bridge.station.again import BACK_S, BACK_UNSEEN_S, Before
from neckyoke.protocols.tagcode import TagCode
from tests.support import events

A, B = TagCode(999, 101), TagCode(1023, 999_999_999_999)
AT = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
KG = Weight(kg=318.0, grade="good")


def before(**more: Any) -> Before:
    return Before(**{"weighing": "w1", "called": 1, "weight": KG, "off": 10.0, **more})


@pytest.mark.parametrize(
    ("more", "on", "clock", "in_sight", "soon"),
    [
        ({}, 10.0 + BACK_S, Clock.SYNCHRONISED, True, True),
        ({}, 10.1 + BACK_S, Clock.SYNCHRONISED, True, False),
        ({}, 10.0 + BACK_UNSEEN_S, Clock.SYNCHRONISED, False, True),
        ({}, 10.1 + BACK_UNSEEN_S, Clock.SYNCHRONISED, False, False),
        ({"since": AT}, 10.0 + BACK_UNSEEN_S, Clock.SYNCHRONISED, True, True),  # nor was it seen to leave
        ({"off": -50.0}, 10.0, Clock.SYNCHRONISED, True, True),
        ({"off": None}, 0.0, Clock.SYNCHRONISED, True, True),  # nobody knows
        ({"off": None, "off_at": AT}, BACK_S, Clock.SYNCHRONISED, True, True),
        ({"off": None, "off_at": AT}, BACK_S + 1.0, Clock.SYNCHRONISED, True, False),
        ({"off": None, "off_at": AT}, BACK_S + 1.0, Clock.UNSYNCHRONISED, True, True),
        ({"off": None, "off_at": AT}, -1000.0, Clock.SYNCHRONISED, True, True),  # a clock that was set back
    ],
)
def test_how_soon_it_follows(more: dict[str, Any], on: float, clock: Clock, *, in_sight: bool, soon: bool) -> None:
    stamp = Stamp(AT + timedelta(seconds=on), clock)
    assert before(**more).within(on, stamp, in_sight=in_sight) is soon


def test_a_weighing_says_it() -> None:
    one = events.weighing(4, tag="999000000000101").model_copy(update={"job_number": 3})
    made = Before.of(one, -2.0)
    assert (made.weighing, made.called, made.off, made.off_at, made.code) == (one.weighing, 3, -2.0, one.off, A)
    assert (made.sure, made.settled, made.counts, made.since) == (True, True, True, None)
    for flags, changed in (
        ((Flag.TAG_DOUBTFUL,), {"sure": False}),
        ((Flag.VOIDED,), {}),  # its dose stands
        ((Flag.PAUSED,), {"counts": False}),
        ((Flag.INTERRUPTED,), {"since": one.on}),
    ):
        assert Before.of(one.model_copy(update={"flags": flags}), -2.0) == made.model_copy(update=changed)
    struck = one.model_copy(update={"flags": (Flag.VOIDED,), "none_given": True})
    assert Before.of(struck, -2.0) == made.model_copy(update={"counts": False})
    bare = {"settled": None, "tag": None, "clock": Clock.UNKNOWN, "job_number": None}
    now = Before.of(one.model_copy(update=bare), None)
    assert (now.settled, now.code, now.reads, now.off_at, now.called) == (False, None, 0, None, 4)


def test_it_is_named_with_when_it_began_where_the_box_stopped_as_it_stood_there() -> None:
    assert before().former == Former(weighing="w1", number=1)
    assert before(since=AT).former == Former(weighing="w1", number=1, since=AT)


@pytest.mark.parametrize(
    ("more", "hides"),
    [
        ({}, False),
        ({"weight": Weight(kg=None, grade="none")}, False),
        ({"weight": Weight(kg=340.0, grade="fair")}, False),  # another's false start: the first may come again after it
        ({"code": B}, False),
        ({"settled": True, "weight": Weight(kg=340.0, grade="fair")}, True),
        ({"settled": True}, True),
        ({"settled": True, "counts": False}, False),  # in a pause, or struck out with nothing given
    ],
)
def test_one_that_never_settled_hides_the_one_before_never(more: dict[str, Any], *, hides: bool) -> None:
    first = before(code=A)
    second = before(**{"weighing": "w2", "called": 2, "settled": False, **more})
    assert second.or_before(first) == (second if hides else first)
    assert second.or_before(None) == second
    unsettled = first.model_copy(update={"settled": False})
    assert second.or_before(unsettled) == second


@given(
    st.builds(
        Before,
        weighing=st.just("w1"),
        called=st.integers(1, 999),
        weight=st.builds(Weight, kg=st.none() | st.floats(25, 900), grade=st.sampled_from(["good", "poor", "none"])),
        off=st.none() | st.floats(-1000, 1000),
        off_at=st.sampled_from([None, AT]),
        code=st.sampled_from([None, A, B]),
        sure=st.booleans(),
        reads=st.integers(0, 99),
        settled=st.booleans(),
        counts=st.booleans(),
        since=st.sampled_from([None, AT]),
    )
)
def test_it_is_read_as_it_was_spelled(one: Before) -> None:
    assert Before.read(one.spell(), None if one.off is None else -one.off) == one


@pytest.mark.parametrize(
    ("former", "kg", "span_s", "alike"),
    [
        ("good", 352.6, 2.0, True),
        ("good", 346.9, 2.0, False),
        ("good", 346.9, 0.7, True),  # a first weight of less than a second and a half is within 2 % in 95 of 100
        ("good", 344.0, 0.7, False),
        ("poor", 344.0, 2.0, True),
    ],
)
def test_an_early_weight_is_alike_within_what_it_promises(
    former: Any, kg: float, span_s: float, *, alike: bool
) -> None:
    before = Before(weighing="w", called=1, weight=Weight(kg=352.6, grade=former))
    assert before.weighs_as(Weight(kg=kg, grade="fair", span_s=span_s)) is alike


@pytest.mark.parametrize(
    ("first", "second", "near"),
    [
        ((346.9, 0.5), (352.6, 0.5), False),
        ((346.9, 2.0), (352.6, 3.9), True),  # each throws itself about
        ((346.9, None), (352.6, 4.2), True),
        ((346.9, None), (352.6, None), False),
        ((318.0, 0.1), (321.0, 0.1), True),  # within 1 % whatever they do
        ((318.0, 9.0), (327.5, 9.0), True),
        ((318.0, 9.0), (328.0, 9.0), False),  # but never further apart than where one is poor
    ],
)
def test_two_weights_are_as_far_apart_as_both_are_rough(
    first: tuple[float, float | None], second: tuple[float, float | None], *, near: bool
) -> None:
    one, two = (Weight(kg=kg, grade="fair", restlessness_percent=restlessness) for kg, restlessness in (first, second))
    assert before(weight=one).is_near(two) is near
    assert before(weight=one).may_weigh(two) is near
    assert before(weight=two).is_near(one) is near
    assert not before(weight=one).is_near(Weight(kg=None, grade="none"))
