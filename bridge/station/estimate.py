"""How heavy, and how sure: estimates of one level from the readings of a plateau.

An animal sways with a rhythm of 0.4 to 3 Hz, 0.3 to 6 % of its weight, so that a window shorter than about 1.25 cycles
tells little whatever is computed from it, and beyond that a plain mean is nearly as good as anything (the Cramer-Rao
bound for a level beside one sinusoid of unknown frequency falls from 15 times the white-noise bound at 0.75 cycles to
1.2 times at 1.25).  Kicks are a spike and a dip of the same area: means are right, trimming is only for what is no motion
of the body.  Leaning is a bias, and shows only as pieces of the plateau that disagree.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import mul
from statistics import fmean

BIN_S = 0.1
"""The live window is kept in bins of this length, so that the bases of the fit can be made once."""
FREQUENCIES_HZ = tuple(0.4 * 1.085**n for n in range(26))
"""0.4 to 3.1 Hz, evenly in the logarithm: estimation by a one-dimensional search, as in a four-parameter sine fit."""


@dataclass(frozen=True, slots=True)
class Sine:
    """A level beside one rhythm: `level`, the rhythm's `hz` and amplitude `size`, and the scatter that is left."""

    level: float
    hz: float
    size: float
    left: float


@lru_cache(maxsize=4096)
def _basis(count: int, hz: float) -> tuple[tuple[float, ...], tuple[float, float, float, float]]:
    """Return cosine, sine and the inverse of their normal matrix with a constant (six numbers), for `count` bins."""
    step = 2 * math.pi * hz * BIN_S
    middle = (count - 1) / 2
    c = tuple(math.cos(step * (n - middle)) for n in range(count))
    s = tuple(math.sin(step * (n - middle)) for n in range(count))
    # Centred on the window, cosine is even and sine odd: the sine decouples from the level and the cosine.
    sum_c, cc, ss = sum(c), sum(map(mul, c, c)), sum(map(mul, s, s))
    det = count * cc - sum_c * sum_c
    return c, s, (cc / det, -sum_c / det, count / det, ss)


def fit_sine(values: Sequence[float]) -> Sine:
    """Fit a level and one rhythm to evenly spaced bins, its frequency by search.  Needs at least 8 bins."""
    count = len(values)
    centre = fmean(values)
    y = [value - centre for value in values]
    total = sum(map(mul, y, y))
    best = (-1.0, 0.0, FREQUENCIES_HZ[0], 0.0)
    lowest = 0.7 / (count * BIN_S)
    sum_y = sum(y)
    for hz in FREQUENCIES_HZ:
        if hz < lowest:
            continue
        c, s, (p, q, r, ss) = _basis(count, hz)
        yc, ys = sum(map(mul, y, c)), sum(map(mul, y, s))
        level, a, b = p * sum_y + q * yc, q * sum_y + r * yc, ys / ss
        explained = level * sum_y + a * yc + b * ys
        if explained > best[0]:
            best = (explained, level, hz, math.hypot(a, b))
    explained, level, hz, size = best
    left = math.sqrt(max(0.0, total - explained) / count)
    return Sine(centre + level, hz, size, left)


def winsorised(values: Sequence[float], share: float = 0.1) -> float:
    """Return the mean with the outermost shares drawn in to their neighbours."""
    ordered = sorted(values)
    cut = int(share * len(ordered))
    if cut:
        ordered[:cut] = [ordered[cut]] * cut
        ordered[-cut:] = [ordered[-cut - 1]] * cut
    return fmean(ordered)


def trimmed(values: Sequence[float], share: float = 0.1) -> float:
    """Return the mean without the outermost shares."""
    ordered = sorted(values)
    cut = int(share * len(ordered))
    return fmean(ordered[cut : len(ordered) - cut])


def triangular(values: Sequence[float]) -> float:
    """Return the mean weighted most at the middle and towards nothing at the ends."""
    count = len(values)
    weights = [min(n + 1, count - n) for n in range(count)]
    return sum(map(mul, values, weights)) / sum(weights)
