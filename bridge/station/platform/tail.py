"""Where a fall is heading: what a slow indicator would show, empty, if it were given the time."""

from collections import deque

STEP_S = 0.4
"""Three points this far apart tell where an exponential ends (Aitken's formula)."""
SLOWS = 0.95
"""A fall that is slower by less than this in one step is not slowing down."""


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
