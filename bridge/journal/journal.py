"""The journal: every event, before any outlet sees it, and how far each outlet has got.

What is handed in together is written together or not at all, gets its sequences in the order of the calls, and only
then wakes the outlets; they follow from positions kept here too.  Written in writer.py, into the file of store.py.
"""

import asyncio
import contextlib
import sqlite3
import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Self, TypeVar

from neckyoke.bridge.events import Event, Weighing, read_event, spell_time
from neckyoke.bridge.journal.checkup import look_through, prune, told_aside
from neckyoke.bridge.journal.herd_tables import HerdReading
from neckyoke.bridge.journal.mark import HeldError, Mark
from neckyoke.bridge.journal.reading import Kind, StoreError
from neckyoke.bridge.journal.spare import Spare, places, remedy, too_large
from neckyoke.bridge.journal.store import Entry, Store, Written
from neckyoke.bridge.journal.writer import Safe, Writer
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.keep import keep
from neckyoke.bridge.telling.status import JournalStatus

T = TypeVar("T")
DAY_S = 86400

RECENT, PRUNE_EVERY, REST_S = 64, 500, 0.05
"""Latest events kept in memory for the outlets; events between two looks at what is too old or too much; seconds
between two steps of looking for damaged rows."""


class JournalError(Exception):
    """The journal cannot be opened or read now; the text says why and what to do."""


class Journal:
    """The open journal.  Made by `open`, used from one event loop, ended by `close`.

    `open_stays` holds the stays that the last run left open, by station, as JSON; `looked_through` tells whether every
    row was looked at since the start.
    """

    def __init__(
        self,
        path: Path,
        mark: Mark,
        spare: Spare,
        *,
        outlets: Iterable[str],
        keep_days: float,
        keep_mb: float,
        say: Say,
        now: Callable[[], float],
        wall: Callable[[], float | None],
    ) -> None:
        self.path = path
        self.open_stays: dict[str, str] = {}
        self.looked_through = False
        self._outlets = tuple(outlets)
        self._keep_s = keep_days * DAY_S
        self._keep_bytes = int(keep_mb * 1_000_000)
        self._wall = wall
        self._troubles = Troubles(say, now)
        self._mark = mark
        self._writer = Writer(path, self._troubles, wall, mark, spare, self._written, self._retain)
        self._looking: asyncio.Task[None] | None = None
        self._aside = self._mended = self._last = self._repeats = 0
        self._recent: deque[tuple[int, str]] = deque(maxlen=RECENT)
        self._positions: dict[str, int] = {}
        self._noted: dict[str, int] = {}
        self._changed = asyncio.Event()
        self._pruned_at = -PRUNE_EVERY

    @classmethod
    async def open(
        cls,
        path: Path,
        *,
        outlets: Iterable[str] = (),
        keep_days: float = 400.0,
        keep_mb: float = 500.0,
        say: Say = unheard,
        now: Callable[[], float] = time.monotonic,
        wall: Callable[[], float | None] = time.time,
        spare: Path | None = None,
        beside: Sequence[Path] = (),
    ) -> Self:
        """Open the journal, making the file when there is none.  Raises JournalError saying what to do.

        `outlets` are those whose events are kept until they have taken them.  `now` gives monotonic seconds, `wall`
        seconds since 1970, or None while the clock cannot be trusted (then nothing is deleted for its age).  What the
        journal cannot be given is kept in `spare`, else in the folders of the files `beside`, else in memory.
        """
        try:
            mark = Mark.take(path)
        except (OSError, HeldError) as error:
            raise JournalError(remedy(path, error)) from error
        room = Spare(places(path, spare, beside))
        self = cls(path, mark, room, outlets=outlets, keep_days=keep_days, keep_mb=keep_mb, say=say, now=now, wall=wall)
        try:
            opened = await self._writer.open()
        except (sqlite3.Error, OSError, StoreError) as error:
            mark.close()
            raise JournalError(remedy(path, error)) from error
        self._last = await self.ask(Store.readable_last)
        self.open_stays = await self.kept("open-stay")
        self._positions = {outlet: int(sequence) for outlet, sequence in (await self.kept("position")).items()}
        checkup = partial(self._look_through, opened.before)
        self._looking = asyncio.create_task(keep("journal checkup", checkup, self._troubles))
        return self

    async def close(self, grace_s: float = 5.0) -> None:
        """Write what waits, for at most `grace_s`, and close the file."""
        if self._looking is not None:
            self._looking.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._looking
        await self._writer.close(grace_s)
        self._mark.close()

    @property
    def left(self) -> tuple[int, Path | None]:
        """How many events could not be written when it was closed, and where they are kept; None where nowhere."""
        return self._writer.left, self._writer.spared_at

    def on_unsafe(self, tell: Callable[[Event], None]) -> None:
        """Let somebody hear of what cannot wait for a disk that takes nothing: see `writer.unsafe`."""
        self._writer.tell_unsafe = tell

    # -- what is wrong with it -----------------------------------------------------------------------------------

    async def _look_through(self, before: int) -> None:
        """Look through the rows below a sequence, a step at a time."""
        try:
            while before:
                await asyncio.sleep(REST_S)
                before, mended = await self.ask(partial(look_through, before=before))
                self._mended += mended
        except (JournalError, StoreError):
            return  # whoever reads or writes meets the same trouble and says it
        self.looked_through = True

    async def _set_aside(self) -> None:
        """Take the damaged rows that were met out of the way, and tell."""
        events, values = await self._writer.call(Store.set_aside)
        self._last = min(self._last, await self._writer.call(Store.readable_last))
        self._aside += len(events) + len(values)
        text = told_aside(self.path, events, values, self._aside)
        self._troubles.begin("journal-rows-damaged", text)

    # -- writing -------------------------------------------------------------------------------------------------

    def submit(
        self,
        events: Sequence[Event] = (),
        open_stays: Mapping[str, str | None] | None = None,
        values: Mapping[str, str | None] | None = None,
    ) -> Safe:
        """Hand in what belongs together, without waiting; the order of calls is the order of sequences.

        The future gives the events as written, each with its sequence, once they would survive a power cut.  While the
        file cannot be written it does not come true.  An open stay or a value of None is taken out.
        """
        return self._submit(Entry(tuple(events), open_stays or {}, values or {}))

    async def append(
        self,
        events: Sequence[Event] = (),
        open_stays: Mapping[str, str | None] | None = None,
        values: Mapping[str, str | None] | None = None,
    ) -> list[Event]:
        """Write what belongs together and return the events back with their sequences: `submit`, awaited."""
        return await self.submit(events, open_stays, values)

    def keep_for(self, outlets: Iterable[str]) -> None:
        """Keep events until these outlets have taken them, and for no others."""
        self._outlets = tuple(outlets)

    def position(self, outlet: str) -> int:
        """Return how far an outlet has got: the sequence of the last event that it need not be given again."""
        return max(self._positions.get(outlet, 0), self._noted.get(outlet, 0))

    def kept_position(self, outlet: str) -> int:
        """Return how far an outlet has got as a power cut would leave it."""
        return self._positions.get(outlet, 0)

    def set_position(self, outlet: str, sequence: int) -> Safe:
        """Remember how far an outlet has got.  The future comes true when it would survive a power cut."""
        return self._submit(Entry(positions={outlet: sequence}))

    def note_position(self, outlet: str, sequence: int) -> None:
        """Remember how far an outlet has got, with the next thing written: after a power cut it may be forgotten."""
        self._noted[outlet] = sequence
        self._writer.note(outlet, sequence)

    def _submit(self, entry: Entry) -> Safe:
        try:
            return self._writer.submit(entry)
        except StoreError as error:
            raise JournalError(remedy(self.path, error)) from error

    def _written(self, entry: Entry, rows: list[Written]) -> None:
        self._positions.update(entry.positions)
        self._repeats += len(entry.events) - len(rows)
        for row in rows:
            self._recent.append((row.sequence, row.body))
            self._last = row.sequence
        if rows:
            self._changed.set()
            self._changed = asyncio.Event()

    async def _retain(self) -> None:
        """Delete what is too old or too much, a step at a time, giving way to whatever is to be written."""
        if self.last - self._pruned_at < PRUNE_EVERY:
            return
        floor = min((self.position(outlet) for outlet in self._outlets), default=self.last)
        step = partial(prune, floor=floor, wall=self._wall(), keep_s=self._keep_s, keep_bytes=self._keep_bytes)
        try:
            while self._writer.idle and await self._writer.call(step) > 0:
                pass
            size = await self._writer.call(Store.size)
        except sqlite3.Error:
            return  # the next transaction meets the same trouble and says it
        if not self._writer.idle:
            return
        self._pruned_at = self.last
        if size > self._keep_bytes:
            behind = [outlet for outlet in self._outlets if self.position(outlet) < self.last]
            self._troubles.begin("journal-large", too_large(self.path, size, behind))
        else:
            self._troubles.end("journal-large", f"{self.path} is within keep_mb again.")

    # -- reading -------------------------------------------------------------------------------------------------

    @property
    def last(self) -> int:
        """Sequence of the last event written, 0 when there is none."""
        return self._last

    async def beyond(self, sequence: int) -> int:
        """Wait until there is an event beyond a sequence; return the last one's."""
        while self.last <= sequence:
            await self._changed.wait()
        return self.last

    async def read(self, after: int, limit: int = 256) -> list[tuple[int, str]]:
        """Return at most `limit` events beyond a sequence as (sequence, JSON), oldest first.

        Who keeps up is served from memory: a weighing on its way to the broker does not wait for the card again.
        """
        if self._recent and self._recent[0][0] <= after + 1:
            return list(islice((row for row in self._recent if row[0] > after), limit))
        rows = await self.ask(lambda store: store.read(after, limit))
        if not rows and self.last > after:
            raise JournalError(f"What is left to read of the journal {self.path} is damaged and was set aside.")
        return rows

    async def weighings(
        self,
        *,
        tag: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int | None = None,
        animals: Sequence[str] = (),
        tags: Sequence[str] = (),
    ) -> list[Event]:
        """Return the latest revision of each weighing whose stay began in [since, until), oldest first.

        With `tag`, those of a tag; with `animals` (ids) or `tags`, of any of them; with `limit`, the latest so many.
        """
        begin, end = (spell_time(one) if one else None for one in (since, until))

        def look(store: Store) -> list[Event]:
            found = store.weighings(tag=tag, since=begin, until=end, limit=limit, animals=animals, tags=tags)
            return [read_event(body) for body in found]

        return await self.ask(look)

    async def weighing(
        self, station: str, *, weighing: str | None = None, number: int | None = None
    ) -> Weighing | None:
        """Return the newest revision of a station's weighing: by id, else the last of that number, else the last."""
        body = await self.ask(lambda store: store.weighing(station, weighing=weighing, number=number))
        data = read_event(body).data if body is not None else None
        return data if isinstance(data, Weighing) else None

    async def herd(self, look: Callable[[HerdReading], T]) -> T:
        """Ask the herd book."""
        return await self.ask(lambda store: look(store.herd))

    async def rebuild_herd(self, today: str) -> int:
        """Make the herd book anew from the events; return how many rows of it came out otherwise."""

        def rebuild(store: Store) -> int:
            with store.transaction():
                return store.rebuild_herd(today)

        return await self.ask(rebuild)

    async def kept(self, kind: Kind) -> dict[str, str]:
        """Return what is remembered of one kind by name: "value" as handed in, "link" each link's latest event."""
        return await self.ask(lambda store: store.kept(kind))

    async def jobs(self) -> list[str]:
        """Return the events of jobs as JSON, oldest first."""
        return await self.ask(lambda store: [*store.jobs()])

    async def ask(self, function: Callable[[Store], T]) -> T:
        """Ask the file in its thread.  Raises JournalError when it cannot be read."""

        def asked(store: Store) -> tuple[T, bool]:
            return function(store), bool(store.unsound or store.unsound_kept)

        try:
            answer, damaged = await self._writer.call(asked)
            if damaged:
                await self._set_aside()
        except sqlite3.Error as error:
            raise JournalError(remedy(self.path, error)) from error
        return answer

    # -- how it is -----------------------------------------------------------------------------------------------

    def alive(self, limit_s: float = 20.0) -> bool:
        """Return whether the thread still answers: nothing that it does has taken longer than `limit_s`."""
        return self._writer.alive(limit_s)

    @property
    def health(self) -> JournalStatus:
        """What matters of the journal now."""
        return JournalStatus(
            last=self.last,
            waiting=self._writer.waiting,
            let_go=self._writer.let_go,
            refused=self._writer.refused,
            repeats=self._repeats,
            missing=self._writer.missing,
            aside=self._aside,
            mended=self._mended,
            spare=str(self._writer.spared_at) if self._writer.spared_at else None,
            trouble=self._troubles.standing,
        )
