"""Where a fall is heading: what a slow indicator would show, empty, if it were given the time; and where one ended."""

import math
from collections import deque

STEP_S = 0.4
"""Three points this far apart tell where an exponential ends (Aitken's formula)."""
SLOWS = 0.95
"""A fall that is slower by less than this in one step is not slowing down."""
RESTED_S = 0.4
"""What stood at its lowest, within two intervals, for so long rested there: a display turns around sooner."""
KEPT = 60
"""Readings kept of that; more stand for a rest anyhow."""


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
    """The lowest shown since it was last told to forget, and whether it rested there."""

    def __init__(self) -> None:
        self._near: deque[tuple[float, float]] = deque(maxlen=KEPT)
        self._kg = math.inf

    def see(self, t: float, shown_kg: float, interval_kg: float) -> None:
        """Take one reading."""
        near_kg = 2 * interval_kg
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
    def rested_kg(self) -> float | None:
        """The lowest if it rested there."""
        return self._kg if self.rested_s >= RESTED_S else None

    def forget(self) -> None:
        """Begin anew."""
        self._kg = math.inf
        self._near.clear()
