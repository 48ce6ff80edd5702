"""What the page needs of the daemon: four doors, each a protocol or a callable.

Status, as `status()` gives it (all keys may be missing, others may be there):

    {"site": "larkmoor", "version": "0.1.0", "up_s": 360.0, "cpu_s": 4.1,
     "stations": {"crush": {"view": {…}, "counts": {"animals": 17, "expected": 40}, "sheet": "Induction",
                            "treatments": ["oral drench"], "sheets": ["sheet.toml"]}},
     "links": {"indicator": {"state": "up", "text": "", "frames": 8123, "rejects": {"garbled": 2}, "openings": 1,
                             "last_byte_age_s": 0.1}},
     "outlets": {"farm": {"kind": "mqtt", "connected": true, "backlog": 0, "trouble": {"broker": "…"}}},
     "journal": {"last": 42, "waiting": 0, "trouble": {}},
     "clock": {"state": "synchronised", "steps": 0},
     "troubles": [{"about": "zero-off", "text": "…", "since": "2026-11-24T02:11:00.000Z"}],
     "loop_lag_s": 0.001, "disk_free_mb": 9000}

`sheets` are the job sheets that can be chosen by name; without them the page asks for a file's name.

A live view, as `hub.Live.view` and `stations.NAME.view` carry it:

    {"station": "crush", "state": "settled", "kg": 318.5, "moving": false, "number": 17, "tag": "999000000112233",
     "tags_seen": 1, "settled_kg": 318.5, "grade": "good", "may_leave": true, "missing": [],
     "next": "Let it go to pen heavy."}
"""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime
from typing import Any, Protocol, TypeAlias

from neckyoke.bridge.events import Event

Ask: TypeAlias = Callable[[dict[str, Any]], Awaitable[dict[str, Any]]]
"""Puts a request to the daemon; the answer is {"id", "done", "text", "weighing"}."""
Status: TypeAlias = Callable[[], dict[str, Any]]
"""Tells how the daemon is now; cheap enough to be asked every second."""


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
    ) -> Sequence[Event]:
        """Return the latest revision of each weighing that fits, oldest first; with `limit`, the latest so many."""


class InTurn:
    """A journal that the page asks one thing at a time.

    Its one thread also writes the weighings: fifty phones that wake together must not stand before them in the queue,
    so whatever they want to read, a weighing waits for one reading at most.
    """

    def __init__(self, journal: Events) -> None:
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
    ) -> Sequence[Event]:
        """Read weighings, when it is our turn."""
        async with self._turn:
            return await self._journal.weighings(tag=tag, since=since, until=until, limit=limit)
