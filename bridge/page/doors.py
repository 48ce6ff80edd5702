"""What the page needs of the daemon: four doors, each a protocol or a callable.

Status and live views have the shapes of bridge/telling/status.py.
"""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime
from typing import Any, Literal, Protocol, TypeAlias

from neckyoke.bridge.events import Event, Weighing
from neckyoke.bridge.telling.status import Status

Ask: TypeAlias = Callable[[dict[str, Any]], Awaitable[dict[str, Any]]]
"""Puts a request to the daemon; the answer is {"id", "done", "text", "weighing"}."""
AskStatus: TypeAlias = Callable[[], Status]
"""Returns the daemon's present status; cheap enough to be asked every second."""


class Events(Protocol):
    """The journal as the page reads it.  `bridge.journal.journal.Journal` is one."""

    @property
    def last(self) -> int:
        """Sequence of the last event written, 0 when there is none."""

    async def read(self, after: int, limit: int = 256) -> Sequence[tuple[int, str]]:
        """Return at most `limit` events beyond a sequence as (sequence, JSON), oldest first."""

    async def weighings(
        self,
        *,
        tag: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int | None = None,
        animals: Sequence[str] = (),
        tags: Sequence[str] = (),
    ) -> Sequence[Event]:
        """Return the latest revision of each weighing that fits, oldest first; with `limit`, the latest so many."""


class Memory(Events, Protocol):
    """The journal as all of the page reads it: the stream needs less."""

    async def weighing(
        self, station: str, *, weighing: str | None = None, number: int | None = None
    ) -> Weighing | None:
        """Return the newest revision of one weighing of a station."""

    async def kept(self, kind: Literal["value", "link"]) -> dict[str, str]:
        """Return what is remembered of one kind by name."""

    async def jobs(self) -> Sequence[str]:
        """Return the events of jobs as JSON, oldest first."""


class InTurn:
    """A journal that the page asks one thing at a time.

    Its one thread also writes the weighings: fifty phones that wake together must not stand before them in the queue,
    so whatever they want to read, a weighing waits for one reading at most.
    """

    def __init__(self, journal: Memory) -> None:
        self._journal = journal
        self._turn = asyncio.Lock()

    @property
    def last(self) -> int:
        """Sequence of the last event written."""
        return self._journal.last

    async def read(self, after: int, limit: int = 256) -> Sequence[tuple[int, str]]:
        """Read events, when it is our turn."""
        async with self._turn:
            return await self._journal.read(after, limit)

    async def weighings(
        self,
        *,
        tag: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int | None = None,
        animals: Sequence[str] = (),
        tags: Sequence[str] = (),
    ) -> Sequence[Event]:
        """Read weighings, when it is our turn."""
        async with self._turn:
            return await self._journal.weighings(
                tag=tag, since=since, until=until, limit=limit, animals=animals, tags=tags
            )

    async def weighing(
        self, station: str, *, weighing: str | None = None, number: int | None = None
    ) -> Weighing | None:
        """Read one weighing, when it is our turn."""
        async with self._turn:
            return await self._journal.weighing(station, weighing=weighing, number=number)

    async def kept(self, kind: Literal["value", "link"]) -> dict[str, str]:
        """Read what is remembered, when it is our turn."""
        async with self._turn:
            return await self._journal.kept(kind)

    async def jobs(self) -> Sequence[str]:
        """Read the events of jobs, when it is our turn."""
        async with self._turn:
            return await self._journal.jobs()
