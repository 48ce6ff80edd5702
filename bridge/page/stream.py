"""What happens, told to every phone as server-sent events (WHATWG HTML, section 9.2).

Two kinds of news, treated each as it deserves:
- *events* are told all, in order, each with `id:` its sequence.  A phone is a position in the journal, as an outlet is:
  what it has not got yet comes from a short ring of the latest, or, when it slept for longer, from the journal.  The
  browser says by Last-Event-ID where it stopped.
- *the rest* (each platform's live view, how the daemon is, a sign of life) is worth only its newest: one slot each, and
  a phone that reads slowly skips what was overwritten.

Everything is spelled once, however many phones listen.
"""

import asyncio
import contextlib
import json
from collections import deque
from collections.abc import AsyncGenerator, Callable
from typing import Any

from neckyoke.bridge.events import TYPES, Animal, Event, JobState
from neckyoke.bridge.journal.journal import JournalError
from neckyoke.bridge.page.doors import Events
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.fanout import Gap, Hub, Live
from neckyoke.bridge.telling.keep import keep

RING = 64
"""Events kept at hand."""
CHUNK = 128
"""Events read from the journal at a time."""
TOO_FAR = 2000
"""Events behind which a phone is told to begin afresh: by then it is quicker."""
AT_ONCE, APART_S = 8, 0.004
"""Phones served at one go, and the time to the next few: the fiftieth hears all of 24 ms later."""
UNTOLD = tuple(f'"type":"{TYPES[kind]}"' for kind in (Animal, JobState))
"""Kinds of events that a phone is not told: herd and jobs want the code, and what stands at the crush does not."""
BEAT_S = 1.5
"""A look at the daemon's state, and a sign of life so often; a phone that hears none for long dials again."""


def spell(data: str, *, event: str = "", sequence: int | None = None) -> bytes:
    """Spell one server-sent event; `data` is JSON, so it has no line breaks."""
    name = f"event: {event}\n" if event else ""
    number = "" if sequence is None else f"id: {sequence}\n"
    return f"{name}{number}data: {data}\n\n".encode()


def for_phones(body: str, sequence: int) -> bytes:
    """Spell an event for phones that need not know the code: of animals' and jobs' only that it has been."""
    head = body.partition('"data":')[0]
    return f"id: {sequence}\n\n".encode() if any(kind in head for kind in UNTOLD) else spell(body, sequence=sequence)


class Phone:
    """One that listens: how far it has got, and which version of each slot it has."""

    def __init__(self, position: int) -> None:
        self.position = position
        self.seen: dict[str, int] = {}
        self.news = asyncio.Event()
        self.gone = False

    def leave(self) -> None:
        """End its stream."""
        self.gone = True
        self.news.set()


class Broadcast:
    """Sends the news to all phones.  `look` returns the daemon's state in brief."""

    def __init__(self, hub: Hub, journal: Events, look: Callable[[], dict[str, Any]], troubles: Troubles) -> None:
        self._hub, self._journal, self._look, self._troubles = hub, journal, look, troubles
        self._ring: deque[tuple[int, bytes]] = deque(maxlen=RING)
        self._newest = 0
        self._slots: dict[str, tuple[int, bytes]] = {}
        self._beats = 0
        self.phones: set[Phone] = set()
        self.closed = False
        self._tasks: list[asyncio.Task[None]] = []

    def start(self) -> None:
        """Begin to watch the hub."""
        self._newest = self._journal.last
        works = {"page events": self._watch, "page beat": self._keep_beating}
        self._tasks = [asyncio.create_task(keep(name, work, self._troubles)) for name, work in works.items()]

    async def stop(self) -> None:
        """End every stream, now."""
        self.closed = True
        for phone in self.phones:
            phone.leave()
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def _watch(self) -> None:
        with self._hub.watch() as watcher:
            self._passed_over()
            async for item in watcher.items():
                if isinstance(item, Gap):
                    self._passed_over()
                elif isinstance(item, Live):
                    self._put(item.station, spell(item.view.model_dump_json(), event="live"))
                    continue
                elif not self._keep(item):
                    continue
                self._wake()

    def _passed_over(self) -> None:
        """Let the journal tell what was not watched."""
        self._ring.clear()
        self._newest = max(self._newest, self._journal.last)

    def _keep(self, event: Event) -> bool:
        """Put an event in the ring; False when it has no sequence, or an old one."""
        sequence = int(event.sequence or 0)
        if sequence <= self._newest:
            return False
        if self._ring and sequence != self._newest + 1:
            self._ring.clear()
        self._newest = sequence
        self._ring.append((sequence, for_phones(event.to_json(), sequence)))
        return True

    async def _keep_beating(self) -> None:
        while True:
            if self.phones:
                self._beat()
            await asyncio.sleep(BEAT_S)

    def _beat(self) -> None:
        """Look how the daemon is, and give a sign of life."""
        state = spell(json.dumps(self._look()), event="state")
        if self._slots.get("/state", (0, b""))[1] != state:
            self._put("/state", state)
        self._beats += 1
        self._put("/beat", spell(str(self._beats), event="beat"))

    def _put(self, slot: str, chunk: bytes) -> None:
        version = self._slots.get(slot, (0, b""))[0] + 1
        self._slots[slot] = (version, chunk)
        self._wake()

    def _wake(self) -> None:
        """Let phones look, a few at a time, so that between them the loop gets to what matters more."""
        later = asyncio.get_running_loop().call_later
        for place, phone in enumerate(self.phones):
            if place < AT_ONCE:
                phone.news.set()
            else:
                later(place // AT_ONCE * APART_S, phone.news.set)

    async def follow(self, phone: Phone) -> AsyncGenerator[bytes, None]:
        """Return what a phone has not got yet, as it comes, until it leaves or the page stops."""
        if not self.phones:  # what was known while nobody listened is old
            self._beat()
        self.phones.add(phone)
        try:
            yield b"retry: 1000\n\n"
            while not (phone.gone or self.closed):
                phone.news.clear()
                chunk = await self._events_for(phone)
                if not chunk or phone.position == self._newest:  # what is now comes after all that was
                    chunk += self._slots_for(phone)
                if chunk:
                    yield chunk
                else:
                    await phone.news.wait()
        finally:
            self.phones.discard(phone)

    async def _events_for(self, phone: Phone) -> bytes:
        newest = self._newest
        if phone.position == newest:
            return b""
        if not 0 <= newest - phone.position <= TOO_FAR:  # far behind, or it knew another journal
            phone.position = newest
            return spell(str(newest), event="afresh", sequence=newest)
        if self._ring and self._ring[0][0] <= phone.position + 1:
            chunks = [chunk for sequence, chunk in self._ring if sequence > phone.position]
            phone.position = newest
            return b"".join(chunks)
        rows: list[tuple[int, str]] = []
        with contextlib.suppress(JournalError):  # said elsewhere; tried again at the next beat
            rows = list(await self._journal.read(phone.position, CHUNK))
        if rows:
            phone.position = rows[-1][0]
        return b"".join(for_phones(body, sequence) for sequence, body in rows)

    def _slots_for(self, phone: Phone) -> bytes:
        chunks = []
        for name, (version, chunk) in self._slots.items():
            if phone.seen.get(name) != version:
                phone.seen[name] = version
                chunks.append(chunk)
        return b"".join(chunks)
