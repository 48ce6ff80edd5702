"""A trouble is said once when it begins and once when it ends, with its length; never in between.

Whoever meets the same trouble a thousand times a day calls `begin` a thousand times.  What is said is an `Attention`,
which the service logs, journals and publishes.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from neckyoke.bridge.events import Attention

Say: TypeAlias = Callable[[Attention], None]
"""Takes what a person should know.  Must not block: it is called from the middle of things."""


@dataclass(slots=True)
class _Standing:
    text: str
    since: float
    times: int = 1


class Troubles:
    """The troubles of one part of the daemon.  `now` gives monotonic seconds."""

    def __init__(self, say: Say, now: Callable[[], float]) -> None:
        self._say = say
        self._now = now
        self._standing: dict[str, _Standing] = {}

    def begin(self, about: str, text: str) -> None:
        """Say that there is trouble, unless this trouble stands already."""
        if standing := self._standing.get(about):
            standing.times += 1
            standing.text = text
            return
        self._standing[about] = _Standing(text, self._now())
        self._say(Attention(station=None, about=about, text=text))

    def end(self, about: str, text: str) -> None:
        """Say that a trouble is over and how long it was.  Does nothing when it did not stand."""
        if standing := self._standing.pop(about, None):
            lasted_s = round(self._now() - standing.since, 1)
            self._say(Attention(station=None, about=about, text=text, over=True, lasted_s=lasted_s))

    @property
    def standing(self) -> dict[str, str]:
        """What is wrong now, for the health figures: name of the trouble -> its latest text."""
        return {about: standing.text for about, standing in self._standing.items()}


def unheard(_attention: Attention) -> None:
    """Say nothing: for parts used outside the daemon."""
