"""The first weight, while the animal still stands there: for the person at the crush, and for gates.

A window of at most six seconds reaches back to where the level last jumped.  A weight is given as soon as three
estimates that fail differently (a winsorised mean, a triangular mean, a level fitted beside a rhythm) agree over enough
cycles of what the animal does: 1.1 of them, or fewer when it hardly sways.

Where it is known how long this indicator is on its way (`arrival`), more is: what it has shown since is weighed as a
whole stay is, and given as soon as the error to be expected allows a fair weight, which may be half a second.

A first weight is fair, never good: whether an animal leans all the while is only seen when it does not any more.  What
stood still too soon after its first foot may be half on: two feet come down in half the time that four take.  Its
weight is given, but as a poor one, until it has stood longer than a pause half on lasts, or weighs what the mob does.
Most pauses are over before a usual window is, but not before an early one: nothing is given early that may be half on,
does not outweigh the fore feet of the heaviest of the last animals, or is heavier than all of them: of what is no
animal of this mob nobody knows how much more is to come.
"""

from dataclasses import dataclass, replace
from statistics import fmean

from neckyoke.bridge.station.weight.arrival import Rests
from neckyoke.bridge.station.weight.bins import Track
from neckyoke.bridge.station.weight.estimators import (
    BIN_S,
    fit_sine,
    moving_means,
    scatter,
    settled_from,
    triangular,
    winsorised,
)
from neckyoke.bridge.station.weight.final import Estimate, weigh
from neckyoke.bridge.station.weight.grading import PROMISED_PERCENT
from neckyoke.bridge.station.weight.plateau import Plateau

WINDOW = 60
"""Bins in the longest window."""
SHORTEST, EARLY = 15, 6
"""And in the shortest that is looked at, and where it is known how long the indicator is on its way."""
JUMP = 0.07
"""The window reaches back to where half-second means were last further from the present level than this share."""
AGREE = 0.01
"""The three estimates agree within this share."""
CYCLES, STILL = 1.1, 0.004
"""Cycles that must have been seen, unless the scatter is less than this share."""
EARLY_BREAKS = 0.01
"""A weight is given early where the chance that it is no fair one is no greater."""
EARLY_READINGS = 3
"""Readings without which nothing is given early."""
HISTORY = 30
"""Bins looked at before the window, to see how fast the platform was loaded."""
EDGE = 3
"""Bins left out at the window's start, where the half-second means still hold some of the jump."""
RISEN, BARE = 0.92, 0.12
"""A rise is from this share of the level, nearly all, back to this one, next to nothing."""
HALF_ON_RISE_S = (0.25, 0.95)
"""Between a weight that is put down and four feet: the rise of two feet."""
HALF_ON_LASTS_S = 3.3
USUAL_SHARE = 0.75
"""From this share of what the mob weighs on, an animal is whole."""
FORE_AT_MOST, ALMOST = 0.66, 0.95
"""Fore feet carry no more than this share of an animal (common practice, no source); what is clearly lighter, by its
plain mean, need not be weighed to see that."""
HEAVIER = 1.1
"""What weighs so many times the heaviest of the last animals is none of their mob: its half may weigh more than each of
them."""


@dataclass(frozen=True, slots=True)
class Window:
    """The level stretch at the end of a stay's bins, and how fast the platform was loaded before it, if seen."""

    values: list[float]
    rise_s: float | None

    @property
    def span_s(self) -> float:
        """Return its length."""
        return len(self.values) * BIN_S


def level_stretch(bins: list[float], shortest: int = SHORTEST) -> Window | None:
    """Find the level stretch that reaches to the present; None when it is too short."""
    if len(bins) < shortest:
        return None
    level = fmean(bins[-min(10, shortest) :])
    means = moving_means(bins, 5)
    start = len(means) - 1
    while start > 0 and abs(means[start - 1] - level) <= JUMP * level:
        start -= 1
    top = start + EDGE - 1
    values = bins[max(start + EDGE if start else 0, len(bins) - WINDOW) :]
    if level <= 0 or len(values) < shortest:
        return None
    values = values[settled_from(values, shortest) :]
    while top > 0 and bins[top - 1] >= RISEN * level:
        top -= 1
    foot = top
    while foot > 0 and bins[foot - 1] > BARE * level:
        foot -= 1
    return Window(values, (top - foot) * BIN_S)


def look(
    track: Track,
    usual_kg: float | None,
    arrives: int | None = None,
    heaviest_kg: float | None = None,
    rests: Rests | None = None,
) -> Estimate | None:
    """Return a weight if three estimates agree, or enough is known; None if not yet.

    `usual_kg`: what the mob weighs, and `heaviest_kg`: what the heaviest of the last animals did, each if that is
    known; `arrives`: for how many bins the indicator is on its way, and `rests`: how it comes to rest, if so.
    """
    if track.maybe_held:
        return None
    bins = track.bins(min(WINDOW + HISTORY, track.heard_on))
    window = level_stretch(bins)
    found = _agreed(window, track) if window else None
    early = found is None
    if early and arrives is not None and heaviest_kg is not None:
        window = level_stretch(bins, EARLY)
        heavy = window is not None and fmean(window.values) >= ALMOST * FORE_AT_MOST * heaviest_kg
        found = _early(window, track, arrives, rests) if window and heavy else None
    if found is None or window is None:
        return None
    heard = track.heard_on
    rise_s = None if len(window.values) + HISTORY > heard and heard < len(track) else window.rise_s
    half = may_be_half(window.span_s, found.kg or 0.0, usual_kg, rise_s)
    share = (found.kg or 0.0) / heaviest_kg if heaviest_kg else 0.0
    if early and (half or not FORE_AT_MOST <= share <= HEAVIER):
        return None
    return replace(found, grade="poor" if half else "fair")


def _agreed(window: Window, track: Track) -> Estimate | None:
    values = window.values
    robust, tapered = winsorised(values), triangular(values)
    if abs(robust - tapered) > AGREE * robust:
        return None
    sine = fit_sine(values)
    low, kg, high = sorted((robust, tapered, sine.level))
    few_cycles = sine.hz * window.span_s < CYCLES and scatter(values) > STILL * kg
    if high - low > AGREE * kg or few_cycles:
        return None
    seconds = moving_means(values, 10)
    return Estimate(
        kg=kg,
        grade="fair",
        spread_kg=max(seconds) - min(seconds),
        restlessness_percent=100 * scatter(values) / kg,
        readings=track.readings(len(track) - len(values), len(track)),
        span_s=window.span_s,
    )


def _early(window: Window, track: Track, arrives: int, rests: Rests | None) -> Estimate | None:
    """Weigh what is level and has arrived, if that leaves a fair weight."""
    start, count = len(track) - len(window.values), len(window.values)
    shown = Plateau(start, window.values, [True] * count, [], exit_s=0.0, crowded=False, passing=False)
    found = weigh(shown, track, arrives=arrives, rests=rests)
    if found.kg is None or found.doubts is None or found.readings < EARLY_READINGS:
        return None
    if found.limit == "poor" or found.doubts.chance_beyond(PROMISED_PERCENT["fair"]) > EARLY_BREAKS:
        return None
    return None if found.doubts.late else replace(found, doubts=None)


def may_be_half(span_s: float, kg: float, usual_kg: float | None, rise_s: float | None = None) -> bool:
    """Return whether what stood for so long may be half an animal; `rise_s`: how long its rise took, if it was seen."""
    if span_s >= HALF_ON_LASTS_S:
        return False
    if usual_kg is not None:
        return kg < USUAL_SHARE * usual_kg
    return rise_s is None or HALF_ON_RISE_S[0] < rise_s < HALF_ON_RISE_S[1]
