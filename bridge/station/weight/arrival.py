"""How long an indicator is on its way, learned from the animals before: when a first weight may be believed early.

Some indicators show what stands there at once; some are nearly there at once, and creep the rest of the way for a
second or two; some come slowly all the way.  Every animal that stood for long enough shows which: once its weight is
known, what the indicator showed, tenth by tenth of a second after it had nearly arrived, is a share of that.  One
animal sways, but the middle of several tells the way of the indicator.  It has arrived where that stays within
`SHORT_BY` of the weight.
"""

from collections import deque
from collections.abc import Sequence
from statistics import fmean, median

from neckyoke.bridge.station.weight.estimators import BIN_S
from neckyoke.bridge.station.weight.plateau import REACHED

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
