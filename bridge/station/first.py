"""The first weight, while the animal still stands there: for the person at the crush, and for gates.

A window of at most six seconds reaches back to where the level last jumped.  A weight is given as soon as three
estimates that fail differently (a winsorised mean, a triangular mean, a level fitted beside a rhythm) agree over enough
cycles of what the animal does: 1.1 of them, or fewer when it hardly sways.

What stood still too soon after its first foot may be half on: two feet come down in half the time that four take.  Its
weight is given, but as a poor one, until it has stood longer than a pause half on lasts, or weighs what the mob does.
"""

from dataclasses import dataclass
from statistics import fmean

from bridge.station.estimate import BIN_S, fit_sine, moving_means, scatter, triangular, winsorised
from bridge.station.final import Estimate
from bridge.station.track import Track

WINDOW = 60
"""Bins in the longest window."""
SHORTEST = 15
"""And in the shortest that is looked at."""
JUMP = 0.07
"""The window reaches back to where half-second means were last further from the present level than this share."""
AGREE_FAIR, AGREE_GOOD = 0.01, 0.003
"""Shares within which the three estimates of a fair and a good first weight agree."""
GOOD_BINS = 30
CYCLES = 1.1
HALF_ON_RISE_S = (0.25, 0.95)
"""Between a weight that is put down and four feet: the rise, from next to nothing to nearly all, of two feet."""
HALF_ON_LASTS_S = 3.3
USUAL_SHARE = 0.75
"""From this share of what the mob weighs on, an animal is whole."""


@dataclass(frozen=True, slots=True)
class Window:
    """The level stretch at the end of a stay's bins, its level, and how fast the platform was loaded before it."""

    values: list[float]
    level: float
    rise_s: float


def level_stretch(bins: list[float]) -> Window | None:
    """Find the level stretch that reaches to the present; None when it is too short."""
    if len(bins) < SHORTEST:
        return None
    level = fmean(bins[-10:])
    means = moving_means(bins, 5)
    start = len(means) - 1
    while start > 0 and abs(means[start - 1] - level) <= JUMP * level:
        start -= 1
    first = start + 3 if start else 0
    if level <= 0 or len(bins) - first < SHORTEST:
        return None
    top = start + 2
    while top > 0 and bins[top - 1] >= 0.92 * level:
        top -= 1
    foot = top
    while foot > 0 and bins[foot - 1] > 0.12 * level:
        foot -= 1
    return Window(bins[max(first, len(bins) - WINDOW) :], level, (top - foot) * BIN_S)


def look(track: Track, usual_kg: float | None) -> Estimate | None:
    """Give a weight if three estimates agree, None if not yet.  `usual_kg`: what the mob weighs, if that is known."""
    window = None if track.maybe_held else level_stretch(track.bins(WINDOW + 30))
    if window is None:
        return None
    values, level = window.values, window.level
    robust, tapered = winsorised(values), triangular(values)
    if abs(robust - tapered) > AGREE_FAIR * level:
        return None
    sine = fit_sine(values)
    low, middle, high = sorted((robust, tapered, sine.level))
    cycles = sine.hz * len(values) * BIN_S
    if high - low > AGREE_FAIR * level or (cycles < CYCLES and scatter(values) > 0.004 * level):
        return None
    good = high - low <= AGREE_GOOD * level and len(values) >= GOOD_BINS and track.interval_kg <= 0.01 * level
    half = HALF_ON_RISE_S[0] < window.rise_s < HALF_ON_RISE_S[1] and len(values) * BIN_S < HALF_ON_LASTS_S
    if usual_kg is not None:
        half = middle < USUAL_SHARE * usual_kg and len(values) * BIN_S < HALF_ON_LASTS_S
    seconds = moving_means(values, 10)
    return Estimate(
        kg=round(middle, 2),
        grade="poor" if half else "good" if good else "fair",
        spread_kg=round(max(seconds) - min(seconds), 2),
        restlessness_percent=round(100 * scatter(values) / level, 2),
        readings=track.readings(len(track) - len(values), len(track)),
        span_s=round(len(values) * BIN_S, 1),
    )
