"""The estimates, each against a plain reference: the definition written out, slow and obvious."""

import math
import random
from itertools import pairwise
from statistics import fmean, pstdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.station.weight.estimators import (
    BIN_S,
    FREQUENCIES_HZ,
    agreed_level,
    fit_sine,
    moving_means,
    narrowest_half,
    scatter,
    settled_from,
    triangular,
    winsorised,
)

values = st.lists(st.integers(300, 500).map(float), min_size=10, max_size=40)


def least_squares(y: list[float], hz: float) -> tuple[float, float]:
    """Fit level, sine and cosine of one frequency by the normal equations; return the level and what is left over."""
    rows = [
        (1.0, math.cos(2 * math.pi * hz * n * BIN_S), math.sin(2 * math.pi * hz * n * BIN_S)) for n in range(len(y))
    ]
    a = [
        [sum(row[i] * row[j] for row in rows) for j in range(3)]
        + [sum(row[i] * v for row, v in zip(rows, y, strict=True))]
        for i in range(3)
    ]
    for i in range(3):
        pivot = max(range(i, 3), key=lambda k, at=i: abs(a[k][at]))  # type: ignore[misc]
        a[i], a[pivot] = a[pivot], a[i]
        for k in range(3):
            if k != i:
                by = a[k][i] / a[i][i]
                a[k] = [left - by * right for left, right in zip(a[k], a[i], strict=True)]
    level, cosine, sine = (a[i][3] / a[i][i] for i in range(3))
    left = sum((v - level - cosine * row[1] - sine * row[2]) ** 2 for row, v in zip(rows, y, strict=True))
    return level, left


@pytest.mark.parametrize("seed", range(12))
def test_the_fit_is_the_least_squares_fit_of_the_best_frequency(seed: int) -> None:
    """A three-parameter sine fit at each frequency is linear least squares (IEEE Std 1057); here by Gauss-Jordan."""
    rng = random.Random(seed)
    hz, phase, count = rng.uniform(0.5, 2.5), rng.uniform(0, 6.3), rng.randint(20, 60)
    y = [400 + 5 * math.sin(2 * math.pi * hz * n * BIN_S + phase) + rng.gauss(0, 0.5) for n in range(count)]
    found = fit_sine(y)
    assert found.level == pytest.approx(least_squares(y, found.hz)[0], abs=1e-6)
    lefts = [least_squares(y, one)[1] for one in FREQUENCIES_HZ if one >= 0.7 / (count * BIN_S)]
    assert least_squares(y, found.hz)[1] <= 1.02 * min(lefts)
    assert found.hz == pytest.approx(hz, rel=0.06)


def test_a_slow_rhythm_is_found_in_a_long_window() -> None:
    y = [400 + 5 * math.sin(2 * math.pi * 0.45 * n * BIN_S + 1.0) for n in range(60)]
    assert fit_sine(y).hz == pytest.approx(0.45, rel=0.03)
    assert fit_sine(y).level == pytest.approx(400.0, abs=0.1)


def test_a_window_of_less_than_seven_tenths_of_a_cycle_is_fitted_no_such_rhythm() -> None:
    slope = [400 + n / 4 for n in range(12)]
    assert fit_sine(slope).hz >= 0.96 * 0.7 / (12 * BIN_S)  # the search may end two steps below
    assert fit_sine([400.0] * 30).level == 400.0


def test_the_frequencies_reach_from_0_4_to_3_1_hz() -> None:
    assert FREQUENCIES_HZ[0] == 0.4
    assert FREQUENCIES_HZ[-1] == pytest.approx(3.07, abs=0.05)
    assert all(1.02 < high / low < 1.022 for low, high in pairwise(FREQUENCIES_HZ))


@given(values)
def test_scatter_is_the_standard_deviation(some: list[float]) -> None:
    assert scatter(some) == pytest.approx(pstdev(some), abs=1e-9)


@given(values)
def test_winsorising_gives_the_outermost_tenths_their_neighbours_values(some: list[float]) -> None:
    ordered = sorted(some)
    cut = len(some) // 10
    drawn_in = [min(max(value, ordered[cut]), ordered[-1 - cut]) for value in some]
    assert winsorised(some) == pytest.approx(fmean(drawn_in), rel=1e-12)


def test_the_triangle_is_highest_in_the_middle() -> None:
    assert triangular([0.0, 0.0, 9.0, 0.0, 0.0]) == 3.0  # weights 1 2 3 2 1
    assert triangular([6.0, 0.0, 0.0, 0.0]) == 1.0  # 1 2 2 1
    assert triangular([0.0, 0.0, 0.0, 6.0]) == 1.0


@given(values, st.integers(1, 12))
def test_moving_means_are_the_means_of_every_window(some: list[float], width: int) -> None:
    expected = [fmean(some[n : n + width]) for n in range(len(some) - width + 1)]
    assert moving_means(some, width) == pytest.approx(expected)


@given(values)
def test_the_narrowest_half_is_the_shortest_interval_that_holds_half(some: list[float]) -> None:
    half = math.ceil(len(some) / 2)
    pairs = [(low, high) for low in some for high in some if low <= high]
    assert narrowest_half(some) == min(
        high - low for low, high in pairs if sum(low <= value <= high for value in some) >= half
    )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.floats(2.0, 8.0))
def test_the_agreed_level_is_where_most_agree(seed: int, reach: float) -> None:
    """Against the density (a Gaussian kernel of the same width) searched on a fine grid."""
    rng = random.Random(seed)
    some = [rng.gauss(rng.choice((400.0, 400.0, 400.0, 370.0)), 2.0) for _ in range(60)]
    level = agreed_level(some, reach)
    if max(some) - min(some) <= reach:
        assert level == fmean(some)
        return

    def density(at: float) -> float:
        return sum(math.exp(-0.5 * ((value - at) / reach) ** 2) for value in some)

    best = max(density(355 + n / 10) for n in range(600))
    assert density(level) >= 0.995 * best


def test_where_all_lie_within_reach_the_agreed_level_is_their_mean() -> None:
    assert agreed_level([400.0, 400.0, 403.0], 3.0) == 401.0
    assert agreed_level([400.0, 400.0, 403.2], 3.0) != pytest.approx(401.07, abs=0.001)


@given(values, st.integers(4, 8))
def test_the_transient_ends_where_the_rest_has_the_surest_mean(some: list[float], least: int) -> None:
    """White's rule (1997) written out: the start in the first half that makes the standard error smallest, at least
    halving its square; `least` values are always left."""

    def error(start: int) -> float:
        rest = some[start:]
        return pstdev(rest) ** 2 / len(rest)

    starts = range(1, min(len(some) // 2, len(some) - least) + 1)
    best = min((error(start) for start in starts), default=math.inf)
    found = settled_from(some, least)
    if best >= 0.5 * error(0) - 1e-9:
        assert found == 0 or error(found) <= 0.5 * error(0) + 1e-9
    else:
        assert found in starts
        assert error(found) == pytest.approx(best, abs=1e-6)
