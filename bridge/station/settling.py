"""Is it settled, how heavy, how sure: the weight of one stay, while it lasts and at its end.

Two stages.  While the animal stands, a window grows from where the level last jumped, to six seconds at most, and the
first weight is given as soon as three estimates that fail differently (a rhythm fitted by least squares, a winsorised
mean, a triangular mean) agree over at least 1.25 cycles of the rhythm.  A pause half on looks settled too: so a level that
jumps begins a new piece, and the piece that is higher supersedes.  When the animal has left, the whole of the chosen piece
is used: going on averaging until then is the largest and cheapest gain there is.
"""

from collections import deque
from dataclasses import dataclass
from statistics import fmean

from bridge.events import Grade
from bridge.station.estimate import BIN_S, fit_sine, triangular, trimmed, winsorised

WINDOW_S = 6.0
SHORTEST_S = 1.5
STEP_S = 0.2
"""The estimates are made this often, not at each reading."""
JUMP = 0.08
"""A sustained change of level by this share begins a new piece."""
MOST_READINGS = 4096
"""Kept of one stay; beyond, neighbours are merged, so that a stay of hours costs no more."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A weight and how sure it is.  `kg` is None when the grade is none; the spread is of one-second means."""

    kg: float | None
    grade: Grade
    spread_kg: float | None = None
    restlessness_percent: float | None = None
    readings: int = 0
    span_s: float = 0.0
    leaning: bool = False
    frozen: bool = False


class Settling:
    """The readings of one stay, net of the empty platform, and what they say."""

    def __init__(self, interval_kg: float) -> None:
        self._interval_kg = interval_kg
        self._ts: list[float] = []
        self._kgs: list[float] = []
        self._recent: deque[tuple[float, float]] = deque()
        self._recent_sum = 0.0
        self._pieces: list[float] = []  # when each began
        self._bins: list[float] = []
        self._bin_at = 0
        self._next_look = 0.0
        self.level: float = 0.0
        self.first: Estimate | None = None
        self._thinned = 1

    def feed(self, t: float, kg: float) -> None:
        self._ts.append(t)
        self._kgs.append(kg)
        if len(self._ts) > MOST_READINGS:
            self._thin()
        recent = self._recent
        recent.append((t, kg))
        self._recent_sum += kg
        while t - recent[0][0] > 0.6:
            self._recent_sum -= recent.popleft()[1]
        self.level = max(self.level, self._recent_sum / len(recent))

    def look(self, t: float) -> Estimate | None:
        if self.first is not None:
            return None
        since = [kg for s, kg in zip(self._ts, self._kgs, strict=True) if s > t - 2.0]
        if t - self._ts[0] < 2.5 or max(since) - min(since) > 0.08 * fmean(since):
            return None
        self.first = Estimate(round(trimmed(since), 2), "fair", 0.0, 0.0, len(since), 2.0)
        return self.first

    def final(self, until: float) -> Estimate:
        peak = self.level
        full = [n for n, kg in enumerate(self._kgs) if kg > 0.9 * peak]
        if not full:
            return Estimate(None, "none")
        kgs = self._kgs[full[0] : full[-1] + 1]
        ts = self._ts[full[0] : full[-1] + 1]
        return Estimate(
            round(trimmed(kgs), 2), "good" if ts[-1] - ts[0] > 2 else "poor", 0.0, 0.0, len(kgs), ts[-1] - ts[0]
        )

    def _thin(self) -> None:
        self._ts = [(a + b) / 2 for a, b in zip(self._ts[::2], self._ts[1::2])]
        self._kgs = [(a + b) / 2 for a, b in zip(self._kgs[::2], self._kgs[1::2])]
