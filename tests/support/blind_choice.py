"""The best choice that can be made blind: so many of those that come one by one, how they are spread being known.

Derman, Lieberman and Ross (1972, "A sequential stochastic assignment problem", Management Science 18:349-355).
"""

from functools import cache
from itertools import pairwise
from math import erf, exp, inf, pi, sqrt
from statistics import fmean


@cache
def best_blind(animals: int, heads: int) -> float:
    """Return the mean weight of the chosen, in standard deviations above the mob's mean, of a normal mob.

    With n to come, the thresholds a(1) to a(n-1) part the line; an animal in the i-th part is given the i-th place, and
    what is expected at the i-th place is the next a(i) = a(i-1) F(a(i-1)) + integral of x dF from a(i-1) to a(i) +
    a(i) (1 - F(a(i))), their recursion.  Nobody who sees the animals one by one does better on average.
    """
    places = [0.0]  # of one animal: the mean
    for _ in range(animals - 1):
        places = [_expected(low, high) for low, high in pairwise([-inf, *places, inf])]
    return fmean(sorted(places)[-heads:])


def _expected(low: float, high: float) -> float:
    """Return the mean of a standard normal number that is brought to a bound where it is beyond it."""
    at_low = low * _below(low) if low > -inf else 0.0
    at_high = high * (1 - _below(high)) if high < inf else 0.0
    return at_low + _density(low) - _density(high) + at_high


def _below(x: float) -> float:
    return 0.5 * (1 + erf(x / sqrt(2)))


def _density(x: float) -> float:
    return 0.0 if abs(x) == inf else exp(-x * x / 2) / sqrt(2 * pi)
