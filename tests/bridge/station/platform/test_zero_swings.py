"""A platform that is bumped swings below what it showed empty, which is no empty platform's level.

The bump is a damped swing, x(t) = -a sin(2 pi f t) exp(-t / tau): the free motion of any mass on a spring (textbook).
Its sizes are our own: no source tells how hard cattle bump a crush.
"""

import math

import pytest

from neckyoke.bridge.station.platform.empty.zero import SUNK_S, Zero
from neckyoke.bridge.station.settings import Memory, Settings
from tests.bridge.station.platform.test_platform_table import ends, feed, platform, ramp

CATTLE = Settings("larkmoor", "crush", "indicator", capacity_kg=1500.0, interval_kg=0.5, smallest_kg=25.0)


def swing(kg: float, swings_hz: float, tau_s: float, gap_s: float, rate_hz: float) -> list[tuple[float, float]]:
    """Return what is shown of one, in steps of half a kilogram."""
    times = [n / rate_hz for n in range(round(gap_s * rate_hz))]
    shown = [-kg * math.sin(2 * math.pi * swings_hz * t) * math.exp(-t / tau_s) for t in times]
    return [(1 / rate_hz, round(2 * one) / 2) for one in shown]


@pytest.mark.parametrize("rate_hz", [5, 10, 20, 50])
@pytest.mark.parametrize("kg", [4.0, 8.0, 20.0])
@pytest.mark.parametrize(("swings_hz", "tau_s"), [(2.0, 1.0), (1.0, 0.8), (0.5, 1.0)])
@pytest.mark.parametrize("gap_s", [0.6, 1.6, 3.0])
def test_a_bump_before_an_animal_breaks_no_promise(
    rate_hz: float, kg: float, swings_hz: float, tau_s: float, gap_s: float
) -> None:
    """Of 300 kg, 303.5 and 306 were good."""
    bumped = swing(kg, swings_hz, tau_s, gap_s, rate_hz)
    on = platform(Memory(zero_kg=0.0))
    got = feed(on, (4, 0.0), *bumped, *ramp(0.0, 300.0, 0.5), (6, 300.0), (4, 0.0), hz=rate_hz)
    allowed = {"good": 0.01, "fair": 0.02}
    for ended in ends(got):
        grade, weighed_kg = ended.weight.grade, ended.weight.kg
        assert grade not in allowed or abs((weighed_kg or 0.0) / 300.0 - 1) <= allowed[grade], ended.weight


def sunk(to_kg: float = -6.0) -> Zero:
    """Return a zero that was taken lower than it had been, a moment ago."""
    zero = Zero(CATTLE, 0.0)
    for n in range(3):
        zero.watch(n / 10, to_kg)
    assert zero.kg == to_kg
    return zero


@pytest.mark.parametrize(("rate_hz", "readings"), [(50, 11), (20, 5), (10, 3), (5, 3), (2, 3)])
def test_less_than_nothing_is_believed_after_three_readings_and_a_fifth_of_a_second(
    rate_hz: int, readings: int
) -> None:
    zero = Zero(CATTLE, 0.0)
    taken = [zero.watch(n / rate_hz, -6.0) for n in range(readings)]
    assert taken == [False] * (readings - 1) + [True]
    assert (readings - 1) / rate_hz >= SUNK_S


@pytest.mark.parametrize(("back_kg", "zero_kg"), [(0.0, 0.0), (-2.0, -2.0), (-6.0, -6.0), (1.0, 1.0)])
def test_what_swung_below_is_back_where_it_is_quiet_next(back_kg: float, zero_kg: float) -> None:
    zero = sunk()
    for n in range(3, 20):
        zero.watch(n / 10, back_kg)
    assert zero.kg == pytest.approx(zero_kg, abs=0.5)
    assert zero.look_away() == 0.0


def test_what_rose_by_a_part_is_taken_where_it_is_quiet_however_long_it_was_watched() -> None:
    zero = Zero(CATTLE, 0.0)
    for n, kg in enumerate([0.0] * 50 + [-6.0] * 3 + [-2.0] * 17):
        zero.watch(n / 10, kg)
    assert zero.kg == pytest.approx(-2.0, abs=0.5)


def test_what_stands_there_as_it_is_quiet_next_is_not_taken_with_it() -> None:
    """It was 0 before it sank: 8 kg are something else, and followed slowly."""
    zero = sunk()
    for n in range(3, 40):
        zero.watch(n / 10, 8.0)
    assert zero.kg == pytest.approx(0.0, abs=1.0)


def test_until_then_a_weight_may_be_wrong_by_as_much_as_it_sank() -> None:
    zero = sunk()
    assert zero.look_away() == 6.0
    for n in range(3):
        zero.watch(5 + n / 10, -9.0)  # further down is further from where it was
    assert zero.look_away() == 9.0


def test_where_it_rests_again_after_another_stay_it_is() -> None:
    zero = sunk()
    assert zero.look_away() == 6.0
    for n in range(3):
        zero.watch(5 + n / 10, -5.5)
    assert zero.look_away() == 0.5, "but for an interval"


def test_a_moment_more_at_the_same_level_proves_nothing() -> None:
    zero = sunk()
    for n in range(3, 6):
        zero.watch(n / 10, -6.0)
    assert zero.look_away() == 6.0
