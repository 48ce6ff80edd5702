"""A person's habit with a reader in the hand: how often they read early or late, how far off, how often not at all.

Theory.  A read says how well it fits a stay by how dense such reads are there, in reads a second:

    during the stay    those neither early nor late, spread over all of it, fewer within `ENTRY_S` of its beginning and
                       `EXIT_S` of its end: who reads an animal that stands seldom does so as it steps on or off
    before, after      those early or late, spread over `reach_s` and seldom beyond

The reach is twice the mean distance of early and late reads, as of what is spread evenly; beyond it the density falls
off like a logistic curve, a tenth of the mean distance wide, and so that something is left at any distance `FAR` of
slips are spread exponentially.  Shares and distance are running means over what was read, from a first guess that
counts as `GUESSED` stays; after `KEPT` they follow a change of hands.  The guess counts for much: who has slipped three
times by three seconds slips by six another time, and a reach learned from three says that this cannot be.

Of drawn yards (tests/bench/drawn.py,
the row stick, even seeds) who knows each person's shares beforehand tells no more than these do: what is left is what a
read does not show.
"""

from collections.abc import Mapping
from math import exp
from types import MappingProxyType

from neckyoke.bridge.station.tags.readers.detections import Span

GUESSED, KEPT = 30, 90
GUESSED_SLIPS = 40
ENTRY_S, EXIT_S, AT_EDGE = 2.0, 1.0, 0.1
SLOPE, FAR = 0.1, 0.02
LEAST_S, MOST_S = 0.5, 15.0
"""Bounds of the mean distance."""
LEAST, MOST = 0.005, 0.4
"""Bounds of each share."""


class Habit:
    """What is known of the person behind one reader: shares of reads early and late, of stays unread; seconds off."""

    def __init__(self, kept: Mapping[str, float] = MappingProxyType({})) -> None:
        """Begin with what an earlier run kept."""
        self.early = kept.get("early", 0.1)
        self.late = kept.get("late", 0.1)
        self.unread = kept.get("unread", 0.12)
        self.away_s = kept.get("away_s", 3.0)
        self._stays = self._read = GUESSED
        self._slips = GUESSED_SLIPS

    @property
    def kept(self) -> dict[str, float]:
        """What is worth keeping for the next run."""
        return {"early": self.early, "late": self.late, "unread": self.unread, "away_s": self.away_s}

    def learn(self, away_s: float | None) -> None:
        """Learn from one stay: how long before (below nothing) or after it its tag was read; None: it was not."""
        self._stays = min(self._stays + 1, KEPT)
        self.unread = follow(self.unread, away_s is None, self._stays)
        if away_s is None:
            return
        self._read = min(self._read + 1, KEPT)
        self.early = follow(self.early, away_s < 0, self._read)
        self.late = follow(self.late, away_s > 0, self._read)
        if away_s:
            self._slips = min(self._slips + 1, KEPT)
            self.away_s += (min(max(abs(away_s), LEAST_S), MOST_S) - self.away_s) / self._slips

    def density(self, t: float, span: Span) -> float:
        """Return how dense reads of a stay's own tag are at a moment, in reads a second."""
        if t < span.on:
            return self.early * self._off(span.on - t)
        if t > span.off:
            return self.late * self._off(t - span.off)
        edge = min(1.0, (t - span.on) / ENTRY_S, (span.off - t) / EXIT_S)
        within_s = max(span.length_s - (ENTRY_S + EXIT_S) / 2 * (1 - AT_EDGE), LEAST_S)
        return (1 - self.early - self.late) * (AT_EDGE + (1 - AT_EDGE) * edge) / within_s

    def coming(self) -> float:
        """Return how dense early reads are of an animal that has not stepped on, while nobody knows when it will."""
        return self.early * self._off(0.0)

    def _off(self, away_s: float) -> float:
        return reach(away_s, self.away_s)


def reach(away_s: float, mean_s: float, slope: float = SLOPE, far: float = FAR) -> float:
    """Return how dense what is so far off is, in 1/s, of what is `mean_s` off in the mean.

    `slope`: how wide the end of the reach is, as a share of the mean; `far`: the share that is spread beyond it.
    """
    level = 1 / (1 + exp(min((away_s - 2 * mean_s) / (slope * mean_s), 700.0))) / (2 * mean_s)
    return (1 - far) * level + far * exp(-away_s / mean_s) / mean_s


def follow(share: float, happened: float, seen: float) -> float:
    """Return a share as one more of `seen` moves it, within bounds."""
    return min(max(share + (happened - share) / seen, LEAST), MOST)
