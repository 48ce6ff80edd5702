"""The troubles of one part of the daemon, said to whoever publishes them."""

from collections.abc import Callable
from typing import TypeAlias

from neckyoke.bridge.events import Attention
from neckyoke.bridge.standing import Standing

Say: TypeAlias = Callable[[Attention], None]
"""Takes what a person should know.  Must not block: it is called from the middle of things."""


class Troubles:
    """The troubles of one part of the daemon, each said once.  `now`: monotonic seconds; `station`: whose."""

    def __init__(self, say: Say, now: Callable[[], float], station: str | None = None) -> None:
        self._say = say
        self._now = now
        self._station = station
        self._standing = Standing()

    def begin(self, about: str, text: str) -> None:
        """Report a trouble, unless it stands already."""
        self._note(Attention(station=self._station, about=about, text=text))

    def end(self, about: str, text: str) -> None:
        """Report that a trouble is over and how long it lasted.  Does nothing when it did not stand."""
        self._note(Attention(station=self._station, about=about, text=text, over=True))

    def remark(self, about: str, text: str) -> None:
        """Report something that is over as it is reported."""
        self._say(Attention(station=self._station, about=about, text=text, over=True, lasted_s=0.0))

    def _note(self, told: Attention) -> None:
        if said := self._standing.note(self._now(), told):
            self._say(said)

    @property
    def standing(self) -> dict[str, str]:
        """What is wrong now, for the health figures: name of the trouble -> its latest text."""
        return {one.said.about: one.said.text for one in self._standing.all()}


class Relay:
    """Passes on what is said, once somebody listens; what was said before waits for them."""

    def __init__(self) -> None:
        self._waiting: list[Attention] = []
        self._listener: Say = self._waiting.append

    def say(self, attention: Attention) -> None:
        """Pass it on: a `Say` for parts that are made before their listener."""
        self._listener(attention)

    def to(self, listener: Say) -> None:
        """Let somebody listen from now on; they are told what waited first."""
        self._listener = listener
        for attention in self._waiting:
            listener(attention)
        self._waiting.clear()


def unheard(_attention: Attention) -> None:
    """Drop it: for parts used outside the daemon."""
