"""When the empty platform is quiet, and how long it must be for its level to be believed."""

import pytest

from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.settings import Settings

CATTLE = Settings("larkmoor", "crush", "indicator", capacity_kg=1500.0, interval_kg=0.5, smallest_kg=25.0)


def taken_after(zero: Zero, *shown_kg: float, seconds: float = 5.0) -> float | None:
    """Show readings, then the last of them for so long; return how long after its first it was zero."""
    t = 0.0
    for kg in shown_kg[:-1]:
        zero.watch(t, kg)
        t += 0.1
    began = t
    for n in range(round(10 * seconds)):
        t = began + n / 10
        if zero.watch(t, shown_kg[-1]):
            return round(t - began, 1)
    return None


@pytest.mark.parametrize(
    ("shown_kg", "after_s"),
    [
        ((1.0,), 0.2),  # where it was last seen, within two intervals: three readings
        ((1.5,), 0.8),
        ((2.0,), 0.8),  # within four intervals
        ((2.5,), 1.2),
        ((10.0,), 1.2),
        ((12.5, 10.0), 1.2),  # it came by no more than two bands, of three intervals each
        ((13.5, 10.0), 3.0),  # it leapt, and may be held
        ((0.0, 10.0), 1.2),  # up
        ((400.0, -10.0), 0.2),  # nothing weighs less than nothing
    ],
)
def test_how_long_a_level_must_stand_is_told_by_how_it_came(shown_kg: tuple[float, ...], after_s: float) -> None:
    assert taken_after(Zero(CATTLE, 0.0), *shown_kg) == after_s


@pytest.mark.parametrize(("shown_kg", "after_s"), [((10.0,), 0.8), ((13.5, 10.0), 1.2), ((12.5, 10.0), 0.8)])
def test_where_nothing_is_remembered_less_is_asked(shown_kg: tuple[float, ...], after_s: float) -> None:
    assert taken_after(Zero(CATTLE, None), *shown_kg) == after_s


def test_what_was_guessed_must_stand_for_longer() -> None:
    zero = Zero(CATTLE, None)
    zero.guess(40.0)
    assert (zero.kg, zero.seen, zero.before_kg, zero.seen_kg) == (40.0, False, 40.0, None)
    assert taken_after(zero, 40.5) == 1.8
    assert (zero.kg, zero.seen, zero.before_kg, zero.seen_kg) == (40.5, True, 40.5, 40.5)


@pytest.mark.parametrize(
    ("capacity_kg", "apart_kg", "quiet"),
    [(1500.0, 1.0, True), (1500.0, 1.5, True), (1500.0, 2.0, False), (6000.0, 3.0, True), (6000.0, 3.5, False)],
)
def test_quiet_is_within_three_intervals_or_a_twentieth_of_a_per_cent_of_capacity(
    capacity_kg: float, apart_kg: float, *, quiet: bool
) -> None:
    zero = Zero(Settings("larkmoor", "crush", "indicator", capacity_kg=capacity_kg, interval_kg=0.5), None)
    for n in range(20):
        zero.watch(n / 10, apart_kg if n == 15 else 0.0)
    assert (zero.quiet_kg() is not None) is quiet


@pytest.mark.parametrize(("count", "gap_s", "quiet"), [(3, 0.1, False), (8, 0.1, False), (9, 0.1, True)])
def test_less_than_eight_tenths_of_a_second_are_not_quiet(count: int, gap_s: float, *, quiet: bool) -> None:
    zero = Zero(CATTLE, None)
    for n in range(count):
        zero.watch(n * gap_s, 5.0)
    assert (zero.quiet_kg() == 5.0) is quiet


def test_an_indicator_that_speaks_once_a_second_can_be_quiet_too() -> None:
    zero = Zero(CATTLE, None)
    for n in range(6):
        zero.watch(float(n), 5.0)
    assert zero.quiet_kg() == 5.0


def test_what_creeps_within_the_band_is_not_quiet() -> None:
    zero = Zero(CATTLE, None)
    for n in range(9):
        zero.watch(n / 10, 0.15 * n)  # its halves are more than an interval apart
    assert zero.quiet_kg() is None


@pytest.mark.parametrize(
    ("smallest_kg", "interval_kg", "on_kg"), [(25.0, 0.5, 12.5), (2.0, 0.5, 1.5), (25.0, 5.0, 15.0), (40.0, 5.0, 20.0)]
)
def test_next_to_nothing_is_half_the_smallest_animal_or_three_intervals(
    smallest_kg: float, interval_kg: float, on_kg: float
) -> None:
    settings = Settings("larkmoor", "crush", "indicator", smallest_kg=smallest_kg, interval_kg=interval_kg)
    assert Zero(settings, None).on_kg == on_kg


@pytest.mark.parametrize(
    ("lowest_kg", "unsure_kg"),
    [(14.0, 4.0), (10.4, 0.0), (10.5, 0.5), (11.0, 1.0), (8.6, 0.0), (8.0, 2.0)],  # nothing weighs less than nothing
)
def test_what_never_came_to_rest_may_have_been_left_there(lowest_kg: float, unsure_kg: float) -> None:
    zero = Zero(CATTLE, 10.0)
    zero.watch(0.0, 60.0)
    zero.watch(0.1, lowest_kg)
    assert zero.look_away() == unsure_kg
    assert zero.look_away() == 0.0, "nothing was seen since"


def test_what_rested_is_known() -> None:
    zero = Zero(CATTLE, 10.0)
    assert taken_after(zero, 14.0) == 1.2
    assert zero.look_away() == 0.0


def crept(zero: Zero, t: float, *levels: float, each: int = 5) -> float:
    """Show an animal that leaves, then these levels for half a second each; return what is not known of zero then."""
    for n, kg in enumerate([60.0, *[level for level in levels for _ in range(each)]]):
        zero.watch(t + n / 10, kg)
    return zero.look_away()


def test_a_slow_display_that_creeps_down_may_be_on_its_way_to_where_it_was() -> None:
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, 3.0, 2.5, 2.0, 2.0) == zero.kg == 2.0
    assert crept(zero, 20.0, 2.5) == 2.0, "nor was it seen in the next gap, too short to tell anything"
    assert crept(zero, 30.0, 3.0, 2.5, *[2.0] * 5) == 0.0, "it has rested there for two seconds: mud"
    assert crept(zero, 40.0, 4.0, 3.5, 3.0, 3.0) == 1.0, "from there on"


def test_who_did_not_look_since_knows_no_more_of_a_display_that_crept_down() -> None:
    """One animal followed another at once: the 2 kg of before were sure then, and so, step by step, was anything."""
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, 3.0, 2.5, 2.0, 2.0) == 2.0
    assert [zero.look_away(), zero.look_away()] == [2.0, 2.0]
    assert crept(zero, 20.0, 3.0, 2.5, 2.0, 2.0) == 2.0


def test_a_display_that_is_on_its_way_down_time_and_again_makes_nothing_sure_by_single_steps() -> None:
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, 1.0, 0.5, 0.5) == 0.5
    assert zero.kg == 0.0, "the last step of the way there"
    assert crept(zero, 20.0, 2.0, 1.5, 1.0, 1.0) == zero.kg == 1.0
    assert crept(zero, 30.0, 1.0, 0.5, 0.5) == 0.5
    assert crept(zero, 40.0, 1.0, 0.5, *[0.0] * 6) == 0.0
    assert crept(zero, 50.0, 1.5, 1.0, 1.0) == 1.0


def test_a_display_that_flickers_by_a_step_does_not_creep() -> None:
    """Mud of 10 kg lay there for good, and every stay was unsure by all of it: half the readings were a step less."""
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, *[10.0, 9.5] * 20, each=1) == 0.0
    assert zero.kg == 9.5
    assert crept(zero, 20.0, 10.0, 10.0, 9.5, each=4) == 0.0, "within a step of what is sure"


@pytest.mark.parametrize(
    ("shown", "zero_kg", "unsure_kg"),
    [
        ((3.0, 1.5, 1.0, 0.5), 1.0, 1.0),
        ((3.0, 0.0, 3.0), 2.0, 2.0),  # one is a swing
        ((3.0, 0.0, -1.0), 0.0, 0.0),  # no lower than what is sure
        ((3.0, 2.5), 2.0, 2.0),
    ],
)
def test_what_was_taken_on_its_way_down_is_no_more_than_two_readings_in_a_row(
    shown: tuple[float, ...], zero_kg: float, unsure_kg: float
) -> None:
    """Nothing weighs less than nothing; at two or three readings a second a gap has no more of them."""
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, 3.0, 2.5, 2.0, 2.0) == zero.kg == 2.0
    assert crept(zero, 20.0, *shown, each=1) == unsure_kg
    assert zero.kg == zero.seen_kg == zero_kg
    assert (zero.look_away(), zero.kg) == (unsure_kg, zero_kg), "nothing was seen since"


@pytest.mark.parametrize(("before_kg", "unsure_kg"), [(3.0, 2.0), (3.5, 0.0)])
def test_a_display_creeps_by_no_more_than_two_steps_at_once(before_kg: float, unsure_kg: float) -> None:
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, before_kg, 2.0, 2.0, 2.0) == unsure_kg
    assert zero.kg == 2.0


def test_what_rests_is_zero_whatever_swung_below_it_before() -> None:
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, 1.0, *[10.0] * 8) == 0.0
    assert zero.kg == 10.0


def test_what_came_to_rest_at_once_lies_there() -> None:
    zero = Zero(CATTLE, 0.0)
    assert crept(zero, 0.0, *[0.0] * 6) == 0.0
    assert crept(zero, 10.0, 2.0, 2.0, 2.0) == 0.0
    assert zero.kg == 2.0


def test_eight_intervals_are_followed_home_before_it_is_said_to_wander() -> None:
    """At half an interval a second (OIML R 76-1:2006, 4.5.7) two intervals take four seconds, and five are allowed."""
    zero = Zero(CATTLE, 0.0)
    for n in range(100):
        zero.watch(n / 10, 0.0)
    for n in range(100, 250):
        zero.watch(n / 10, 4.0)
        assert not zero.wanders
    assert 3.0 < zero.kg < 4.0


def test_losing_sight_forgets_that_it_was_seen_but_not_where() -> None:
    zero = Zero(CATTLE, None)
    assert taken_after(zero, 3.0) == 0.8
    zero.lose_sight()
    assert (zero.kg, zero.seen, zero.seen_kg, zero.before_kg) == (3.0, False, 3.0, 3.0)
