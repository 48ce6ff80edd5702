"""Which part of a stay is the plateau: all feet on, one animal.

The coarse question comes before the fine one.  A stay may stand on several levels: half on and then on, with a
neighbour's feet for a while, half off at the end.  The level that lasts longest is the animal's, unless it looks like
one half of a higher one that only came after it, or only went before: then the higher is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import NamedTuple

from neckyoke.bridge.station.weight.estimators import BIN_S, moving_means, settled_from

COARSE = 8
"""Bins in the means that tell levels apart: 0.8 s."""
APART = 0.07
"""Means further apart than this share are on different levels."""
HALF = (0.38, 0.72)
"""What fore or hind feet carry, as a share of the whole (half, give or take the sway)."""
HALF_LASTS_S = 4.0
"""Standing half on for longer is no pause."""
SANDWICH = 1.4
"""A level that is there before and after a higher one, and lasts this many times longer, is no half."""
REACHED = 0.92
"""At this share of the level the ramp is nearly over; how long the rest takes is told by the ramp before."""
FOOT, HEEL = 0.6, 0.5
"""The ramps are measured from here, and to there."""
RAMP_MORE = 0.6
"""So much of a ramp's length is left out beside it: what an indicator has yet to make up, or has begun to lose."""
LEFT_BINS = 15
"""No transient is cut off that leaves less."""
RISING = 0.998
"""Below this share of its end a transient is still on its way up."""
PASSING_S = 3.0
"""A plateau shorter than this beside something much higher proves little."""
FORE, HIND = (0.47, 0.66), (0.33, 0.53)
"""What fore feet carry, which come on first, and hind feet, which leave last, as a share of the whole, give or take the
sway: a little over half, and the rest (common practice, no source)."""
TWOFOLD_SHARE = 0.2
"""What stood there for less than this share of a level says nothing against it."""
OUTGROWS = 1.2
"""What so many times a level came to after it had stood there may be the animal, and the level its fore feet: behind a
slow display the whole of one that is soon gone is never shown.  (Of 30 drawn fair weights beside a lighter level that
was no half three were gross, of 12 before a heavier one, one.)"""
FOREIGN = 0.08
"""Means further than this share from the level are not of this plateau."""


@dataclass(slots=True)
class Level:
    """A level on which a stay stood for a while: `places` are (from, to) in means of 0.8 s, `lasts` their sum."""

    kg: float
    lasts: int
    places: list[tuple[int, int]]


class Edges(NamedTuple):
    """Places of a level's ramps: from `foot` up to `first`, from `last` down to `heel`."""

    foot: int
    first: int
    last: int
    heel: int


@dataclass(frozen=True, slots=True)
class Plateau:
    """Part of a stay's bins: from `start` on, `values`, of which those `kept` speak for the animal.

    `cut` are the values before them that were cut off as a leading transient, but for the way up.

    `exit_s` says how long the ramp down took (from nearly all to half): a slow indicator has slow ramps.
    `crowded`: for a while more stood there, or two levels lasted that no pause explains.  `passing`: it is short, and
    much more stood there for a moment, so that it may be half an animal, held on the display.
    `twofold`: it may be two: less stood there for a while that no pause half on explains: a person stepped on too.
    `edges_kg`: what its level would be with its ends elsewhere, as a standard deviation, where that was reckoned.
    """

    start: int
    values: list[float]
    kept: list[bool]
    cut: list[float]
    exit_s: float
    crowded: bool
    passing: bool
    twofold: bool = False
    edges_kg: float = 0.0

    @property
    def span_s(self) -> float:
        """Return its length."""
        return len(self.values) * BIN_S


def levels_of(bins: Sequence[float]) -> list[Level]:
    """Find the levels on which the stay stood for half a second or more."""
    means = moving_means(bins, max(1, min(COARSE, len(bins) // 2)))
    found: list[Level] = []
    start, total = 0, 0.0
    for place, mean in enumerate([*means, float("inf")]):
        count = place - start
        if count and abs(mean - total / count) > APART * abs(total / count):
            if count >= COARSE // 2 + 1:
                _join(found, total / count, start, place)
            start, total = place, 0.0
        total += mean
    return found


def _join(found: list[Level], kg: float, start: int, end: int) -> None:
    count = end - start
    for level in found:
        if abs(kg - level.kg) < 0.06 * max(kg, level.kg):
            level.kg = (level.kg * level.lasts + kg * count) / (level.lasts + count)
            level.lasts += count
            level.places.append((start, end))
            return
    found.append(Level(kg, count, [(start, end)]))


def _touches(bins: Sequence[float], kg: float) -> bool:
    """Return whether these bins rest near a weight, if only for a moment."""
    run = 0
    for value in bins:
        run = run + 1 if abs(value - kg) < 0.05 * kg else 0
        if run >= 3:
            return True
    return False


def _choose(levels: list[Level], bins: Sequence[float]) -> Level:
    chosen = max(levels, key=lambda level: level.lasts)
    for higher in sorted(levels, key=lambda level: -level.kg):
        share = chosen.kg / higher.kg
        if higher.lasts < COARSE or not HALF[0] < share < HALF[1] or chosen.lasts * BIN_S > HALF_LASTS_S:
            continue
        before = _touches(bins[: higher.places[0][0] + 2], chosen.kg)
        after = _touches(bins[higher.places[-1][1] + COARSE - 2 :], chosen.kg)
        if not (before and after and chosen.lasts > SANDWICH * higher.lasts):
            return higher
    return chosen


def find_plateau(bins: Sequence[float]) -> Plateau | None:
    """Find the plateau of a stay that has ended, ramps and all; None when it never stood still for a moment."""
    levels = [level for level in levels_of(bins) if level.kg > 0]
    if not levels:
        return None
    level = _choose(levels, bins)
    edges = _edges(bins, level)
    start = edges.first + round(RAMP_MORE * (edges.first - edges.foot))
    stop = edges.last - round(RAMP_MORE * (edges.heel - edges.last))
    if stop - start < 5:
        start, stop = edges.first, edges.last
    rest = start + (settled_from(bins[start : stop + 1], LEFT_BINS) if stop - start >= LEFT_BINS else 0)
    values, cut = list(bins[rest : stop + 1]), list(bins[start:rest])
    _forget_rise(cut, values)
    return Plateau(
        start=rest,
        values=values,
        kept=_own(values, level.kg),
        cut=cut,
        exit_s=(edges.heel - edges.last) * BIN_S,
        crowded=any(_crowds(other, level.kg) for other in levels if other is not level),
        passing=len(values) * BIN_S < PASSING_S and max(moving_means(bins, 4), default=0.0) > level.kg / HALF[1],
        twofold=any(_is_one_of_two(other, level, bins) for other in levels if other is not level),
    )


def _edges(bins: Sequence[float], level: Level) -> Edges:
    end = len(bins) - 1
    first = level.places[0][0]
    while first < end and bins[first] < REACHED * level.kg:
        first += 1
    foot = first
    while foot > 0 and bins[foot] > FOOT * level.kg:
        foot -= 1
    last = min(end, level.places[-1][1] + COARSE - 2)
    while last > first and bins[last] < REACHED * level.kg:
        last -= 1
    heel = last
    while heel < end and bins[heel] > HEEL * level.kg:
        heel += 1
    return Edges(foot, first, last, heel)


def _forget_rise(cut: list[float], values: list[float]) -> None:
    """Drop from what was cut off what was only on its way up: that does not speak against the rest."""
    end = RISING * fmean(values)
    run = cut + values[:10]
    for place in range(len(cut)):
        if not fmean(run[place : place + 5]) <= min(end, fmean(run[place + 5 : place + 10])):
            break
        del cut[0]


def _crowds(other: Level, kg: float) -> bool:
    """Return whether another level of the stay means that more stood there than one animal, on all feet or half."""
    if other.kg > (1 + FOREIGN) * kg:
        return True
    half = HALF[0] < other.kg / kg < HALF[1] and other.lasts * BIN_S <= HALF_LASTS_S
    return other.lasts > COARSE and not half


def _is_one_of_two(other: Level, chosen: Level, bins: Sequence[float]) -> bool:
    """Return whether another level may be the animal, and the one chosen a half of it, or it and something beside it.

    A pause is what fore feet carry, before what was chosen, or what hind feet do, after it; it lasts no longer, and is
    not there on both sides, not even for a moment.  What is lighter and lasted, and is no half, is none; and what was
    chosen may be one itself if much more stood there after it.
    """
    if other.kg > chosen.kg:
        return other.kg > OUTGROWS * chosen.kg and other.places[0][0] >= chosen.places[-1][1]
    if other.lasts < TWOFOLD_SHARE * chosen.lasts:
        return False
    first, last = chosen.places[0][0], chosen.places[-1][1]
    before, after = other.places[0][0] < first, other.places[-1][1] > last
    if other.kg >= (1 - FOREIGN) * chosen.kg or not (before or after):
        return _crowds(other, chosen.kg)
    share = other.kg / chosen.kg
    pauses = (not before or FORE[0] < share < FORE[1]) and (not after or HIND[0] < share < HIND[1])
    if not pauses or other.lasts > min(chosen.lasts, HALF_LASTS_S / BIN_S):
        return True
    before = before or _touches(bins[: first + 2], other.kg)
    return before and (after or _touches(bins[last + COARSE - 2 :], other.kg))


def _own(values: list[float], kg: float) -> list[bool]:
    """Return which values are of the animal alone: near its level, and not next to one that is not."""
    kept = [True] * len(values)
    for place, mean in enumerate(moving_means(values, COARSE)):
        if abs(mean - kg) > FOREIGN * kg:
            for near in range(max(0, place - 1), min(len(values), place + COARSE + 1)):
                kept[near] = False
    return kept if sum(kept) >= 8 else [True] * len(values)
