"""The parts a stay's weight is made from: bins, levels, the plateau, and where a fall is heading."""

import math

import pytest

from neckyoke.bridge.station.platform.empty.tail import Tail
from neckyoke.bridge.station.weight.bins import MOST_BINS, Track
from neckyoke.bridge.station.weight.plateau import find_plateau, levels_of


def track(*kgs: float, hz: float = 10.0, interval_kg: float = 0.5) -> Track:
    out = Track(interval_kg)
    for n, kg in enumerate(kgs):
        out.add(n / hz, kg)
    return out


def ramp(start: float, end: float, count: int) -> list[float]:
    return [start + (end - start) * n / count for n in range(count)]


def test_readings_fall_into_tenths_and_gaps_are_bridged() -> None:
    assert track(10.0, 20.0, 30.0, 40.0, hz=20).bins() == [15.0, 35.0]
    assert track(10.0, 20.0, 30.0, hz=5).bins() == [10.0, 15.0, 20.0, 25.0, 30.0]
    assert track(10.0, 20.0, 30.0, hz=5).bins(last=2) == [30.0]
    assert track(*[1.0] * 25, hz=25).readings(0, 5) == 13


def test_a_held_number_and_a_silence_are_blind() -> None:
    held = track(398.0, 401.0, *[404.0] * 12, 396.0)
    assert [(span.start, span.end) for span in held.blind] == [(0.2, 1.3)]
    assert track(398.0, *[400.0] * 12, 400.5).blind == []
    silent = track(400.0)
    silent.add(5.0, 400.0)
    assert [(span.start, round(span.end, 1)) for span in silent.blind] == [(0.0, 4.9)]


def test_what_is_kept_is_bounded() -> None:
    long = track(*[400.0] * (MOST_BINS + 50))
    assert len(long) <= MOST_BINS
    long.add(1e9, 401.0)
    assert long.bins() == [401.0]


def test_levels_are_found_with_how_long_they_lasted() -> None:
    bins = [*[220.0] * 15, *ramp(220, 400, 5), *[400.0] * 30]
    assert [level.kg for level in levels_of(bins)] == [pytest.approx(220, abs=3), pytest.approx(400, abs=3)]
    assert levels_of(bins)[1].lasts > levels_of(bins)[0].lasts


@pytest.mark.parametrize(
    ("bins", "kg", "crowded"),
    [
        ([*[220.0] * 25, *ramp(220, 400, 4), *[400.0] * 15], 400.0, False),  # half on, then on for less
        ([*[400.0] * 15, *ramp(400, 200, 4), *[200.0] * 25], 400.0, False),  # on, then half off for longer
        ([*[400.0] * 30, *[640.0] * 15, *[400.0] * 20], 400.0, True),  # a neighbour's feet
        ([*[640.0] * 15, *[400.0] * 60], 400.0, True),  # and at the start
        ([*[220.0] * 60, *[400.0] * 40], 220.0, True),  # too long for a pause
    ],
)
def test_the_animals_level_is_told_from_half_of_it_and_from_more(
    bins: list[float], kg: float, *, crowded: bool
) -> None:
    plateau = find_plateau([*ramp(0, bins[0], 8), *bins, *ramp(bins[-1], 0, 8)])
    assert plateau is not None
    own = [value for value, kept in zip(plateau.values, plateau.kept, strict=True) if kept]
    assert set(own) == {kg}
    assert plateau.crowded is crowded


def test_what_never_stands_still_has_no_plateau() -> None:
    assert find_plateau([100.0 * (n % 7) + 50.0 * (n % 3) for n in range(4)]) is None


def test_what_sinks_below_nothing_has_no_plateau() -> None:
    assert find_plateau([*[-16.0] * 12, *ramp(25.0, -45.0, 16)]) is None


def test_a_slowing_fall_tells_where_it_ends_and_a_steep_one_does_not() -> None:
    slowing, steep = Tail(), Tail()
    for n in range(12):
        slowing.see(n / 10, 6.0 + 300.0 * math.exp(-n / 5))
        steep.see(n / 10, 300.0 - 20.0 * n)
    assert slowing.end_kg() == pytest.approx(6.0, abs=0.5)
    assert steep.end_kg() is None
