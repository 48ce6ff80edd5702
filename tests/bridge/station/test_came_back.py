"""One that may be the animal before it, come on again: told as it settles, and until something tells."""

from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Event, Flag, Former, Weight
from neckyoke.bridge.station.again import BACK_S
from neckyoke.bridge.station.instructions import About, Dosed, Identify, Void
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode
from tests.bridge.station.test_station_events import (
    A,
    B,
    ask,
    feed,
    make,
    reads,
    settleds,
    stamp,
    stands,
    weighings,
)

C = TagCode(999, 303)
SAME = Former(weighing="w1", number=1)
DOUBTFUL, BY_PERSON = (Flag.TAG_DOUBTFUL,), (Flag.BY_PERSON,)


def record(number: int, verdict: Verdict | None, **more: Any) -> Record:
    on = 20.0 * number
    made = Record("crush", number, f"w{number}", on, settled=on + 3.0, weight=Weight(kg=318.0, grade="good"))
    made.verdict = verdict
    for name, value in more.items():
        setattr(made, name, value)
    return made


def follow(two: Record, one: Record | None) -> None:
    two.follows(one.as_before if one is not None else None, stamp(two.on))


def tagged(number: int, code: TagCode | None, flags: tuple[Flag, ...] = (), seen: int = 1) -> Verdict:
    return Verdict(number, code, flags=flags, seen=seen)


@pytest.mark.parametrize(
    ("before", "now", "maybe"),
    [
        (tagged(1, A), tagged(2, None), True),
        (tagged(1, None), tagged(2, None), True),
        (tagged(1, A), None, True),
        (tagged(1, A), tagged(2, A), False),  # it is the same: its tag says so
        (tagged(1, A, DOUBTFUL), tagged(2, A), True),
        (tagged(1, A), tagged(2, A, DOUBTFUL), True),
        (tagged(1, A), tagged(2, B), False),
        (tagged(1, A), tagged(2, B, DOUBTFUL), False),  # the only one heard here
        (tagged(1, A), tagged(2, B, DOUBTFUL, seen=2), True),
        (tagged(1, A), tagged(2, B, DOUBTFUL, seen=0), True),  # by its place in the queue
        (tagged(1, None), tagged(2, B), False),
        (tagged(1, A), tagged(2, A, BY_PERSON), False),
        (tagged(1, A), tagged(2, B, BY_PERSON), False),
        (tagged(1, A), tagged(2, None, (Flag.NO_TAG, *BY_PERSON)), True),  # which says of neither that it is another
    ],
)
def test_what_tells_one_from_the_animal_before_it_is_a_tag_that_is_not_in_doubt(
    before: Verdict, now: Verdict | None, *, maybe: bool
) -> None:
    one, two = record(1, before, off=30.0), record(2, now)
    follow(two, one)
    assert two.maybe_same == (SAME if maybe else None)
    assert (Flag.MAYBE_SAME in two.flags({})) is maybe


@pytest.mark.parametrize(
    ("reads", "both", "maybe"),
    [(5, (B, C), False), (4, (B, C), True), (5, (A, B), True), (5, (B, A), True), (5, (), True)],
)
def test_of_two_tags_that_fit_neither_is_the_one_before_where_that_one_was_heard_well(
    reads: int, both: tuple[TagCode, ...], *, maybe: bool
) -> None:
    two = record(2, Verdict(2, None, flags=(Flag.TWO_TAGS,), seen=2, both=both))
    follow(two, record(1, Verdict(1, A, reads=reads, seen=1), off=30.0))
    assert two.maybe_same == (SAME if maybe else None)


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ({"off": 40.0 - BACK_S - 0.1}, {}),
        ({"off": None}, {}),
        ({"settled": None}, {}),  # nothing was done to it
        ({"voided": True, "none_given": True}, {}),
        ({"paused": True}, {}),  # a person stood there
        ({"weight": Weight(kg=322.0, grade="good")}, {}),
        ({}, {"settled": None}),  # nothing can be done to it yet
        ({}, {"weight": Weight(kg=170.0, grade="poor"), "off": 60.0}),  # as it left it was not the same weight
        ({}, {"visual": "47"}),
        ({}, {"voided": True}),
        ({}, {"paused": True}),
    ],
)
def test_what_else_tells(one: dict[str, Any], two: dict[str, Any]) -> None:
    first, second = record(1, tagged(1, A), **({"off": 30.0} | one)), record(2, tagged(2, None), **two)
    follow(second, first)
    assert second.maybe_same is None


def test_a_first_weight_that_is_poor_may_be_of_two_feet_but_against_a_tag_both_must_weigh_alike() -> None:
    half: dict[str, Any] = {"weight": Weight(kg=170.0, grade="poor")}
    for verdict, maybe in ((tagged(2, None), True), (tagged(2, B, DOUBTFUL, seen=2), False)):
        two = record(2, verdict, **half)
        follow(two, record(1, tagged(1, A), off=30.0))
        assert (two.maybe_same is not None) is maybe


def test_one_that_is_not_at_hand_any_more_changes_nothing() -> None:
    two = record(2, None)
    follow(two, record(1, tagged(1, A), off=30.0))
    follow(two, None)
    assert two.maybe_same == SAME


def again(kg: float = 318.0, *more: Any, off: float = 15.0, on: float = 19.0) -> tuple[Any, list[Event]]:
    """Let one stand there with its tag, and then one of such a weight, until it has settled."""
    station = make()
    feed(station, (item for item in stands(5, off) if item[0] < on - 1), reads(A, 5.5, off - 0.5))
    second = (item for item in stands(on, on + 15, kg) if on - 1 <= item[0] < on + 8)
    return station, feed(station, second, *more)


def doubted(events: Sequence[Event]) -> list[int | None]:
    return [one.maybe_same.number if one.maybe_same else None for one in settleds(events)]


@pytest.mark.parametrize(("kg", "number"), [(318.0, 1), (320.5, 1), (315.5, 1), (323.0, None), (313.0, None)])
def test_it_is_told_as_it_settles(kg: float, number: int | None) -> None:
    _, events = again(kg)
    assert doubted(events)[0] == number
    assert (Flag.MAYBE_SAME in settleds(events)[0].flags) is (number is not None)


def test_a_tag_of_its_own_takes_the_doubt_away_while_it_stands_there() -> None:
    _, events = again(318.0, reads(B, 24.0, 27.0))
    assert doubted(events)[0] == 1
    assert doubted(events)[-1] is None
    assert settleds(events)[-1].tag is not None


def test_a_person_who_says_its_tag_or_number_takes_it_away() -> None:
    for said in (Identify(tag=B), Identify(visual="47")):
        station, _ = again()
        assert doubted(station.ask(27.5, said)[1]) == [None]


@pytest.mark.parametrize("given", [None, True, False])
def test_struck_out_as_one_that_was_given_nothing_the_one_before_was_nobody(*, given: bool | None) -> None:
    station, _ = again()
    ask(station, 27.5, Void(about=About(number=1), given=given))
    (second,) = [one for one in weighings(station.finish(60.0)) if one.number == 2]
    assert (second.maybe_same is None) is (given is False)


CODES = st.sampled_from([None, A, B])
FLAGS = st.sampled_from([(), DOUBTFUL, BY_PERSON])
KG = st.floats(300.0, 340.0)


@given(CODES, CODES, FLAGS, FLAGS, st.integers(0, 3), KG, KG, st.floats(0.0, 100.0))
def test_no_doubt_is_left_out_of_what_no_tag_tells_nor_raised_where_one_does(
    first: TagCode | None,
    code: TagCode | None,
    flags: tuple[Flag, ...],
    now: tuple[Flag, ...],
    seen: int,
    kg: float,
    later_kg: float,
    gap_s: float,
) -> None:
    one = record(1, tagged(1, first, flags), off=40.0 - gap_s, weight=Weight(kg=kg, grade="good"))
    two = record(2, tagged(2, code, now, seen), weight=Weight(kg=later_kg, grade="good"))
    follow(two, one)
    alike = max(kg, later_kg) / min(kg, later_kg)
    if gap_s > BACK_S + 1e-6 or alike > 1.0102:
        assert two.maybe_same is None
    elif code is None and gap_s < BACK_S and alike < 1.01:
        assert two.maybe_same == SAME
    elif code is not None and DOUBTFUL not in {flags, now}:
        assert two.maybe_same is None


def test_it_is_shown_with_its_tag_where_that_alone_is_heard_again_and_keeps_it() -> None:
    station, events = again(318.0, reads(A, 19.5, 27.0))
    for shown in settleds(events)[-1:]:
        assert shown.tag is not None
        assert (shown.tag.id, shown.maybe_same, shown.flags) == (
            str(A),
            Former(weighing=weighing_of(station, 1), number=1),
            (Flag.REPEAT, Flag.TAG_DOUBTFUL, Flag.MAYBE_SAME),
        )
    last = {one.number: one for one in weighings(station.finish(60.0))}
    assert last[2].tag is not None
    assert last[2].tag.id == str(A)
    assert 1 not in last or (last[1].tag is not None and last[1].tag.id == str(A)), "nor does the first lose it"


def weighing_of(station: Any, number: int) -> str:
    return str(station.known_of(About(number=number))[0])


@pytest.mark.parametrize(
    "said", [Void(about=About(number=1), given=False), Dosed("drench", given=False, about=About(number=1))]
)
def test_what_is_said_of_the_one_before_is_told_of_it_at_once(said: Any) -> None:
    """Struck out as given nothing it was nobody; not given, what it had is not what this one had."""
    station, _ = again()
    shown = settleds(station.ask(27.5, said)[1])
    assert [one.number for one in shown] == [2]
    assert (shown[-1].maybe_same is None) is isinstance(said, Void)
    station.finish(60.0)
    more = weighings(station.ask(61.0, said)[1])
    assert [one.number for one in more if one.number == 2] == [2] * (not isinstance(said, Void))
