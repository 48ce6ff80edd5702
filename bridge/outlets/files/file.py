"""The file outlet: follows the journal into a file of events, one a line.

The position is noted in the journal after every batch, once the batch is synced.  A crash in between writes batches
again on the next start, but for the events that are found at the file's end: the file has each event once.
"""

import asyncio
import errno
import random
import time
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

from neckyoke.bridge.events import Event
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.outlets.files.appender import TAIL_EVENTS, Appender
from neckyoke.bridge.outlets.follow import NOTHING_LOST, Backoff, more, pause
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.keep import mistake
from neckyoke.bridge.telling.status import FileStatus, PlatformView


def local_day() -> date:
    """Return today by this machine's time zone."""
    return datetime.now().astimezone().date()


class FileOutlet:
    """One file.  `run` follows the journal until `stop`, which lets it write what is there first."""

    def __init__(
        self,
        name: str,
        path: Path,
        journal: Journal,
        *,
        rotate_mb: float = 50.0,
        rotate_daily: bool = False,
        say: Say = unheard,
        now: Callable[[], float] = time.monotonic,
        today: Callable[[], date] = local_day,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self.name = name
        self.path = path
        self._journal = journal
        self._file = Appender(path, rotate_bytes=rotate_mb * 1_000_000, daily=rotate_daily)
        self._troubles = Troubles(say, now)
        self._about = f"outlet-{name}"
        self._today = today
        self._backoff = Backoff(1.0, 30.0, chance)
        self._stopping = asyncio.Event()
        self._ended = asyncio.Event()
        self._written = 0

    async def run(self) -> None:
        """Follow the journal until stopped.  Whatever is wrong with the file is said once and tried again."""
        self._ended.clear()
        try:
            while not await self._attempt() and not self._stopping.is_set():
                await pause(self._backoff.wait_s(), self._stopping)
        finally:
            self._ended.set()

    async def _attempt(self) -> bool:
        """Open the file and follow the journal until stopped: False when something went wrong."""
        try:
            await asyncio.to_thread(self._file.open)
            await self._follow()
        except (OSError, JournalError) as error:
            self._troubles.begin(self._about, remedy(self.path, error))
            return False
        except Exception as error:  # noqa: BLE001  # said, and tried again
            self._troubles.begin(self._about, f"{mistake(error)} {NOTHING_LOST}")
            return False
        finally:
            self._file.close()
        return True

    async def _follow(self) -> None:
        position = self._journal.position(self.name)
        while await more(self._journal, position, self._stopping):
            rows = await self._journal.read(position, TAIL_EVENTS)
            if rows[-1][0] - self._journal.kept_position(self.name) > TAIL_EVENTS:  # more than a start finds again
                await self._journal.set_position(self.name, position)
            lines = [body for _, body in rows]
            self._written += await asyncio.to_thread(self._file.append, lines, self._today())
            self._troubles.end(self._about, f"{self.path} is being written again.")
            self._backoff.reset()
            position = rows[-1][0]
            self._journal.note_position(self.name, position)

    async def stop(self, grace_s: float = 5.0) -> None:
        """Let it write what is in the journal, for at most `grace_s`.  Then the task of `run` can be cancelled."""
        self._stopping.set()
        try:
            await asyncio.wait_for(self._ended.wait(), grace_s)
        except TimeoutError:
            return

    def show(self, station: str, view: PlatformView) -> None:
        """Do nothing: what is live has no place in a file of events."""

    def give_unsafe(self, event: Event) -> None:
        """Do nothing: what waits is kept in a file already."""

    def health(self) -> FileStatus:
        """Return what matters of this outlet now."""
        position = self._journal.position(self.name)
        return FileStatus(
            position=position,
            backlog=max(0, self._journal.last - position),
            written=self._written,
            mended_bytes=self._file.mended_bytes,
            rotations=self._file.rotations,
            trouble=self._troubles.standing,
        )


def remedy(path: Path, error: Exception) -> str:
    """Return what is wrong with the events file and what to do about it."""
    code = error.errno if isinstance(error, OSError) else None
    what = {
        errno.ENOSPC: "the disk is full; delete what is not needed on it",
        errno.EDQUOT: "this user's share of the disk is used up; delete what is not needed",
        errno.EROFS: "the disk is read-only; make it writable, a card may have failed",
        errno.ENOENT: f"the folder {path.parent} is not there; plug the disk in, or make the folder",
        errno.EACCES: "this user may not write there; change the owner of the folder, or the outlet's path",
        errno.EISDIR: "that is a folder; name a file",
    }.get(code or 0, str(error))
    return f"{path} cannot be written: {what}. {NOTHING_LOST}"
