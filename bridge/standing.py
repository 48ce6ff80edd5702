"""A trouble is said once when it begins and once when it ends, with its length; never in between.

One that comes and goes is not said a thousand times either: after a few turns its end is believed only when it has not
been met for a while.  Whoever meets the same trouble a thousand times a day notes it a thousand times.  One rule for
everybody: the platform's troubles, the layout that does not fit, the journal's, the outlets', and the list of what
stands now.
"""

from collections import deque
from typing import NamedTuple

from neckyoke.bridge.events import Attention

TURNS, WITHIN_S, QUIET_S = 3, 600.0, 60.0
"""A trouble that began so often within so many seconds ends only when it was not met for as many as the last."""


class Stood(NamedTuple):
    """A trouble that stands: since when, what was said of it last, how often it was met, and when last."""

    since: float
    said: Attention
    times: int
    met: float


class Standing:
    """The troubles that stand, each known by what it is about, its station and its link.

    Times are seconds of any one clock.  `patient`: for those whose end is noted again and again while they are not met;
    the end of one that comes and goes waits then.
    """

    def __init__(self, *, patient: bool = False) -> None:
        self._patient = patient
        self._begun: dict[tuple[str, str | None, str | None], deque[float]] = {}
        self._stood: dict[tuple[str, str | None, str | None], Stood] = {}

    def __len__(self) -> int:
        return len(self._stood)

    def note(self, t: float, told: Attention) -> Attention | None:
        """Take that a trouble is met, or with `over` that it is not met any more; return what is to be said of it.

        None where there is nothing to say: it stands already, or never stood.  An end is said with its length.
        """
        key = (told.about, told.station, told.link)
        before = self._stood.get(key)
        if told.over:
            if before and self._comes_and_goes(key) and t - before.met < QUIET_S:
                return None
            self._stood.pop(key, None)
            return told.model_copy(update={"lasted_s": round(t - before.since, 3)}) if before else None
        self._stood[key] = Stood(before.since, told, before.times + 1, t) if before else Stood(t, told, 1, t)
        if not before:
            self._begun.setdefault(key, deque(maxlen=TURNS)).append(t)
        return None if before else told

    def _comes_and_goes(self, key: tuple[str, str | None, str | None]) -> bool:
        begun = self._begun[key]
        return self._patient and len(begun) == TURNS and begun[-1] - begun[0] < WITHIN_S

    def all(self) -> list[Stood]:
        """Return what stands, the oldest first."""
        return list(self._stood.values())
