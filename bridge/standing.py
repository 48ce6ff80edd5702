"""A trouble is said once when it begins and once when it ends, with its length; never in between.

Whoever meets the same trouble a thousand times a day notes it a thousand times.  One rule for everybody: the platform's
troubles, the layout that does not fit, the journal's, the outlets', and the list of what stands now.
"""

from typing import NamedTuple

from neckyoke.bridge.events import Attention


class Stood(NamedTuple):
    """A trouble that stands: since when, what was said of it last, and how often it was met."""

    since: float
    said: Attention
    times: int


class Standing:
    """The troubles that stand, each known by what it is about, its station and its link.

    Times are seconds of any one clock.
    """

    def __init__(self) -> None:
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
            self._stood.pop(key, None)
            return told.model_copy(update={"lasted_s": round(t - before.since, 3)}) if before else None
        self._stood[key] = Stood(before.since, told, before.times + 1) if before else Stood(t, told, 1)
        return None if before else told

    def all(self) -> list[Stood]:
        """Return what stands, the oldest first."""
        return list(self._stood.values())
