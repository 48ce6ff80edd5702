"""How slowly an indicator follows, learned as animals leave; and what stood there, had it followed at once.

An indicator that smooths is a chain of low-pass stages as a rule, each of which goes towards what it is given by the
same share of the rest every moment.  Such a stage can be undone: what it was given is what it gives and so many seconds
of its slope (an inverse filter; Shu 1993, IEEE Trans. Instrum. Meas. 42:806, and Piskorowski and Barcinski 2008, Mech.
Syst. Signal Process. 22:1694, undo a load cell's own response so; both cited from memory).  Only how slow it is must be
known, and every animal shows that when it leaves: once the last foot is off, nothing presses, and what is shown falls
by the filter alone.  Undone by more than its own time that fall would show less than nothing, and feet only press.  So
the longest time by which no fall goes below nothing is the indicator's, however slowly the feet were lifted.

What it showed before is part of its way: of one that comes while the display is still far from nothing the smoothing is
undone from there on.  Two equal stages stand for any chain: of one alone, of more, or of a moving mean they undo a
part.  A chain that is quick while the weight changes much, and slow when it does not, falls quickly: nothing is undone
of that one.
Undoing lays bare the indicator's steps too, which means of half a second take away again.
"""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import quantiles

from neckyoke.bridge.station.weight.estimators import BIN_S, moving_means

STAGES = 2
STAGE_S = tuple(0.08 * 1.06**n for n in range(48))
"""Time constants of one stage that are tried: 0.08 to 1.2 s, so far apart as one animal's leaving tells them."""
SMOOTHED = 5
"""Bins in the means of what was undone."""
LEAVING, LOOKED_AT = 0.6, 200
"""The fall begins where this share of the weight was shown last; looked for in so many of a stay's last bins."""
FALLEN = 0.35
"""A fall that was seen ends below this share of the weight."""
BELOW = 0.02
"""So far below nothing, as a share of the weight, is the indicator's steps and noise."""
RELEASES, FEW = 15, 4
"""Animals that it is learned from, the last ones, and the fewest that tell anything."""
MATTERS_S, AGREE = 0.22, 0.7
"""A middle one of less is no smoothing: the feet took as long.  A quarter may say less than this share of it."""


@dataclass(frozen=True, slots=True)
class Lag:
    """An indicator's smoothing: two equal stages of this time constant."""

    stage_s: float

    @property
    def delay_s(self) -> float:
        """By how much what is shown comes later than what stands there."""
        return STAGES * self.stage_s


def without(lag: Lag, bins: Sequence[float], rested_kg: float = 0.0) -> list[float]:
    """Return what stood there, as means of half a second, of what an indicator with such a lag showed.

    `bins`: kilograms, one each `BIN_S`, at least one; before them it rested at `rested_kg`.  As many come.
    """
    keep = math.exp(-BIN_S / lag.stage_s)
    values = list(bins)
    for _ in range(STAGES):
        values = [(now - keep * then) / (1 - keep) for then, now in zip([rested_kg, *values[:-1]], values, strict=True)]
    half = SMOOTHED // 2
    return moving_means([values[0]] * half + values + [values[-1]] * half, SMOOTHED)


class Lags:
    """What the last animals that left tell of an indicator."""

    def __init__(self) -> None:
        self._falls: deque[float] = deque(maxlen=RELEASES)

    def learn(self, bins: Sequence[float], kg: float, rested_kg: float = 0.0) -> None:
        """Learn from the last `LOOKED_AT` bins of a stay of this weight, at least one; before, it rested at so much."""
        if bins[-1] > FALLEN * kg:
            return  # it was not seen to leave
        left = max((place for place, shown in enumerate(bins) if shown >= LEAVING * kg), default=0)
        fits = 0.0
        for stage_s in STAGE_S:
            if min(without(Lag(stage_s), bins, rested_kg)[left:]) < -BELOW * kg:
                break
            fits = stage_s
        self._falls.append(fits)

    @property
    def lag(self) -> Lag | None:
        """What most agree on; None where few tell, or not the same, or hardly any.

        What is found for one animal is too short rather than too long (steps, noise), so the longer ones are believed.
        """
        if len(self._falls) < FEW:
            return None
        low, middle, high = quantiles(self._falls, n=4)
        return Lag(high) if middle >= MATTERS_S and low >= AGREE * middle else None
