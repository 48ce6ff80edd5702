"""Who is watching now: `watch` in a terminal, phones on the page, the live topic.

The hub fans out what just happened.  It keeps nothing but the newest word of each link, for those who begin to watch
later: events are in the journal, and a watcher that fell behind is told so by a `Gap` and reads there what it missed,
by sequence.  Live views of a platform are worth only the newest one.
"""

import asyncio
from collections import deque
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Self, TypeAlias

from neckyoke.bridge.events import Event, LinkState
from neckyoke.bridge.telling.status import PlatformView

EVENTS_KEPT = 256
"""Events a slow watcher may fall behind before it has to read the journal."""


@dataclass(frozen=True, slots=True)
class Live:
    """What one station's platform shows now."""

    station: str
    view: PlatformView


@dataclass(frozen=True, slots=True)
class Gap:
    """Events were passed over; read the journal after the last sequence you have."""


Item: TypeAlias = Event | Live | Gap


class Watcher:
    """One who watches: an asynchronous iterator that ends when the hub closes.  Use as a context manager."""

    def __init__(self, hub: "Hub") -> None:
        self._hub = hub
        self._events: deque[Event | Gap] = deque()
        self._live: dict[str, Live] = {}
        self._news = asyncio.Event()

    def __enter__(self) -> Self:
        """Begin to watch."""
        self._hub.watchers.add(self)
        return self

    def __exit__(self, *_: object) -> None:
        """Stop watching."""
        self._hub.watchers.discard(self)

    def put(self, item: Item) -> None:
        """Hand an item over; never waits."""
        if isinstance(item, Live):
            self._live[item.station] = item
        elif len(self._events) >= EVENTS_KEPT:
            self._events.clear()
            self._events.append(Gap())
        else:
            self._events.append(item)
        self._news.set()

    def wake(self) -> None:
        """Make the iterator look whether the hub has closed."""
        self._news.set()

    async def items(self) -> AsyncIterator[Item]:
        """Yield items as they come, events before live views."""
        while True:
            while self._events or self._live:
                if self._events:
                    yield self._events.popleft()
                else:
                    yield self._live.pop(next(iter(self._live)))
            if self._hub.closed:
                return
            self._news.clear()
            await self._news.wait()


class Hub:
    """Fans items out to the watchers of the moment."""

    def __init__(self) -> None:
        self.watchers: set[Watcher] = set()
        self.links: dict[str, Event] = {}
        self.closed = False

    def watch(self) -> Watcher:
        """Make a watcher; it watches from when it is entered."""
        return Watcher(self)

    def put(self, item: Item) -> None:
        """Show an item to every watcher."""
        if isinstance(item, Event) and isinstance(item.data, LinkState):
            self.links[item.data.link] = item
        for watcher in self.watchers:
            watcher.put(item)

    def close(self) -> None:
        """End every watcher's iteration."""
        self.closed = True
        for watcher in self.watchers:
            watcher.wake()
