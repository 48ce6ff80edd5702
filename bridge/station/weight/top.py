"""The top of a short stay: the moment in which all feet were on, between a way up and a way down.

An animal that walks across has all feet on for a second or less, and there is no level that lasts: whatever mean is
taken holds some of the ramps.  Where the ramps end is a question of change points.  From one reading to another the
whole animal stood there: these are normally distributed about its weight, with a scatter that nobody knows but that
is about one per cent as a rule; each of the others may be anything between nothing and the most that was shown.  How
likely all of them are, then, is a formula for every such stretch (a normal distribution with a conjugate prior of its
variance; Barry and Hartigan 1993, J. Am. Stat. Assoc. 88:309, find change points so, cited from memory), and there are
few enough stretches to try each.  The likeliest is the top.  How far the others' means are from its own, each by how
likely it is, says what the choice is worth.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from statistics import fmean
from typing import NamedTuple

from neckyoke.bridge.station.weight.plateau import Plateau

NEAR = 0.7
"""No reading of a top is below this share of the highest: half an animal is no top."""
MOST = 40
"""Readings of the longest top that is looked for."""
SCATTER = 0.004
"""What a top scatters by, as a rule, as a share of its weight: an animal that walks on stands for too short a while to
sway through a whole cycle."""
SHAPE = 2.5
"""How firmly that is believed: the shape of the inverse gamma prior of the variance."""
HIGHER = 1.25
"""What is above this many times the plateau is no part of it: a kick, or another animal's feet."""
STEP = 0.29
"""What a step of the display hides, as a share of it: the standard deviation of a uniform distribution."""


@dataclass(frozen=True, slots=True)
class Top:
    """Readings `first` to before `end`, their mean, and the standard deviation of what the mean may be instead."""

    kg: float
    first: int
    end: int
    unsure_kg: float


class _Stretch(NamedTuple):
    """A stretch that was tried: how likely it is (a logarithm), its mean and that one's variance, and its place.

    Of two that are as likely the heavier comes first: the lighter is the likelier one to be of a ramp.
    """

    likely: float
    kg: float
    variance: float
    first: int
    end: int


def find_top(readings: Sequence[float], step_kg: float) -> Top | None:
    """Find the top among the readings of one stay, in their order, net; None where none is above nothing."""
    tried = _stretches(readings, step_kg)
    if not tried:
        return None
    best = max(tried)
    shares = [math.exp(one.likely - best.likely) for one in tried]
    squares = sum(share * ((one.kg - best.kg) ** 2 + one.variance) for share, one in zip(shares, tried, strict=True))
    return Top(best.kg, best.first, best.end, math.sqrt(squares / sum(shares)))


def _stretches(readings: Sequence[float], step_kg: float) -> list[_Stretch]:
    highest = max(readings, default=0.0)
    if highest <= 0:
        return []
    sums = list(accumulate(readings, initial=0.0))
    squares = list(accumulate((one * one for one in readings), initial=0.0))
    tried: list[_Stretch] = []
    for first in range(len(readings)):
        for end in range(first + 1, min(first + MOST, len(readings)) + 1):
            if readings[end - 1] < NEAR * highest:
                break
            count = end - first
            kg = (sums[end] - sums[first]) / count
            about = max(0.0, squares[end] - squares[first] - count * kg * kg) / 2
            prior = SHAPE * ((SCATTER * kg) ** 2 + (STEP * step_kg) ** 2)
            shape = SHAPE + (count - 1) / 2
            # all others, and the mean itself, are anything up to the highest
            likely = (
                math.lgamma(shape)
                + SHAPE * math.log(prior)
                - shape * math.log(prior + about)
                - 0.5 * math.log(count)
                + (count - 1) * (math.log(highest) - 0.5 * math.log(2 * math.pi))
            )
            tried.append(_Stretch(round(likely, 6), kg, (prior + about) / shape / count, first, end))
    return tried


def narrowed(plateau: Plateau | None, bins: Sequence[float], measured: Sequence[int], step_kg: float) -> Plateau | None:
    """Return the plateau of a short stay as its top alone, or the top as one, where there is none.

    `bins` are the stay's, `measured` the places of those that hold a reading.  None where nothing stood there.
    """
    most = HIGHER * fmean(plateau.values) if plateau else math.inf
    readings = [bins[place] if bins[place] <= most else 0.0 for place in measured]
    top = find_top(readings, step_kg)
    if top is None:
        return None
    start, end = measured[top.first], measured[top.end - 1] + 1
    values = list(bins[start:end])
    if plateau is None:
        return Plateau(
            start, values, [True] * len(values), [], 0.0, crowded=False, passing=True, edges_kg=top.unsure_kg
        )
    return replace(plateau, start=start, values=values, kept=[True] * len(values), cut=[], edges_kg=top.unsure_kg)
