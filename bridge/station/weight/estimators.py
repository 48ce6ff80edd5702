"""Estimates of one level from evenly spaced values: how heavy, said in several ways that fail differently.

An animal sways with a rhythm of about 0.4 to 3 Hz, 0.3 to 6 % of its weight.  A window shorter than 1.25 cycles tells
little whatever is computed from it, and beyond that a plain mean is nearly as good as anything: the Cramer-Rao bound
for a level beside one sinusoid of unknown frequency falls from fifteen times the white-noise bound at 0.75 cycles to
1.2 times at 1.25 (own computation; Andersson and Handel 2003 derive the bound).  A kick is a spike and a dip of the
same area, so means are right and trimming is only for what is no motion of the body.  Leaning is a bias: it shows as
pieces that disagree, and there the level that most of the time agrees on is wanted, not the mean.
"""

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate
from operator import add, mul, sub
from statistics import fmean, median
from typing import NamedTuple

BIN_S = 0.1
"""Values are this far apart, so that the bases of the fit can be made once."""
FREQUENCIES_HZ = tuple(0.4 * 1.0206**n for n in range(101))
"""0.4 to 3.1 Hz, even in the logarithm: the frequency is found by search, as in a four-parameter sine fit."""
COARSE = 4
"""The search tries every fourth of them first, then those beside the best."""


class Sine(NamedTuple):
    """A level beside one rhythm of `hz`."""

    level: float
    hz: float


class _Basis(NamedTuple):
    """One frequency over one window, centred, so that the sine is orthogonal to the constant and to the cosine.

    The later half of the window does: the earlier is its mirror image, of the sine with the other sign.  A value in
    the middle is its own mirror image, and counts half.
    """

    cosine: tuple[float, ...]
    sine: tuple[float, ...]
    level_of_sum: float  # the inverse of the normal matrix of constant and cosine
    level_of_cosine: float
    size_of_cosine: float
    sine_square: float


@lru_cache(maxsize=2048)
def _basis(count: int, hz: float) -> _Basis:
    step = 2 * math.pi * hz * BIN_S
    angles = [step * (n - (count - 1) / 2) for n in range(count // 2, count)]
    cosine, sine = list(map(math.cos, angles)), tuple(map(math.sin, angles))
    middle = count % 2  # where there is one, its cosine is one and its sine nothing
    total, square = 2 * sum(cosine) - middle, 2 * sum(map(mul, cosine, cosine)) - middle
    determinant = count * square - total * total
    cosine[0] *= 1 - middle / 2
    sine_square = 2 * sum(map(mul, sine, sine))
    return _Basis(tuple(cosine), sine, square / determinant, -total / determinant, count / determinant, sine_square)


def fit_sine(values: Sequence[float]) -> Sine:
    """Fit a level and one rhythm by least squares, its frequency by search; at least eight values."""
    count = len(values)
    centre = fmean(values)
    y = [value - centre for value in values]
    lowest = 0.7 / (count * BIN_S)  # below, there is too little of a cycle to tell from a slope
    some = [place for place in range(0, len(FREQUENCIES_HZ), COARSE) if FREQUENCIES_HZ[place] >= lowest]
    later, earlier = y[count // 2 :], y[(count - 1) // 2 :: -1]
    folded = count, list(map(add, later, earlier)), list(map(sub, later, earlier))
    best = max((_fit(*folded, place) for place in some), default=(0.0, 0, 0.0))
    for step in (COARSE // 2, COARSE // 4):
        near = (best[1] - step, best[1] + step)
        best = max(best, *(_fit(*folded, place) for place in near if 0 <= place < len(FREQUENCIES_HZ)))
    return Sine(centre + best[2], FREQUENCIES_HZ[best[1]])


def _fit(count: int, even: Sequence[float], odd: Sequence[float], place: int) -> tuple[float, int, float]:
    """Fit one frequency to values of mean zero: the sum of squares explained, its place, and the level.

    The values come folded at their middle: each and its mirror image added up, and its mirror image taken off.
    """
    basis = _basis(count, FREQUENCIES_HZ[place])
    yc, ys = sum(map(mul, even, basis.cosine)), sum(map(mul, odd, basis.sine))
    return basis.size_of_cosine * yc * yc + ys * ys / basis.sine_square, place, basis.level_of_cosine * yc


def scatter(values: Sequence[float]) -> float:
    """Return the standard deviation about the mean."""
    centre = fmean(values)
    return math.sqrt(fmean((value - centre) ** 2 for value in values))


def winsorised(values: Sequence[float]) -> float:
    """Return the mean with the outermost tenths drawn in to their neighbours."""
    ordered = sorted(values)
    cut = len(ordered) // 10
    inner = ordered[cut : len(ordered) - cut]
    return (sum(inner) + cut * (inner[0] + inner[-1])) / len(ordered)


def triangular(values: Sequence[float]) -> float:
    """Return the mean weighted most at the middle and towards nothing at the ends."""
    count = len(values)
    weights = [min(n + 1, count - n) for n in range(count)]
    return float(sum(map(mul, values, weights)) / sum(weights))


def moving_means(values: Sequence[float], width: int) -> list[float]:
    """Return the mean of each `width` successive values; as many as there are places for it."""
    sums = list(accumulate(values, initial=0.0))
    return [total / width for total in map(sub, sums[width:], sums)]


def narrowest_half(values: Sequence[float]) -> float:
    """Return the width of the shortest interval that holds half the values, which no minority can stretch."""
    ordered = sorted(values)
    inside = (len(ordered) + 1) // 2
    return float(min(map(sub, ordered[inside - 1 :], ordered)))


def agreed_level(values: Sequence[float], reach: float) -> float:
    """Return the level that most values agree on within `reach`: the highest peak of their density, as a weighted mean.

    (Mean shift with a Gaussian kernel, from several starts; the fixed points are redescending M-estimates.)
    """
    ordered = sorted(values)
    if ordered[-1] - ordered[0] <= reach:
        return fmean(values)
    some = ordered[:: max(1, len(ordered) // 60)]
    best = (-1.0, median(ordered))
    for start in some[:: max(1, len(some) // 8)]:
        level, weight = start, 0.0
        for _ in range(12):
            weights = [math.exp(-0.5 * ((value - level) / reach) ** 2) for value in some]
            weight, before = sum(weights), level
            level = sum(map(mul, weights, some)) / weight
            if abs(level - before) < 0.002 * reach:
                break
        best = max(best, (weight, level))
    return best[1]


def settled_from(values: Sequence[float], least: int) -> int:
    """Return where the leading transient ends: the place, in the first half, from which on the mean is surest.

    (The rule that drops the observations whose loss most reduces the standard error of the mean: White 1997.)  Where
    that is not at least halved, there is no transient.
    """
    count = len(values)
    y = [value - values[-1] for value in values]
    total, square = sum(y), sum(map(mul, y, y))
    best, start = 0.5 * (square / count - (total / count) ** 2) / count, 0
    for place in range(min(count // 2, count - least)):
        total -= y[place]
        square -= y[place] * y[place]
        left = count - place - 1
        score = (square / left - (total / left) ** 2) / left
        if score < best:
            best, start = score, place + 1
    return start
