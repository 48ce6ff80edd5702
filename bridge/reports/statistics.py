"""The figures of a set of weights or gains: count, mean, median, spread, evenness, and bins a person can read."""

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, fsum, sqrt
from operator import mul

STEPS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000)
"""Widths of bins that can be read off a scale at a glance."""
MOST_BINS = 12


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of a sample.  `sd` divides by n - 1 and needs two; `within_10_percent` is the share near the mean.

    The middle half lies from `quarter` to `three_quarters`.
    """

    count: int
    mean: float | None = None
    median: float | None = None
    sd: float | None = None
    cv_percent: float | None = None
    smallest: float | None = None
    largest: float | None = None
    total: float = 0.0
    within_10_percent: float | None = None
    quarter: float | None = None
    three_quarters: float | None = None


def figures(sample: Sequence[float]) -> Figures:
    """Work out the figures of a sample, in its own unit.

    Evenness, the share within a tenth of the mean, is the poultry trade's measure (75-80 % is its target there); for
    cattle it is useful, not a standard.
    """
    if not sample:
        return Figures(0)
    ordered = sorted(sample)
    count, total = len(ordered), fsum(ordered)
    mean = total / count
    middle = count // 2
    median = ordered[middle] if count % 2 else (ordered[middle - 1] + ordered[middle]) / 2
    off = [one - mean for one in ordered]
    sd = sqrt(fsum(map(mul, off, off)) / (count - 1)) if count > 1 else None
    reach = 0.1 * abs(mean) * (1 + 1e-12)  # an animal on the line is inside
    near = bisect_right(ordered, mean + reach) - bisect_left(ordered, mean - reach)
    return Figures(
        count=count,
        mean=mean,
        median=median,
        sd=sd,
        cv_percent=100 * sd / mean if sd is not None and mean > 0 else None,
        smallest=ordered[0],
        largest=ordered[-1],
        total=total,
        within_10_percent=100 * near / count,
        quarter=quantile(ordered, 0.25),
        three_quarters=quantile(ordered, 0.75),
    )


def quantile(ordered: Sequence[float], share: float) -> float:
    """Return a quantile of a sorted sample, straight between neighbours: definition 7 of Hyndman and Fan.

    Hyndman & Fan 1996, "Sample quantiles in statistical packages", The American Statistician 50:361; numpy's default.
    """
    place = (len(ordered) - 1) * share
    below = floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


@dataclass(frozen=True, slots=True)
class Bins:
    """A histogram: `counts[i]` lie from `start + i * width` up to, not including, the next."""

    start: float
    width: float
    counts: tuple[int, ...]

    def spans(self) -> list[tuple[float, float, int]]:
        """Return each bin as its lower bound, its upper bound and its count."""
        edges = [round(self.start + i * self.width, 9) for i in range(len(self.counts) + 1)]
        return list(zip(edges, edges[1:], self.counts, strict=False))


def bins(sample: Sequence[float], width: float | None = None, least: float = STEPS[0]) -> Bins:
    """Count a sample into bins of a readable width: the narrowest, from `least` on, that needs at most `MOST_BINS`.

    (Rules such as Sturges' or Freedman and Diaconis' give widths nobody can read off.)
    """
    if not sample:
        return Bins(0, width or STEPS[0], ())
    low, high = min(sample), max(sample)
    if width is None:
        fits = (step for step in STEPS if step >= least and _place(high, step) - _place(low, step) < MOST_BINS)
        width = next(fits, float(ceil((high - low) / (MOST_BINS - 1))))
    first = _place(low, width)
    counts = [0] * (_place(high, width) - first + 1)
    for one, many in Counter(sample).items():  # scales have steps: of many weights few differ
        counts[_place(one, width) - first] += many
    return Bins(first * width, width, tuple(counts))


def _place(number: float, width: float) -> int:
    """Return in which bin a number lies; 0.3 is the third tenth's beginning, whatever binary fractions make of it."""
    return floor(round(number / width, 9))
