"""The platform where states meet: what is told at once, what is not told yet, and what must not be."""

import pytest

from neckyoke.bridge.events import Attention, Flag
from neckyoke.bridge.station.platform.happenings import Began, Ended, Happening
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.settings import Memory
from neckyoke.protocols.readings import Condition, WeightReading
from tests.bridge.station.platform.test_platform_table import Shown, ends, feed, feed_from, only, platform, ramp

OVER = WeightReading(None, condition=Condition.OVERLOAD)


def seen_empty(on: Platform) -> bool:
    return on.is_seen_empty


def test_it_is_seen_empty_from_the_first_reading_that_shows_so() -> None:
    on = platform()
    assert not seen_empty(on)
    feed(on, (0.1, 0.0))
    assert seen_empty(on)
    feed_from(on, 0.1, (0.1, 300.0))
    assert not seen_empty(on)
    feed_from(on, 0.2, (0.1, 0.0))
    assert seen_empty(on)


def test_a_bump_at_the_start_hides_no_empty_platform() -> None:
    on = platform()
    feed(on, (0.1, 300.0), (0.1, 0.0))
    assert seen_empty(on)


def test_a_platform_out_of_sight_is_not_seen_empty() -> None:
    on = platform()
    feed(on, (2, 0.0), (4, 400.0))
    assert len(ends(on.advance(30.0))) == 1
    assert not seen_empty(on)
    resting = platform()
    feed(resting, (2, 0.0))
    assert resting.advance(11.8) == []
    assert seen_empty(resting)
    assert resting.advance(11.9) == []
    assert not seen_empty(resting)


def test_a_stay_that_waits_for_its_zero_leaves_nothing_seen_empty() -> None:
    on = platform()
    got = feed(on, (4, 362.5), (0.1, 0.0))
    assert ends(got) == []
    assert not seen_empty(on)
    got = feed_from(on, 4.1, (2, 0.0))
    assert only(got).number == 1
    assert seen_empty(on)


def test_the_next_animal_that_weighs_the_same_is_told_by_the_foot_in_between() -> None:
    """Only hardly a foot was left, for longer than a kick, and then it was clearly more: another has come on."""
    shown = [(2.0, 0.0), (5.0, 400.0), *ramp(400, 60, 0.6), *ramp(60, 405, 0.8), (5.0, 405.0), (2.0, 0.0)]
    got = feed(platform(), *shown)
    first, second = ends(got)
    assert (first.weight.kg, second.weight.kg) == (400.0, 405.0)
    assert Flag.CAME_BACK not in first.flags + second.flags
    assert first.off == second.on == pytest.approx(7.5)  # where it was lowest


def test_a_load_at_the_start_is_told_of_after_a_minute_and_not_before() -> None:
    on = platform()
    assert [one for one in feed(on, (59.9, 260.0)) if isinstance(one, Attention)] == []
    (told,) = (one for one in feed_from(on, 59.9, (0.3, 260.0)) if isinstance(one, Attention))
    assert told.about == "stuck"


def test_what_was_light_and_on_at_the_start_is_a_stay_when_all_stops() -> None:
    on = platform()
    assert feed(on, (5, 40.0)) == []  # it may be the empty platform's own level
    began, ended = on.finish(5.0)
    assert isinstance(began, Began)
    assert isinstance(ended, Ended)
    assert (ended.on, ended.off) == (0.0, 5.0)
    assert {Flag.INTERRUPTED, Flag.ON_AT_START} <= set(ended.flags)
    assert platform().finish(1.0) == []


def test_an_empty_platform_that_shows_more_than_it_bears_is_no_animal() -> None:
    got = feed(platform(Memory(zero_kg=600.0), capacity_kg=500.0), (3, 600.0))
    assert [one.about for one in got if isinstance(one, Attention)] == ["zero-off"]
    assert len(got) == 1


def test_an_indicator_that_blanks_while_it_moves_tells_after_three_seconds_that_something_came() -> None:
    on = platform()
    feed(on, (1, 0.0))
    blank = WeightReading(None)
    assert [one for n in range(30) for one in on.weight(1 + n / 10, blank)] == []
    (began,) = on.weight(4.0, blank)
    assert isinstance(began, Began)
    assert (began.number, began.on) == (1, 1.0)


@pytest.mark.parametrize(
    ("shown", "in_sight", "steps_on"),
    [
        (((0.4, 90.0), (5, 400.0)), False, True),
        (((0.3, 350.0), (5, 400.0)), False, True),
        (((0.3, 370.0), (5, 400.0)), False, False),  # it sways
        (((5, 400.0),), False, False),
        (((2.5, 200.0), (5, 400.0)), False, False),  # half on for longer: it may have been so before
        (((0.4, 400.0), (5, 200.0)), False, False),
        (((1.0, 0.0), (0.4, 90.0), (5, 400.0)), True, False),  # its first foot was seen
    ],
)
def test_what_was_on_at_the_start_may_have_been_on_its_way_up(
    shown: tuple[Shown, ...], *, in_sight: bool, steps_on: bool
) -> None:
    on = platform(Memory(zero_kg=0.0))
    (began, *_) = feed(on, *shown)
    assert isinstance(began, Began)
    assert began.in_sight is in_sight
    assert on.open is not None
    assert on.open.stood.steps_on is steps_on
    assert only(on.finish(9.0)).stood.steps_on is steps_on


@pytest.mark.parametrize(("begins_kg", "steps_on"), [(90.0, True), (400.0, False)])
def test_that_it_steps_on_is_known_as_soon_as_it_has_begun(begins_kg: float, *, steps_on: bool) -> None:
    on = platform(Memory(zero_kg=0.0))
    (began,) = feed(on, (0.3, begins_kg), (0.5, 400.0))
    assert isinstance(began, Began)
    assert on.open is not None
    assert on.open.stood.steps_on is steps_on


@pytest.mark.parametrize(("over", "grade"), [(0, "good"), (1, "fair"), (10, "fair"), (30, "poor")])
def test_the_more_often_it_was_too_much_the_less_is_promised(over: int, grade: str) -> None:
    on = platform()
    feed(on, (2, 0.0), (6, 400.0))
    for n in range(over):
        on.weight(8 + n / 10, OVER)
    ended = only(feed_from(on, 8 + over / 10, (2, 400.0), (2, 0.0)))
    assert (ended.weight.kg, ended.weight.grade) == (400.0, grade)
    assert (Flag.OVERLOAD in ended.flags) is bool(over)


@pytest.mark.parametrize(("after_kg", "grade"), [(1.0, "good"), (1.5, "fair"), (2.0, "poor")])
def test_of_a_light_animal_an_interval_or_two_of_zero_count(after_kg: float, grade: str) -> None:
    on = platform(Memory(zero_kg=0.0))
    ended = only(feed(on, (6, 100.0 + after_kg), (0.3, after_kg + 0.5), (3.5, after_kg)))
    assert ended.weight.grade == grade


def test_weights_are_told_to_ten_grams() -> None:
    ended = only(feed(platform(interval_kg=0.05), (2, 0.0), (6, 318.25), (2, 0.0)))
    assert (ended.weight.kg, ended.weight.first_kg) == (318.25, 318.25)
    finer = only(
        feed(platform(interval_kg=0.05), (2, 0.0), *[(0.1, 318.123 + 0.404 * (n % 2)) for n in range(60)], (1, 0))
    )
    told = (finer.weight.kg, finer.weight.first_kg, finer.weight.spread_kg)
    assert told == tuple(round(one or 0.0, 2) for one in told)
    assert round(318.123 + 0.202, 2) in told


def test_other_steps_seen_under_an_animal_are_taken_when_it_has_left() -> None:
    """It shows steps of 5 kg where the configuration says 0.5: what is on and what is empty is not moved meanwhile."""
    on = platform(interval_kg=0.5)
    feed(on, (2, 0.0))
    sway = [(0.1, 400.0 + 5 * (n % 2)) for n in range(60)]
    got = feed_from(on, 2.0, *sway)
    assert [one for one in got if isinstance(one, Attention)] == []
    after = feed_from(on, 8.0, (0.1, 0.0), (0.1, 0.0))
    assert [type(one) for one in after if isinstance(one, Ended | Attention)] == [Ended, Attention]
    assert [one.about for one in after if isinstance(one, Attention)] == ["steps"]


def test_what_was_on_for_a_moment_costs_no_reading_of_the_empty_platform() -> None:
    """Its level is believed 0.8 s after the first reading that shows it bare again (QUIET_S), not a reading later."""
    on = platform(Memory(zero_kg=0.0))
    feed(on, (2, 0.0), (0.2, 40.0))
    assert on.view.state == "arriving"
    feed_from(on, 2.2, (0.8, 1.0))
    assert on.view.zero_kg == 0.0
    feed_from(on, 3.0, (0.1, 1.0))
    assert on.view.zero_kg == 1.0


def test_when_one_of_two_has_left_the_other_is_what_stands_there() -> None:
    on = platform()
    states = []
    feed(on, (2, 0.0), (5, 700.0))
    feed_from(on, 7.0, (9, 350.0))
    states.append(on.view.state)
    feed_from(on, 16.0, (0.5, 210.0))
    states.append(on.view.state)  # a dip is one of what stands there now
    feed_from(on, 16.5, (0.2, 340.0))
    assert [*states, on.view.state] == ["settled", "leaving", "settled"]


def test_what_was_left_is_not_forgotten_where_the_next_gap_is_too_short_to_see_it() -> None:
    """A gate is hung on the platform: it shows for a second after the first animal, then for two readings."""
    on = platform(smallest_kg=25.0)
    gate_kg, short_s = 17.0, 0.2
    got = feed(on, (3, 0.0), (6, 300.0), (1, gate_kg), (6, 317.0), (short_s, gate_kg), (6, 317.0), (short_s, gate_kg))
    got += feed_from(on, 22.4, (6, 317.0), (4, gate_kg), (6, 317.0), (3, gate_kg))
    assert [(one.weight.kg, one.weight.grade) for one in ends(got)] == [
        (300.0, "good"),
        (317.0, "poor"),
        (317.0, "poor"),
        (317.0, "poor"),
        (300.0, "good"),  # it was seen for four seconds
    ]


@pytest.mark.parametrize(
    ("rate_hz", "shown", "stays"),
    [
        (3, (264.0, 426.0, 416.0, 42.0), 1),  # a cow that walks across, by three readings a second: it was lost
        (2, (380.0, 416.0, 4.0), 1),  # and by two
        (3, (264.0, 416.0, 4.0), 0),  # what is empty again after two thirds of a second was a bump
        (1, (416.0, 4.0), 0),  # and what one reading showed
        (3, (14.0, 20.0, 17.0, 4.0), 0),  # and what is lighter than the smallest animal is none
    ],
)
def test_who_walks_across_between_few_readings_was_there_until_it_shows_empty(
    rate_hz: float, shown: tuple[float, ...], stays: int
) -> None:
    on = platform()
    feed(on, (3, 0.0))
    got = list[Happening]()
    for n, kg in enumerate((*shown, *[0.0] * 12)):
        got += on.weight(3.1 + n / rate_hz, WeightReading(kg))
    assert len(ends(got)) == stays
