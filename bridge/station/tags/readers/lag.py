"""The time from a reader ahead to the first foot on the platform: evidence beside the order.

Theory.  Where the reader stands close before the platform, an animal that comes past steps on a steady moment later.
How steady is learned from the pairs themselves: the median of the last lags, and their median distance from it, which
a few wrong pairs do not move.  A lag is weighed against chance, by which a tag that has nothing to do with a stay
comes past at any time of the cycle from one animal to the next:

    points = log(density of the lag about its median / density of any moment of the cycle)

with a Laplace density about the median (its scale half as much again as the median distance, and never below
`LEAST_S`) in all but `ODD` of pairs, and any moment in those.  A narrow lag speaks for its own animal and loudly
against every other; a wide one says nothing.  With a cycle of 15 s:

    scale      at the median    2 s off    15 s off
    0.4 s      +2.9             -1.9       -3.5
    1 s        +2.0             +0.0       -3.5
    8 s        -0.1             -0.3       -1.8
"""

from collections import deque
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import exp, log
from statistics import median

KNOWN_PAIRS, KEPT_PAIRS = 5, 30
"""From so many pairs on the lag is known; so many of the last are kept."""
LONGEST_S = 10.0
"""An animal that takes longer mostly has waited on the way: its lag tells of the others before it, not of itself."""
LEAST_S = 0.4
"""No lag is steadier than this: first foot and last read are not seen more exactly."""
ODD = 0.03
"""So many pairs have a lag of any length: the animal stopped, or was read late."""
STEADY, USUAL = 1 / 8, 3.0
"""A lag is steady whose scale is no more of the cycle, and as usual when it is no more scales off."""
CYCLE_S = 15.0
"""From one animal to the next, while fewer than three have come."""


class Lag:
    """What is known of one reader's lag, in seconds."""

    def __init__(self, kept: Mapping[str, float]) -> None:
        """Begin with the median and scale that an earlier run kept."""
        self._lags: deque[float] = deque(maxlen=KEPT_PAIRS)
        if "lag_s" in kept and "lag_scale_s" in kept:
            off = kept["lag_scale_s"] / 1.5
            self._lags.extend([kept["lag_s"] - off, kept["lag_s"], kept["lag_s"] + off] * 2)

    def learn(self, lag_s: float) -> None:
        """Learn from one pair."""
        self._lags.append(lag_s)

    @property
    def known(self) -> tuple[float, float] | None:
        """The median and the scale; None while too few pairs have shown them, or while they are no steady walk."""
        if len(self._lags) < KNOWN_PAIRS:
            return None
        middle = median(self._lags)
        if middle > LONGEST_S:
            return None
        return middle, max(LEAST_S, 1.5 * median(abs(lag - middle) for lag in self._lags))

    @property
    def kept(self) -> dict[str, float]:
        """What is worth keeping for the next run."""
        known = self.known
        return {} if known is None else {"lag_s": round(known[0], 2), "lag_scale_s": round(known[1], 2)}

    def points(self, lag_s: float, cycle_s: float) -> float:
        """Return the points of one pair's lag; nothing while none is known."""
        known = self.known
        if known is None:
            return 0.0
        middle, scale = known
        near = exp(-abs(lag_s - middle) / scale) / (2 * scale)
        return log((1 - ODD) * near * cycle_s + ODD)

    def is_usual(self, lag_s: float, cycle_s: float) -> bool:
        """Return whether the lag is known to be steady, and this one as usual: evidence beside the order."""
        return self._is_steady(cycle_s) and self._is_near(lag_s)

    def is_odd(self, lag_s: float, cycle_s: float) -> bool:
        """Return whether the lag is known to be steady, and this one is not as usual."""
        return self._is_steady(cycle_s) and not self._is_near(lag_s)

    def _is_steady(self, cycle_s: float) -> bool:
        return self.known is not None and self.known[1] <= STEADY * cycle_s

    def _is_near(self, lag_s: float) -> bool:
        return self.known is not None and abs(lag_s - self.known[0]) <= USUAL * self.known[1]


def cycle_s(began: Sequence[float]) -> float:
    """Return the median time from one stay's beginning to the next one's, in seconds."""
    steps = [after - before for before, after in pairwise(began)]
    return median(steps) if len(steps) > 1 else CYCLE_S
