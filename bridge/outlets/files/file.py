"""A file of events, one a line, as a far side.

The position moves once a batch is synced.  A crash in between gives batches again on the next start, but for the events
that are found at the file's end: the file has each event once.
"""

import asyncio
import errno
from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path

from neckyoke.bridge.outlets.files.appender import TAIL_EVENTS, Appender
from neckyoke.bridge.outlets.follow import OutletError
from neckyoke.bridge.outlets.taker import Followed, Row, Taken, Taker
from neckyoke.bridge.telling.status import FileStatus


def local_day() -> date:
    """Return today by this machine's time zone."""
    return datetime.now().astimezone().date()


class EventsFile(Taker):
    """One file."""

    batch = TAIL_EVENTS  # no more than a start finds again
    steady_s = 0.0  # a batch that is synced is written for good
    longest_s = 30.0

    def __init__(
        self,
        path: Path,
        *,
        rotate_mb: float = 50.0,
        rotate_daily: bool = False,
        today: Callable[[], date] = local_day,
    ) -> None:
        self.path, self.where = path, str(path)
        self._file = Appender(path, rotate_bytes=rotate_mb * 1_000_000, daily=rotate_daily)
        self._today = today
        self._written = 0

    async def open(self) -> bool:
        """Open the file and mend its end; whether it can be written shows when it is."""
        try:
            await asyncio.to_thread(self._file.open)
        except OSError as error:
            raise OutletError(remedy(self.path, error)) from error
        return False

    async def take(self, rows: Sequence[Row]) -> Taken:
        """Write a batch and sync it."""
        lines = [body for _, body in rows]
        try:
            self._written += await asyncio.to_thread(self._file.append, lines, self._today())
        except OSError as error:
            raise OutletError(remedy(self.path, error)) from error
        for sequence, _ in rows:
            yield sequence, ""

    async def close(self, *, stopped: bool) -> None:  # noqa: ARG002
        """Close the file."""
        self._file.close()

    def status(self, followed: Followed) -> FileStatus:
        """Return its figures."""
        return FileStatus(
            position=followed.position,
            backlog=followed.backlog,
            written=self._written,
            mended_bytes=self._file.mended_bytes,
            rotations=self._file.rotations,
            trouble=followed.trouble,
        )


def remedy(path: Path, error: OSError) -> str:
    """Return what is wrong with the events file and what to do about it."""
    what = {
        errno.ENOSPC: "the disk is full; delete what is not needed on it",
        errno.EDQUOT: "this user's share of the disk is used up; delete what is not needed",
        errno.EROFS: "the disk is read-only; make it writable, a card may have failed",
        errno.ENOENT: f"the folder {path.parent} is not there; plug the disk in, or make the folder",
        errno.EACCES: "this user may not write there; change the owner of the folder, or the outlet's path",
        errno.EISDIR: "that is a folder; name a file",
    }.get(error.errno or 0, str(error))
    return f"{path} cannot be written: {what}"
