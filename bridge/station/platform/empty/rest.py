"""What has come to rest: for how long it must, and by how much what rested may fall yet."""

import math
from collections.abc import Mapping, Sequence
from itertools import takewhile
from typing import NamedTuple

from neckyoke.bridge.station.platform.empty.tail import Lowest
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.weight.arrival import Rests
from neckyoke.bridge.station.weight.estimators import BIN_S

MOVED_QUIET_S = 1.2
"""so long if that moves zero by more than four intervals,"""
HELD_QUIET_S = 3.0
"""and so long if it came at a leap and has not wavered since: the display may be held.  (What shows less than the empty
platform did is believed within three readings and `SUNK_S`: nothing weighs less than nothing.)"""
LEFT_SHARE = 0.25
"""More than this share of the smallest animal is nothing that one left: it was hung there, put down or taken off."""
FALLS_S: Mapping[Rests | None, float] = {"quick": 0.15, "middling": 0.4, "slow": 1.0, None: 1.0}
"""In such a time the rest of a fall becomes a third, by how the indicator comes to rest; long ones, on purpose."""
LONG = 50.0
"""After so many of these nothing is left, however much longer it rests."""
STEPS = 3.0
"""What rested within two intervals fell by no more than so many meanwhile, its rounding included."""

CREPT = 1.5
"""A display that sinks still, and is no more than so many intervals above where it last rested, is on the last of its
way there: of 240 drawn ones 200 came down to that."""
THEN_S = 0.6
"""What rested there for a moment was the empty platform's where an animal comes sooner: nothing else came before it."""


class Lies(NamedTuple):
    """By how much zero may be wrong, as a stay begins; `bare`: whatever else was doubted, the display was at rest."""

    unsure_kg: float
    bare: bool = False


def is_level(bins: Sequence[float], within_kg: float) -> bool:
    """Return whether these were seen, and are alike within so much."""
    return bool(bins) and max(bins) - min(bins) <= within_kg


def left_kg(rested_s: float, interval_kg: float, rests: Rests | None) -> float:
    """Return by how much a display that has rested for so long may fall yet.

    What falls as an exponential, by a known amount in a known time, has that much left divided by how much more the
    rest was before (Aitken's formula, as in `tail`, for a known time constant).
    """
    grown = math.expm1(min(rested_s / FALLS_S[rests], LONG))
    return STEPS * interval_kg / grown if grown > 0 else math.inf


def lowered(
    taken_kg: float, rested_kg: float, kept_below_kg: float, interval_kg: float, *, sinks: bool
) -> tuple[float, float]:
    """Return what to take for zero where the display may have been on its way down still, and by how much it may err.

    `taken_kg` was taken, `rested_kg` is where it last rested, and two readings in a row kept below `kept_below_kg`
    since; it `sinks` if it showed a step less only a moment ago.
    """
    more_kg = taken_kg - rested_kg
    if sinks and interval_kg / 2 < more_kg <= CREPT * interval_kg:
        return rested_kg, max(0.0, min(taken_kg, kept_below_kg) - rested_kg)
    return min(taken_kg, max(rested_kg, kept_below_kg)) if more_kg > interval_kg else taken_kg, 0.0


def at_rest(on: float, lowest: Lowest, interval_kg: float, rests: Rests | None) -> float | None:
    """Return by how much the lowest may fall yet where that is next to nothing, None where it is more.

    It must have rested there until an animal came, at `on`: what was lowest some time before tells nothing of what was
    put down since.
    """
    left = left_kg(lowest.rested_s, interval_kg, rests)
    rested = lowest.rested_kg is not None and not lasted(lowest.rested_until, on, THEN_S)
    return left if rested and left <= interval_kg else None


def has_come_to_rest(bins: Sequence[float], interval_kg: float, *, for_long: bool) -> bool:
    """Return whether what is no animal rests at the end of these: `for_long`, as no hind foot does.

    No held display wavers, so what does must rest for less long.
    """
    run = list(takewhile(lambda kg: abs(kg - bins[-1]) <= 3 * interval_kg, reversed(bins)))
    moves = not for_long and max(run) > min(run)
    return len(run) * BIN_S > (MOVED_QUIET_S if moves else HELD_QUIET_S)
