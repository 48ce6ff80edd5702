"""A stay's readings in even bins: what is averaged, bridged, held, silent, forgotten."""

import pytest

from neckyoke.bridge.station.weight.bins import MOST_BINS, Track
from tests.bridge.station.weight.test_plateau_parts import track


def test_a_bin_is_the_mean_of_its_readings_whenever_they_came() -> None:
    one = Track(0.5)
    for t, kg in ((5.0, 10.0), (5.05, 20.0), (5.099, 60.0), (5.1, 7.0), (5.31, 9.0)):
        one.add(t, kg)
    assert one.started == 5.0
    assert one.bins() == [30.0, 7.0, 8.0, 9.0]
    assert one.bins(2) == [9.0]  # an empty one at the start is left out
    assert one.bins(1) == [9.0]
    assert one.bins(0) == []
    assert len(one) == 4
    assert (one.readings(0, 1), one.readings(0, 4), one.readings(1, 3)) == (3, 5, 1)


def test_gaps_are_bridged_by_a_straight_line() -> None:
    one = Track(0.5)
    for t, kg in ((0.0, 10.0), (0.4, 50.0), (0.5, 60.0), (1.0, 10.0)):
        one.add(t, kg)
    assert one.bins() == pytest.approx([10, 20, 30, 40, 50, 60, 50, 40, 30, 20, 10])


def test_what_came_after_a_moment_can_be_forgotten() -> None:
    one = track(1.0, 2.0, 3.0, 4.0)
    one.cut(0.2)
    assert one.bins() == [1.0, 2.0, 3.0]
    one.cut(-1.0)
    assert one.bins() == [1.0]


@pytest.mark.parametrize(("seconds", "silent"), [(1.9, False), (2.0, False), (2.2, True)])
def test_a_silence_of_more_than_two_seconds_measures_nothing(seconds: float, *, silent: bool) -> None:
    one = track(400.0, 400.0)
    one.add(0.1 + seconds, 400.0)
    assert bool(one.blind) is silent
    assert (one.heard_on < len(one)) is silent
    if silent:
        assert one.heard_on == 1
        assert one.blind[0].start == 0.1
        assert one.blind[0].end == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("count", "leap_kg", "held"),
    [
        (7, 10.0, False),  # stood for 0.6 s
        (9, 10.0, True),
        (30, 10.0, True),
        (9, 1.5, False),  # within 0.4 % of 400 kg
        (9, 1.7, True),
        (9, -10.0, True),
    ],
)
def test_a_number_that_stood_and_then_leapt_was_held(count: int, leap_kg: float, *, held: bool) -> None:
    one = track(380.0, *[400.0] * count, 400.0 + leap_kg)
    assert bool(one.blind) is held
    if held:
        (span,) = one.blind
        assert span.start == 0.1
        assert span.end == pytest.approx(count / 10)
        assert span.leap == pytest.approx(abs(leap_kg) / 400)
        assert (span.rises, span.leapt) == (leap_kg > 0, True)


def test_a_light_number_is_held_if_the_next_is_three_intervals_away() -> None:
    assert track(9.0, *[10.0] * 10, 11.5).blind
    assert not track(9.0, *[10.0] * 10, 11.4).blind
    (span,) = track(9.0, *[10.0] * 10, 12.0).blind
    assert not span.leapt  # it came by two intervals only


def test_while_a_number_stands_it_may_be_held_for_up_to_two_and_a_half_seconds() -> None:
    for count, may_be in ((8, False), (9, True), (25, True), (27, False)):
        assert track(380.0, *[400.0] * count).maybe_held is may_be
    assert not track(399.5, *[400.0] * 12).maybe_held
    assert not track(*[400.0] * 12).maybe_held


def test_of_a_long_stay_the_oldest_half_is_dropped_with_what_was_blind_in_it() -> None:
    one = track(380.0, *[400.0] * 12, 390.0)
    assert one.blind
    for n in range(14, MOST_BINS + 1):
        one.add(n / 10, float(n))
    assert len(one) == MOST_BINS // 2
    assert one.started == pytest.approx((MOST_BINS // 2 + 1) / 10)
    assert one.bins()[0] == float(MOST_BINS // 2 + 1)
    assert one.bins()[-1] == float(MOST_BINS)
    assert one.blind == []
    assert one.heard_on == len(one)


def test_a_clock_that_leapt_begins_anew() -> None:
    one = track(380.0, 400.0)
    one.add(0.2 + (MOST_BINS + 2) / 10, 7.0)
    assert one.bins() == [7.0]
    assert one.heard_on == 1
