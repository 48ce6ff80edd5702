"""How long an indicator is on its way, learned from the animals before: when a first weight may be believed early.

Some indicators show what stands there at once; some are nearly there at once, and creep the rest of the way for a
second or two; some come slowly all the way.  Every animal that stood for long enough shows which: once its weight is
known, what the indicator showed, tenth by tenth of a second after it had nearly arrived, is a share of that.  One
animal sways, but the middle of several tells the way of the indicator.  It has arrived where that stays within
`SHORT_BY` of the weight.

How it comes to rest shows as animals leave (`Falls`).  Once the last foot is off nothing presses, and the last of the
way down is the indicator's own.  One that shows what stands there falls to nothing from a good part of the animal
within half a second; one that smooths for long, or is quick as the weight leaps and slow as it comes to rest, comes to
it from next to nothing.  It comes up to an animal in the same way, where the animal's own sway hides it: so whether the
last of a ramp may lie in a weight is learned here, of every animal that left an empty platform behind, however short it
stood.
"""

from collections import deque
from collections.abc import Sequence
from statistics import fmean, median, quantiles
from typing import Literal, TypeAlias

from neckyoke.bridge.station.weight.estimators import BIN_S
from neckyoke.bridge.station.weight.plateau import REACHED

Rests: TypeAlias = Literal["quick", "middling", "slow"]

FOLLOWED = 40
"""Bins after it was nearly there that are looked at: 4 s."""
SHORT_BY = 0.007
"""A middle share further below the weight than this has not arrived; less is a third of what a fair weight promises."""
ANIMALS, LATELY, FEW = 15, 5, 3
"""Animals that it is learned from, the last ones; and the last few, whichever tell of more (of few the middle sways, so
twice as much must be missing): somebody may make an indicator slower.  And the fewest that tell anything, also of one
tenth of a second."""
ARRIVED = 2
"""So many of the bins it is on its way for may be weighed: by then the rest is small."""
STOOD_S = 1.5
"""How long an animal's plateau must be to tell."""
QUICK, SLOW = 0.2, 0.03
"""The share of an animal by which the display fell in the last half second before it was at rest: an indicator that
shows it from the one on is quick, and below the other slow."""
EMPTY = 0.03
"""Where more than this share of the animal was still shown at the lowest, the fall was cut off."""
CREPT = 4
"""So many of its steps may be what a display creeps by that is quick until it is near: they tell nothing."""
FALLS, FEWEST_FALLS = 9, 3
"""Animals that this is learned from, the last ones, and the fewest that tell anything."""


def nearly(bins: Sequence[float], kg: float) -> int | None:
    """Return the first bin in which nearly all of this weight was shown."""
    return next((place for place, shown in enumerate(bins) if shown >= REACHED * kg), None)


class Arrivals:
    """What the last animals tell of an indicator; `bins`: for how many bins it is on its way, None while unknown."""

    def __init__(self) -> None:
        self._shares: deque[list[float]] = deque(maxlen=ANIMALS)
        self.bins: int | None = None

    def learn(self, bins: Sequence[float], kg: float, span_s: float) -> None:
        """Learn from a stay of this weight, that promises something and whose plateau lasted so long."""
        first = nearly(bins, kg)
        if first is None or span_s < STOOD_S:
            return
        end = first + min(FOLLOWED, round(span_s / BIN_S))
        self._shares.append([shown / kg - 1 for shown in bins[first:end]])
        if len(self._shares) >= FEW:
            every = list(self._shares)
            self.bins = max(_on_its_way(every, SHORT_BY), _on_its_way(every[-LATELY:], 2 * SHORT_BY))


def _on_its_way(animals: list[list[float]], short_by: float) -> int:
    middle = list[float]()
    for place in range(FOLLOWED):
        some = [shares[place] for shares in animals if place < len(shares)]
        middle.append(median(some) if len(some) >= FEW else 0.0)
    late = (place for place in range(FOLLOWED) if fmean(middle[max(0, place - 1) : place + 2]) < -short_by)
    return max(late, default=-1) + 1


class Falls:
    """What the last animals that left tell of an indicator; `rests` is how it comes to rest, None while unknown."""

    def __init__(self) -> None:
        self._shares: deque[float] = deque(maxlen=FALLS)
        self.rests: Rests | None = None

    def learn(self, kg: float, fell_kg: float, left_kg: float, interval_kg: float) -> None:
        """Learn from an animal of this weight: by how much the display fell last, and what it then showed still.

        A fall that animals draw out says too little rather than too much, and one that steps of the display cut short
        too much, so a quarter of them may say less.
        """
        if kg <= 0 or left_kg > EMPTY * kg:
            return
        self._shares.append((fell_kg - CREPT * interval_kg) / kg)
        if len(self._shares) >= FEWEST_FALLS:
            share = quantiles(self._shares, n=4)[0]
            self.rests = "quick" if share >= QUICK else "slow" if share < SLOW else "middling"
