"""The top of a short stay: which readings are of the whole animal, and what they say."""

import math
from collections.abc import Sequence
from statistics import fmean

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from neckyoke.bridge.station.weight.plateau import Plateau
from neckyoke.bridge.station.weight.settling import Settling
from neckyoke.bridge.station.weight.top import MOST, NEAR, SCATTER, SHAPE, STEP, Top, find_top, narrowed


def top(readings: Sequence[float], step_kg: float = 0.5) -> Top:
    found = find_top(readings, step_kg)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("readings", "first", "end", "kg"),
    [
        ([0, 120, 300, 301, 130, 0], 2, 4, 300.5),  # two readings a second: both of them, no foot
        ([0, 80, 160, 240, 290, 300, 301, 299, 300, 260, 150, 40], 5, 9, 300.0),
        ([0, 150, 151, 150, 149, 300, 301, 300, 150, 0], 5, 8, 300.333),  # a pause half on lasted longer
        ([300], 0, 1, 300.0),
        ([100, 220, 300, 210, 90], 2, 3, 300.0),  # one reading: the highest is the best guess
        ([250, 270, 290, 310, 290, 270, 250], 3, 4, 310.0),
        ([0, 298, 302, 300, 299, 304, 301], 1, 7, 300.667),
    ],
)
def test_the_top_is_what_is_level_between_the_ramps(readings: list[float], first: int, end: int, kg: float) -> None:
    found = top(readings)
    assert (found.first, found.end) == (first, end)
    assert found.kg == pytest.approx(kg, abs=1e-3)


def test_where_the_ends_are_plain_little_is_unsure_and_where_they_are_not_much_is() -> None:
    plain = top([0, 100, 200, 300, 301, 300, 299, 300, 150, 0])
    rounded = top([0, 100, 200, 280, 290, 296, 290, 282, 150, 0])
    assert plain.unsure_kg < 0.003 * plain.kg
    assert rounded.unsure_kg > 3 * plain.unsure_kg


def test_nothing_has_no_top() -> None:
    assert find_top([], 0.5) is None
    assert find_top([0.0, -3.0], 0.5) is None
    assert narrowed(None, [0.0, -1.0], [0, 1], 0.5) is None


def prior_of(kg: float) -> float:
    return SHAPE * ((SCATTER * kg) ** 2 + (STEP * 0.5) ** 2)


def _numerical(readings: Sequence[float], first: int, end: int, step_kg: float) -> float:
    """Reckon the same logarithm by summing over weights and scatters, as its definition reads."""
    import numpy as np

    inside = np.array(readings[first:end], dtype=float)
    highest, kg = max(readings), inside.mean()
    prior = SHAPE * ((SCATTER * kg) ** 2 + (STEP * step_kg) ** 2)
    variances = np.exp(np.linspace(math.log(prior) - 9, math.log(prior) + 12, 3000))
    believed = SHAPE * math.log(prior) - math.lgamma(SHAPE) - (SHAPE + 1) * np.log(variances) - prior / variances
    spread = np.linspace(-12, 12, 2001)
    total = 0.0
    for variance, log_believed, width in zip(variances, believed, np.gradient(variances), strict=True):
        weights = kg + spread * math.sqrt(variance / len(inside))
        off = ((inside[:, None] - weights) ** 2).sum(axis=0) / variance
        likely = np.exp(-0.5 * off - 0.5 * len(inside) * math.log(2 * math.pi * variance))
        total += math.exp(log_believed) * width * likely.sum() * (weights[1] - weights[0]) / highest
    return math.log(total) - (len(readings) - len(inside)) * math.log(highest)


@pytest.mark.parametrize(
    "readings", [[200.0, 299.0, 300.0, 301.0, 250.0], [296.0, 304.0, 299.0, 301.0, 297.0], [290.0, 296.0, 300.0]]
)
def test_the_likeliest_stretch_is_that_by_numerical_integration(readings: list[float]) -> None:
    """The conjugate prior's closed form against its definition, integrated by numpy."""
    places = [(first, end) for first in range(len(readings)) for end in range(first + 1, len(readings) + 1)]
    near = [place for place in places if min(readings[slice(*place)]) >= NEAR * max(readings)]
    by_sums = {place: _numerical(readings, *place, 0.5) for place in near}
    found = top(readings)
    assert (found.first, found.end) == max(by_sums, key=lambda place: by_sums[place])
    most = max(by_sums.values())
    shares = {place: math.exp(likely - most) for place, likely in by_sums.items()}
    mean = {place: fmean(readings[slice(*place)]) for place in near}
    variance = {
        place: (prior_of(mean[place]) + sum((one - mean[place]) ** 2 for one in readings[slice(*place)]) / 2)
        / (SHAPE + (place[1] - place[0] - 1) / 2)
        / (place[1] - place[0])
        for place in near
    }
    off = sum(share * ((mean[place] - found.kg) ** 2 + variance[place]) for place, share in shares.items())
    assert found.unsure_kg == pytest.approx(math.sqrt(off / sum(shares.values())), rel=0.02)


@given(st.lists(st.floats(-50, 900), min_size=1, max_size=60), st.floats(0.05, 5.0), st.floats(0.1, 10.0))
@example([300.0] * 60, 0.5, 2.0)
def test_any_readings_have_a_top_among_the_highest_or_none(
    readings: list[float], step_kg: float, factor: float
) -> None:
    found = find_top(readings, step_kg)
    if found is None:
        assert max(readings) <= 0
        return
    inside = readings[found.first : found.end]
    assert 1 <= len(inside) <= MOST
    assert min(inside) >= NEAR * max(readings)
    assert found.kg == pytest.approx(sum(inside) / len(inside))
    assert math.isfinite(found.unsure_kg)
    bigger = top([one * factor for one in readings], step_kg * factor)
    assert bigger.kg == pytest.approx(factor * found.kg, rel=0.02)


def plateau(values: list[float]) -> Plateau:
    return Plateau(2, values, [True] * len(values), [], 0.3, crowded=True, passing=False)


def test_a_plateau_is_narrowed_to_its_top_and_keeps_what_was_seen_of_it() -> None:
    bins = [0.0, 150.0, 280.0, 300.0, 301.0, 300.0, 270.0, 100.0]
    found = narrowed(plateau(bins[2:7]), bins, range(len(bins)), 0.5)
    assert found is not None
    assert (found.start, found.values, found.crowded, found.exit_s) == (3, [300.0, 301.0, 300.0], True, 0.3)
    assert 0 < found.edges_kg < 3


def test_what_is_far_above_a_plateau_is_none_of_its_top() -> None:
    """A kick, or another animal's feet."""
    bins = [0.0, 300.0, 301.0, 300.0, 400.0, 402.0, 401.0, 400.0, 300.0, 299.0]
    found = narrowed(plateau([300.0, 301.0, 300.0]), bins, range(len(bins)), 0.5)
    assert found is not None
    assert found.values == [300.0, 301.0, 300.0]


def test_where_there_was_no_plateau_the_top_promises_nothing() -> None:
    found = narrowed(None, [0.0, 200.0, 300.0, 150.0], [0, 1, 2, 3], 0.5)
    assert found is not None
    assert found.passing


@pytest.mark.parametrize("rate_hz", [2.0, 5.0, 10.0, 50.0])
def test_an_animal_that_walks_across_weighs_what_it_does_with_all_feet_on(rate_hz: float) -> None:
    """Four feet come down within 0.8 s, all are on for 0.7 s, and they lift within 0.8 s."""
    settling = Settling(0.5)
    for n in range(int(2.4 * rate_hz) + 1):
        t = n / rate_hz
        share = min(1.0, t / 0.8, max(0.0, (2.3 - t) / 0.8))
        settling.feed(t, round(600 * share) / 2)
    got = settling.final()
    assert got.kg == pytest.approx(300.0, rel=0.015)
    assert got.grade in {"poor", "fair"}
