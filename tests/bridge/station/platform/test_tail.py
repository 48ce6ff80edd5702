"""Where a fall is heading: exponentials, whose end is known, and numpy's interpolation as an outside reference."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.station.platform.empty.tail import Lowest, Tail


def shown(*readings: tuple[float, float]) -> Tail:
    tail = Tail()
    for t, kg in readings:
        tail.see(t, kg)
    return tail


def falling(end_kg: float, by_kg: float, tau_s: float, seconds: float = 1.5) -> list[tuple[float, float]]:
    """Let a first-order indicator fall, ten readings a second."""
    return [(n / 10, end_kg + by_kg * math.exp(-n / 10 / tau_s)) for n in range(round(10 * seconds) + 1)]


@pytest.mark.parametrize("tau_s", [0.2, 0.5, 1.0, 3.0])
@pytest.mark.parametrize("end_kg", [-4.0, 0.0, 12.5])
def test_an_exponential_ends_where_it_does(tau_s: float, end_kg: float) -> None:
    assert shown(*falling(end_kg, 400.0, tau_s)).end_kg() == pytest.approx(end_kg, abs=1e-6)


@pytest.mark.parametrize(("ratio", "known"), [(0.94, True), (0.96, False)])
def test_what_hardly_slows_down_is_heading_nowhere(ratio: float, known: bool) -> None:  # noqa: FBT001
    end = shown(*falling(10.0, 400.0, -0.4 / math.log(ratio))).end_kg()  # each step of 0.4 s so much of the one before
    assert (end is not None) is known


@pytest.mark.parametrize("slope_kg", [-3.0, 0.0, 3.0])
def test_a_straight_line_a_level_and_a_rise_have_no_end(slope_kg: float) -> None:
    assert shown(*((n / 10, 100 + slope_kg * n) for n in range(20))).end_kg() is None


def test_a_rise_that_slows_down_is_no_fall() -> None:
    assert shown(*falling(400.0, -400.0, 0.5)).end_kg() is None


@pytest.mark.parametrize(("seconds", "known"), [(0.3, False), (0.5, False), (0.7, True), (0.8, True)])
def test_less_than_six_tenths_of_a_second_tell_nothing(seconds: float, known: bool) -> None:  # noqa: FBT001
    assert (shown(*falling(0.0, 400.0, 0.3, seconds)).end_kg() is not None) is known


def test_of_a_fall_that_is_nearly_over_less_than_that_tells_nothing_either() -> None:
    fall = [(n / 10, kg) for n, kg in enumerate((400.0, 100.0, 99.0, 98.0, 97.0, 96.0, 95.0, 94.0))]
    assert [shown(*fall[: n + 1]).end_kg() for n in range(6)] == [None] * 6
    assert shown(*fall).end_kg() is not None


TIMES = st.lists(st.integers(1, 9), min_size=2, max_size=30)  # tenths of a second between readings
LEVELS = st.lists(st.integers(0, 800), min_size=31, max_size=31)


@given(TIMES, LEVELS)
def test_three_points_are_read_off_the_line_between_the_readings(gaps: list[int], levels: list[int]) -> None:
    """Aitken's delta-squared process on the readings interpolated, held at the ends: `numpy.interp` does both."""
    import numpy as np

    times = [0.0, *(sum(gaps[: n + 1]) / 10 for n in range(len(gaps)))]
    values = [levels[n] / 2 for n in range(len(times))]
    got = shown(*zip(times, values, strict=True)).end_kg()
    first, middle, last = np.interp([times[-1] - 0.8, times[-1] - 0.4, times[-1]], times, values)
    before, after = first - middle, middle - last
    if abs(after) < 1e-9 or abs(0.95 * before - after) < 1e-6 or abs(times[-1] - times[0] - 0.6) < 1e-6:
        return  # on an edge, either answer is right
    if times[-1] < 0.6 or not 0 < after < 0.95 * before:
        assert got is None
    else:
        assert got == pytest.approx(last - after**2 / (before - after), abs=1e-6)


# -- where a fall ended


def lowest(*readings: tuple[float, float], interval_kg: float = 0.5) -> float | None:
    found = Lowest()
    for t, kg in readings:
        found.see(t, kg, interval_kg)
    return found.rested_kg


@pytest.mark.parametrize(
    ("readings", "rested_kg"),
    [
        ((), None),
        (((0.0, 12.0),), None),
        (((0.0, 12.0), (0.39, 12.0)), None),
        (((0.0, 12.0), (0.4, 12.0)), 12.0),
        (((0.0, 300.0), (0.1, 13.0), (0.5, 12.0), (0.6, 200.0)), 12.0),  # within two intervals
        (((0.0, 300.0), (0.1, 13.1), (0.5, 12.0), (0.6, 200.0)), None),
        (((0.0, 12.0), (0.1, 400.0), (4.0, 12.5), (4.1, 300.0)), 12.0),  # it came to that again
        (((0.0, 12.0), (0.5, 12.0), (0.6, 3.0), (0.7, 90.0)), None),  # and then it was lower for a moment
    ],
)
def test_the_lowest_rested_where_it_stood_within_two_intervals_for_four_tenths_of_a_second(
    readings: tuple[tuple[float, float], ...], rested_kg: float | None
) -> None:
    assert lowest(*readings) == rested_kg


@given(st.lists(st.tuples(st.floats(0.01, 1.0), st.sampled_from([0.0, 0.5, 1.0, 1.5, 2.0, 9.0])), max_size=40))
def test_it_is_what_a_look_back_over_all_readings_finds(steps: list[tuple[float, float]]) -> None:
    readings, t = list[tuple[float, float]](), 0.0
    for step_s, kg in steps:
        t += step_s
        readings.append((t, kg))
    low = min((kg for _, kg in readings), default=0.0)
    near = [at for at, kg in readings if kg <= low + 1.0]
    assert lowest(*readings) == (low if near and near[-1] - near[0] >= 0.4 else None)


def test_told_to_forget_it_begins_anew() -> None:
    found = Lowest()
    assert (found.kg, found.rested_kg) == (math.inf, None)
    for t in (0.0, 0.5):
        found.see(t, 12.0, 0.5)
    assert (found.kg, found.rested_kg) == (12.0, 12.0)
    found.forget()
    assert (found.kg, found.rested_kg) == (math.inf, None)
    for t in (1.0, 1.5):
        found.see(t, 60.0, 0.5)
    assert found.rested_kg == 60.0
