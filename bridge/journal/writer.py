"""The one thread that touches the journal's file, and what waits to be written.

    submit -> waiting -> one transaction for all that waits -> futures come true

What is only noted (how far an outlet has got) goes along with the next entry, or after `NOTED_S` by itself: every
transaction costs a card some 20 kB of writing, and a lost note costs a few events told twice.

While a transaction is being synced to the card, whatever arrives waits and goes into the next one, so that a slow card
makes transactions larger and not the queue longer.

When the file cannot be written (disk full, read-only), what waits stays in memory and is tried again; nothing is said
to be written that is not, and the trouble is said once.  It is written to another place meanwhile
(bridge/journal/spare.py), and first weighings and what people must see are told as not safe yet.  Memory is bounded:
beyond `WAITING_MAX` events those that are no weighings are let go, oldest first, and counted; a weighing is never let
go.  A file that proves damaged is replaced (bridge/journal/salvage.py) and what waits goes into the new one.
"""

import asyncio
import contextlib
import sqlite3
import time
from collections import deque
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TypeAlias, TypeVar

from neckyoke.bridge.events import Attention, Event
from neckyoke.bridge.journal.mark import Given, Mark
from neckyoke.bridge.journal.reading import StoreError
from neckyoke.bridge.journal.salvage import Opened, open_store
from neckyoke.bridge.journal.spare import Spare, kept_at, remedy, unsafe
from neckyoke.bridge.journal.store import Entry, Store, Written, damaged
from neckyoke.bridge.telling.alerts import Troubles

T = TypeVar("T")
Safe: TypeAlias = "asyncio.Future[list[Event]]"
"""Resolves once the entry is durable (it would survive a power cut), to its events with their sequences."""

WAITING_MAX = 10_000
"""Events kept in memory while the file cannot be written: some 10 MB."""
GROUP_MAX = 256
"""Entries in one transaction."""
NOTED_S = 5.0
"""What is noted is written this much later at most."""
RETRY_S = (0.5, 1.0, 2.0, 5.0, 10.0, 30.0)
"""Waits between attempts while the file cannot be written."""
WEIGHING = "neckyoke.weighing"
UNSAFE_AFTER = 3
"""Attempts after which what waits is told as not safe yet: some four seconds."""
SURROUNDINGS = (sqlite3.OperationalError, sqlite3.InternalError, OSError, StoreError)
"""Errors that lie in the disk and not in what was handed in."""


@dataclass(slots=True)
class _Waiting:
    entry: Entry
    future: Safe
    spared: bool = False
    told: bool = False


class Writer:
    """The thread and its queue.  `open` it, `submit` to it, `close` it, all from one event loop.

    `on_written` is told of each entry when it is safe, before its future comes true; `at_rest` is awaited between
    transactions.  `wall` gives seconds since 1970, or None while the clock cannot be trusted.
    """

    def __init__(
        self,
        path: Path,
        troubles: Troubles,
        wall: Callable[[], float | None],
        mark: Mark,
        spare: Spare,
        on_written: Callable[[Entry, list[Written]], None],
        at_rest: Callable[[], Awaitable[None]],
    ) -> None:
        self.path = path
        self.let_go = 0
        self.refused = 0
        self.missing = 0
        self._store: Store
        self.left = 0
        self.spared_at: Path | None = None
        self.tell_unsafe: Callable[[Event], None] = lambda _event: None
        self._mark = mark
        self._spare = spare
        self._number = 0
        self._troubles = troubles
        self._wall = wall
        self._on_written = on_written
        self._at_rest = at_rest
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="journal")
        self._busy_since: float | None = None
        self._damage: str | None = None
        self._queue: deque[_Waiting] = deque()
        self._noted: dict[str, int] = {}
        self._due: asyncio.TimerHandle | None = None
        self._wake = asyncio.Event()
        self._closing = asyncio.Event()
        self._writing: asyncio.Task[None] | None = None
        self._loop: asyncio.AbstractEventLoop
        self._spared = False

    async def open(self) -> Opened:
        """Open the file and begin to write.  Raises sqlite3.Error, OSError or StoreError."""
        self._loop = asyncio.get_running_loop()
        try:
            opened = await self._in_thread(lambda: open_store(self.path, time.time(), given=self._mark.read()))
        except BaseException:
            self._thread.shutdown(wait=False)
            raise
        self._take(opened)
        await self._take_in()
        self._writing = asyncio.create_task(self._write(), name="journal")
        return opened

    async def _take_in(self) -> None:
        """Take in what was kept elsewhere when the file could not be written."""
        entries = await self._in_thread(self._spare.left)
        if not entries and not self._spare.torn:
            return
        count = sum(len(entry.events) for entry in entries)
        try:
            await self._in_thread(partial(self._commit, entries))
        except SURROUNDINGS:
            self._queue.extend(_Waiting(entry, self._loop.create_future(), spared=True) for entry in entries)
            return
        await self._in_thread(self._spare.clear)
        torn = f" {self._spare.torn} lines of it could not be read." if self._spare.torn else ""
        text = f"{count} events that the journal could not be given in the last run are in it now.{torn}"
        self._troubles.remark("journal-spare", text)

    def _take(self, opened: Opened) -> None:
        self._store = opened.store
        self.missing += opened.missing
        if opened.damage:
            self._troubles.begin("journal-damaged", opened.damage)

    async def call(self, function: Callable[[Store], T]) -> T:
        """Do something with the store in its thread, after what the thread is at."""
        return await self._in_thread(lambda: self._guarded(function))

    async def _in_thread(self, function: Callable[[], T]) -> T:
        def timed() -> T:
            self._busy_since = time.monotonic()
            try:
                return function()
            finally:
                self._busy_since = None

        return await asyncio.get_running_loop().run_in_executor(self._thread, timed)

    def alive(self, limit_s: float) -> bool:
        """Return whether it still works: nothing that the thread does has taken longer than `limit_s`."""
        since = self._busy_since
        running = self._writing is not None and not self._writing.done()
        return running and (since is None or time.monotonic() - since < limit_s)

    @property
    def waiting(self) -> int:
        """How many events wait."""
        return sum(len(one.entry.events) for one in self._queue)

    @property
    def idle(self) -> bool:
        """Whether nothing waits."""
        return not self._queue

    def submit(self, entry: Entry) -> Safe:
        """Put an entry into the queue.  Raises StoreError when closed."""
        if self._closing.is_set():
            raise StoreError("it is closed")
        future: Safe = asyncio.get_running_loop().create_future()
        for outlet in entry.positions:
            self._noted.pop(outlet, None)  # noted before this, it must not be written after it
        self._queue.append(_Waiting(entry, future))
        self._wake.set()
        return future

    def note(self, outlet: str, position: int) -> None:
        """Remember how far an outlet has got, without haste."""
        self._noted[outlet] = position
        if self._due is None:
            self._due = asyncio.get_running_loop().call_later(NOTED_S, self._noted_in_time)

    def _noted_in_time(self) -> None:
        """Let what was noted be written now."""
        if self._due is not None:
            self._due.cancel()
            self._due = None
        if self._noted:
            entry, self._noted = Entry(positions=self._noted), {}
            self._queue.append(_Waiting(entry, asyncio.get_running_loop().create_future()))
            self._wake.set()

    async def _write(self) -> None:
        failures, most = 0, GROUP_MAX
        while self._queue or not self._closing.is_set():
            if not self._queue:
                self._wake.clear()
                await self._wake.wait()
                continue
            self._noted_in_time()
            group = list(islice(self._queue, most))
            try:
                written = await self._in_thread(partial(self._commit, [one.entry for one in group]))
            except SURROUNDINGS as error:
                await self._hold(error, failures)
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
                    failures, self.spared_at = 0, None
                    gone = f" {self.let_go} events that were no weighings were let go." if self.let_go else ""
                    self._troubles.end("journal-stuck", f"The journal {self.path} is being written again.{gone}")
                self._hand_back(group, written)
                if self._spared and not any(one.spared for one in self._queue):
                    await self._in_thread(self._spare.clear)
                    self._spared = False
                await self._at_rest()

    async def _hold(self, error: Exception, failures: int) -> None:
        """Keep what waits elsewhere, say so, and tell what cannot wait."""
        await self._keep_elsewhere()
        self._troubles.begin("journal-stuck", f"{remedy(self.path, error)} {kept_at(self.spared_at)}")
        self._bound()
        for one in self._queue:
            urgent = any(isinstance(event.data, Attention) for event in one.entry.events)
            if not one.told and (urgent or failures >= UNSAFE_AFTER):
                one.told = True
                for event in one.entry.events:
                    if (copy := unsafe(event)) is not None:
                        self.tell_unsafe(copy)

    async def _keep_elsewhere(self) -> None:
        waiting = [one for one in self._queue if not one.spared]
        kept = await self._in_thread(lambda: [self._keep(one.entry) for one in waiting])
        for one, at in zip(waiting, kept, strict=True):
            one.spared = at is not None
            self.spared_at = at or self.spared_at
            self._spared = self._spared or one.spared

    def _keep(self, entry: Entry) -> Path | None:
        self._number += 1
        return self._spare.keep(time.time() + self._number * 1e-6, entry)

    def _commit(self, entries: list[Entry]) -> list[list[Written]]:
        """In the thread: write a group."""
        written = self._guarded(lambda store: store.commit(entries, self._wall()))
        self._mark.write(Given(self._store.last, self._store.first))
        return written

    def _guarded(self, function: Callable[[Store], T]) -> T:
        """In the thread: do something with the store; a file that proves damaged is replaced first."""
        if self._damage is None:
            try:
                return function(self._store)
            except (sqlite3.DatabaseError, UnicodeDecodeError) as error:  # it may quote what is damaged
                if not damaged(error):
                    raise
                self._damage = str(error)
                self._store.close()
        last = self._store.last
        opened = open_store(self.path, max(time.time(), last), self._damage, Given(last, self._store.first))
        self._damage = None
        self._store = opened.store
        self._loop.call_soon_threadsafe(self._take, opened)
        return function(self._store)

    def _hand_back(self, group: list[_Waiting], written: list[list[Written]]) -> None:
        for one, rows in zip(group, written, strict=True):
            self._queue.popleft()
            self._on_written(one.entry, rows)
            if not one.future.done():
                one.future.set_result([row.event for row in rows])

    def _refuse(self, error: Exception) -> None:
        """Leave out an entry that cannot be written whatever the disk is like: it must not hold up what follows."""
        self.refused += 1
        one = self._queue.popleft()
        if not one.future.done():
            one.future.set_result([])
        text = f"neckyoke could not write an event of its own and left it out; please report it: {error!r}"
        self._troubles.begin("journal-refused", text)

    def _bound(self) -> None:
        """Let the oldest events that are no weighings go, until few enough wait."""
        excess = self.waiting - WAITING_MAX
        for one in self._queue:
            if excess <= 0:
                return
            kept = tuple(event for event in one.entry.events if event.type == WEIGHING)
            gone = len(one.entry.events) - len(kept)
            one.entry = replace(one.entry, events=kept)
            self.let_go += gone
            excess -= gone

    async def close(self, grace_s: float) -> None:
        """Write what waits, for at most `grace_s`, and close the file."""
        if self._writing is None:
            return
        self._noted_in_time()
        self._closing.set()
        self._wake.set()
        await asyncio.wait({self._writing}, timeout=grace_s)
        self._writing.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await self._writing
        self._writing = None
        await self._keep_elsewhere()
        self.left = self.waiting
        for one in self._queue:
            one.future.cancel()
        with contextlib.suppress(sqlite3.Error):
            await self.call(Store.close)
        self._thread.shutdown(wait=False)
