"""Where a fall is heading: what a slow indicator would show, empty, if it had the time; where, and how, one ended."""

import math
from collections import deque
from heapq import nsmallest

from neckyoke.bridge.station.platform.lasting import lasted

STEP_S = 0.4
"""Three points this far apart tell where an exponential ends (Aitken's formula)."""
SLOWS = 0.95
"""A fall that is slower by less than this in one step is not slowing down."""
RESTED_S = 0.4
"""What stood at its lowest, within two intervals, for so long rested there: a display turns around sooner."""
KEPT = 60
"""Readings kept of that; more stand for a rest anyhow."""
LAST_S, NEARLY = 0.5, 1.01
"""The end of a fall: so long before it was at its lowest, but for so many intervals."""


class Tail:
    """The last readings, as shown."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, float]] = deque()

    def see(self, t: float, shown_kg: float) -> None:
        """Take one reading."""
        self._recent.append((t, shown_kg))
        while len(self._recent) > 2 and self._recent[1][0] <= t - 2 * STEP_S:
            self._recent.popleft()

    def end_kg(self) -> float | None:
        """Return where the fall is heading, None when it is none or does not slow down."""
        t, last = self._recent[-1]
        if self._recent[0][0] > t - 1.5 * STEP_S:
            return None
        first, middle = self._at(t - 2 * STEP_S), self._at(t - STEP_S)
        before, after = first - middle, middle - last
        if not SLOWS * before > after > 0:
            return None
        return last - after * after / (before - after)

    def _at(self, t: float) -> float:
        earlier = self._recent[0]
        for later in self._recent:
            if later[0] >= t:
                break
            earlier = later
        span = later[0] - earlier[0]
        return later[1] if span <= 0 else earlier[1] + (later[1] - earlier[1]) * (t - earlier[0]) / span


class Lowest:
    """The lowest shown since it was last told to forget, and whether it rested there.

    `fell_kg` is by how much it fell in the last `LAST_S` before it was there, but for one interval.
    """

    def __init__(self) -> None:
        self._near: deque[tuple[float, float]] = deque(maxlen=KEPT)
        self._kg = self._there_kg = math.inf
        self._before: deque[tuple[float, float]] = deque()  # the last readings, from `LAST_S` ago on
        self.fell_kg = 0.0

    def see(self, t: float, shown_kg: float, interval_kg: float) -> None:
        """Take one reading."""
        near_kg = 2 * interval_kg
        before = self._before
        before.append((t, shown_kg))
        while len(before) > 1 and lasted(before[1][0], t, LAST_S):
            before.popleft()
        if shown_kg < self._there_kg - NEARLY * interval_kg:
            self._there_kg, self.fell_kg = shown_kg, before[0][1] - shown_kg
        if shown_kg > self._kg + near_kg:
            return
        if shown_kg < self._kg:
            if self._near:
                self._near = deque((one for one in self._near if one[1] <= shown_kg + near_kg), maxlen=KEPT)
            self._kg = shown_kg
        self._near.append((t, shown_kg))

    @property
    def kg(self) -> float:
        """The lowest, infinite where nothing was shown since."""
        return self._kg

    @property
    def rested_s(self) -> float:
        """For how long it stood there, within two intervals."""
        return self._near[-1][0] - self._near[0][0] if self._near else 0.0

    @property
    def rested_until(self) -> float:
        """When it was there last."""
        return self._near[-1][0] if self._near else -math.inf

    @property
    def level_kg(self) -> float:
        """The lowest but one of what stood there: one reading alone may have swung lower."""
        return nsmallest(2, (kg for _, kg in self._near))[-1]

    @property
    def rested_kg(self) -> float | None:
        """The lowest if it rested there."""
        return self._kg if self.rested_s >= RESTED_S else None

    def forget(self) -> None:
        """Begin anew."""
        self._kg = self._there_kg = math.inf
        self.fell_kg = 0.0
        self._near.clear()
