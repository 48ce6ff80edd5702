"""The journal: every event, before any outlet sees it, and how far each outlet has got.

    submit -> waiting -> one transaction for all that waits -> futures come true -> outlets woken

The SQLite file is touched by one thread only.  While a transaction is being synced to the card, whatever arrives waits
and goes into the next one, so that a slow card makes transactions larger and not the queue longer.

When the file cannot be written (disk full, read-only), what waits stays in memory and is tried again; nothing is
said to be written that is not, and the trouble is said once.  Memory is bounded: beyond `WAITING_MAX` events those that
are no weighings are let go, oldest first, and counted; a weighing is never let go.
"""

import asyncio
import contextlib
import errno
import fcntl
import os
import sqlite3
import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any, Self, TypeAlias, TypeVar

from bridge.events import Event, read_event, spell_time
from bridge.rescue import open_store
from bridge.store import Entry, Kind, Store, StoreError, Written, damaged
from bridge.trouble import Say, Troubles, unheard

T = TypeVar("T")
Safe: TypeAlias = "asyncio.Future[list[Event]]"
"""Comes true when what was handed in would survive a power cut; gives the events with their sequences."""

WAITING_MAX = 10_000
"""Events kept in memory while the file cannot be written: some 10 MB."""
GROUP_MAX = 256
"""Entries in one transaction."""
RECENT = 64
"""Latest events kept in memory for the outlets."""
RETRY_S = (0.5, 1.0, 2.0, 5.0, 10.0, 30.0)
"""Waits between attempts while the file cannot be written."""
PRUNE_EVERY = 500
"""Events between two looks at what is too old or too much."""
WEIGHING = "neckyoke.weighing"
SURROUNDINGS = (sqlite3.OperationalError, sqlite3.InternalError, OSError, StoreError)
"""Errors that lie in the disk and not in what was handed in."""


class JournalError(Exception):
    """The journal cannot be opened or read now; the text says why and what to do."""


@dataclass(slots=True)
class _Waiting:
    entry: Entry
    future: Safe


class Journal:
    """The open journal.  Made by `open`, used from one event loop, ended by `close`.

    `open_stays` holds what the last run left: the stays that had settled and not ended, by station, as JSON.
    """

    def __init__(
        self,
        path: Path,
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
        self._store: Store
        self._outlets = tuple(outlets)
        self._keep_s = keep_days * 86400
        self._keep_bytes = int(keep_mb * 1_000_000)
        self._wall = wall
        self._troubles = Troubles(say, now)
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="journal")
        self._busy_since: float | None = None
        self._lock_fd = -1
        self._waiting: deque[_Waiting] = deque()
        self._last = 0
        self._recent: deque[tuple[int, str]] = deque(maxlen=RECENT)
        self._damage: str | None = None
        self._let_go = 0
        self._refused = 0
        self._repeats = 0
        self._wake = asyncio.Event()
        self._changed = asyncio.Event()
        self._closing = asyncio.Event()
        self._writer: asyncio.Task[None] | None = None
        self._positions: dict[str, int] = {}
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
    ) -> Self:
        """Open the journal, making the file when there is none.  Raises JournalError saying what to do.

        `outlets` are those whose events are kept until they have taken them.  `now` gives monotonic seconds, `wall`
        seconds since 1970, or None while the clock cannot be trusted (then nothing is deleted for its age).
        """
        self = cls(path, outlets=outlets, keep_days=keep_days, keep_mb=keep_mb, say=say, now=now, wall=wall)
        try:
            self._lock()
            opened = await self._in_thread(lambda: open_store(path, time.time()))
            self._store = opened.store
            self._last = opened.store.last
            self.open_stays = await self._in_thread(lambda: self._store.kept("open-stay"))
            positions = await self._in_thread(lambda: self._store.kept("position"))
        except (sqlite3.Error, OSError, StoreError) as error:
            self._unlock()
            self._thread.shutdown(wait=False)
            raise JournalError(remedy(path, error)) from error
        self._positions = {outlet: int(sequence) for outlet, sequence in positions.items()}
        self._writer = asyncio.create_task(self._write(), name="journal")
        if opened.damage:
            self._troubles.begin("journal-damaged", opened.damage)
        return self

    def _lock(self) -> None:
        """Keep a second daemon out: two on one journal would each weigh every animal."""
        self._lock_fd = os.open(f"{self.path}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(self._lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise StoreError("another neckyoke has it open; stop that one first") from None

    def _unlock(self) -> None:
        if self._lock_fd >= 0:
            os.close(self._lock_fd)
            self._lock_fd = -1

    async def _in_thread(self, call: Callable[[], T]) -> T:
        def timed() -> T:
            self._busy_since = time.monotonic()
            try:
                return call()
            finally:
                self._busy_since = None

        return await asyncio.get_running_loop().run_in_executor(self._thread, timed)

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
        """Write what belongs together and give the events back with their sequences: `submit`, awaited."""
        return await self.submit(events, open_stays, values)

    def _submit(self, entry: Entry) -> Safe:
        if self._closing.is_set():
            raise JournalError(f"the journal {self.path} is closed")
        future: Safe = asyncio.get_running_loop().create_future()
        self._waiting.append(_Waiting(entry, future))
        self._wake.set()
        return future

    async def _write(self) -> None:
        failures, most = 0, GROUP_MAX
        while self._waiting or not self._closing.is_set():
            if not self._waiting:
                self._wake.clear()
                await self._wake.wait()
                continue
            group = list(islice(self._waiting, most))
            try:
                written = await self._in_thread(partial(self._commit, [waiting.entry for waiting in group]))
            except SURROUNDINGS as error:
                self._troubles.begin("journal-stuck", remedy(self.path, error))
                self._bound()
                if self._closing.is_set():
                    return
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(self._closing.wait(), RETRY_S[min(failures, len(RETRY_S) - 1)])
                failures += 1
            except Exception as error:  # noqa: BLE001  # whatever it is, it lies in what was handed in
                if len(group) == 1:
                    self._refuse(error)
                most = 1 if len(group) > 1 else GROUP_MAX
            else:
                if failures:
                    failures = 0
                    gone = f" {self._let_go} events that were no weighings were let go." if self._let_go else ""
                    self._troubles.end("journal-stuck", f"The journal {self.path} is being written again.{gone}")
                self._hand_back(group, written)
                await self._retain()

    def _refuse(self, error: Exception) -> None:
        """Leave out an entry that cannot be written whatever the disk is like: it must not hold up what follows."""
        self._refused += 1
        self._waiting.popleft().future.set_result([])
        text = f"neckyoke could not write an event of its own and left it out; please report it: {error!r}"
        self._troubles.begin("journal-refused", text)

    def _commit(self, entries: list[Entry]) -> list[list[Written]]:
        """In the thread: write a group; a file that proves damaged is replaced first."""
        if self._damage is None:
            try:
                return self._store.commit(entries, self._wall())
            except sqlite3.DatabaseError as error:
                if not damaged(error):
                    raise
                self._damage = str(error)
                self._store.close()
        opened = open_store(self.path, max(time.time(), self.last), self._damage)
        self._store, self._damage = opened.store, None
        assert self._writer is not None
        self._writer.get_loop().call_soon_threadsafe(self._troubles.begin, "journal-damaged", opened.damage or "")
        return self._store.commit(entries, self._wall())

    def _hand_back(self, group: list[_Waiting], written: list[list[Written]]) -> None:
        for waiting, rows in zip(group, written, strict=True):
            self._waiting.popleft()
            self._positions.update(waiting.entry.positions)
            self._repeats += len(waiting.entry.events) - len(rows)
            for row in rows:
                self._recent.append((row.sequence, row.body))
                self._last = row.sequence
            if not waiting.future.done():
                waiting.future.set_result([row.event for row in rows])
        if any(written):
            self._changed.set()
            self._changed = asyncio.Event()

    def _bound(self) -> None:
        """Let the oldest events that are no weighings go, until few enough wait."""
        excess = sum(len(waiting.entry.events) for waiting in self._waiting) - WAITING_MAX
        for waiting in self._waiting:
            if excess <= 0:
                return
            kept = tuple(event for event in waiting.entry.events if event.type == WEIGHING)
            gone = len(waiting.entry.events) - len(kept)
            waiting.entry = replace(waiting.entry, events=kept)
            self._let_go += gone
            excess -= gone

    async def _retain(self) -> None:
        if self.last - self._pruned_at < PRUNE_EVERY:
            return
        floor = min((self._positions.get(outlet, 0) for outlet in self._outlets), default=self.last)
        wall = self._wall()
        before = None if wall is None else wall - self._keep_s
        prune = partial(self._store.prune, floor=floor, before=before, keep_bytes=self._keep_bytes)
        try:
            while not self._waiting and await self._in_thread(prune) > 0:
                pass
            size = await self._in_thread(self._store.size)
        except sqlite3.Error:
            return  # the next transaction meets the same trouble and says it
        if self._waiting:
            return
        self._pruned_at = self.last
        if size > self._keep_bytes:
            behind = ", ".join(outlet for outlet in self._outlets if self._positions.get(outlet, 0) < self.last)
            text = f"{self.path} holds {size / 1e6:.0f} MB, more than keep_mb, for outlets that are behind: {behind}."
            self._troubles.begin("journal-large", f"{text} See to those; nothing is deleted that they lack.")
        else:
            self._troubles.end("journal-large", f"{self.path} is within keep_mb again.")

    @property
    def last(self) -> int:
        """Sequence of the last event written, 0 when there is none."""
        return self._last

    async def beyond(self, sequence: int) -> int:
        """Wait until there is an event beyond a sequence; give the last one's."""
        while self.last <= sequence:
            await self._changed.wait()
        return self.last

    async def _ask(self, call: Callable[[], T]) -> T:
        try:
            return await self._in_thread(call)
        except sqlite3.Error as error:
            raise JournalError(remedy(self.path, error)) from error

    async def read(self, after: int, limit: int = 256) -> list[tuple[int, str]]:
        """Give at most `limit` events beyond a sequence as (sequence, JSON), oldest first.

        Who keeps up is served from memory: a weighing on its way to the broker does not wait for the card again.
        """
        if self._recent and self._recent[0][0] <= after + 1:
            return list(islice((row for row in self._recent if row[0] > after), limit))
        return await self._ask(lambda: self._store.read(after, limit))

    async def weighings(
        self,
        *,
        tag: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int | None = None,
    ) -> list[Event]:
        """Give the latest revision of each weighing whose stay began in [since, until), oldest first.

        With `tag`, one animal's; with `limit`, only the latest so many.
        """
        begin = None if since is None else spell_time(since)
        end = None if until is None else spell_time(until)
        return await self._ask(
            lambda: [read_event(b) for b in self._store.weighings(tag=tag, since=begin, until=end, limit=limit)]
        )

    async def kept(self, kind: Kind) -> dict[str, str]:
        """Give what is remembered of one kind by name: "value" as handed in, "link" each link's latest event."""
        return await self._ask(lambda: self._store.kept(kind))

    def position(self, outlet: str) -> int:
        """Tell how far an outlet has got: the sequence of the last event that it need not be given again."""
        return self._positions.get(outlet, 0)

    def set_position(self, outlet: str, sequence: int) -> Safe:
        """Remember how far an outlet has got.  The future comes true when it would survive a power cut."""
        return self._submit(Entry(positions={outlet: sequence}))

    def alive(self, limit_s: float = 20.0) -> bool:
        """Tell whether the thread still answers: nothing that it does has taken longer than `limit_s`."""
        since = self._busy_since
        running = self._writer is not None and not self._writer.done()
        return running and (since is None or time.monotonic() - since < limit_s)

    @property
    def health(self) -> dict[str, Any]:
        """What matters of the journal now."""
        return {
            "last": self.last,
            "waiting": sum(len(waiting.entry.events) for waiting in self._waiting),
            "let_go": self._let_go,
            "refused": self._refused,
            "repeats": self._repeats,
            "trouble": self._troubles.standing,
        }

    async def close(self, grace_s: float = 5.0) -> None:
        """Write what waits, for at most `grace_s`, and close the file."""
        if self._writer is None:
            return
        self._closing.set()
        self._wake.set()
        await asyncio.wait({self._writer}, timeout=grace_s)
        self._writer.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._writer
        self._writer = None
        for waiting in self._waiting:
            waiting.future.cancel()
        with contextlib.suppress(sqlite3.Error):
            await self._in_thread(self._store.close)
        self._thread.shutdown(wait=False)
        self._unlock()


def remedy(path: Path, error: Exception) -> str:
    """Say what is wrong with the journal's file and what to do about it."""
    said = str(error)
    if "full" in said or getattr(error, "errno", None) == errno.ENOSPC:
        return (
            f"The disk is full: {path} cannot be written. Delete what is not needed on it; nothing need be restarted."
        )
    if "readonly" in said or "read-only" in said.lower():
        return f"{path} cannot be written: the file or its disk is read-only. Make it writable; a card may have failed."
    if "unable to open" in said or isinstance(error, OSError):
        return f"{path} cannot be opened ({said}): check that its folder is there and that this user may write in it."
    return f"The journal {path} cannot be used: {said}."
