r"""A file of events, one JSON object a line, that only ever grows at its end.

    a line without its \n is not yet an event

A batch of lines goes out in one write to a descriptor opened for appending and is synced before anyone is told.  When
that fails, the file is cut back to where it was.  After a power cut the end may be a torn line, or blocks of zeros that
were never written: both are cut off on opening, and since nobody was told of them they are written again.

Rotation renames the file to `NAME-YYYYMMDD-NNN.jsonl`; the number only counts up, so that a clock that was set back
overwrites nothing.
"""

import errno
import json
import os
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from neckyoke.bridge.journal.store import sync_folder

BLOCK = 65536
TAIL_EVENTS = 256
"""Events at the end whose ids are remembered on opening: an outlet's largest batch, rotated away or not."""


class Appender:
    """The file at `path`.  Every method may raise OSError; after that, `close` and `open` again."""

    def __init__(self, path: Path, *, rotate_bytes: float, daily: bool) -> None:
        self.path = path
        self.mended_bytes = 0
        self.rotations = 0
        self._rotate_bytes = rotate_bytes
        self._daily = daily
        self._fd = -1
        self._size = 0
        self._cut_to: int | None = None
        self._day: date | None = None
        self._there: set[str] = set()

    def open(self) -> None:
        """Open the file, making it when there is none, and mend its end."""
        new = not self.path.exists()
        self._fd = os.open(self.path, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o644)
        if new:
            sync_folder(self.path.parent)
        state = os.fstat(self._fd)
        self._size = state.st_size
        self._day = date.fromtimestamp(state.st_mtime)  # noqa: DTZ012  # the farm's day, not Greenwich's
        if self._cut_to is not None:
            self._cut(min(self._cut_to, self._size))
        tail = self._mend()
        if len(tail) < TAIL_EVENTS and (old := self._rotated()):
            with old[-1].open("rb") as before:
                tail += _end_of(before.fileno(), os.fstat(before.fileno()).st_size).splitlines()
        self._there = {name for line in tail if (name := _event_id(line))}

    def close(self) -> None:
        """Close the file.  Does nothing when it is not open."""
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    def append(self, lines: Sequence[str], today: date) -> int:
        """Write the events that are not there yet and sync them; return how many were written."""
        if self._moved():
            self.close()
            self.open()
        fresh = [line for line in lines if not self._there or _event_id(line.encode()) not in self._there]
        if not fresh:
            return 0
        data = "".join(line + "\n" for line in fresh).encode()
        if self._size and (self._size + len(data) > self._rotate_bytes or (self._daily and today != self._day)):
            self._rotate(today)
        self._write(data)
        self._day = today
        self._there.clear()
        return len(fresh)

    def _write(self, data: bytes) -> None:
        self._cut_to = self._size
        try:
            _write_all(self._fd, data)
            os.fdatasync(self._fd)
        except OSError:
            self._cut(self._cut_to)  # also what a failed sync left in memory only: it would look written and not be
            raise
        self._cut_to = None
        self._size += len(data)

    def _cut(self, size: int) -> None:
        if size < os.fstat(self._fd).st_size:
            os.ftruncate(self._fd, size)
            os.fsync(self._fd)
        self._size = size
        self._cut_to = None

    def _moved(self) -> bool:
        """Return whether somebody renamed or deleted the file: writing on would go where nobody looks."""
        here = os.fstat(self._fd)
        try:
            there = self.path.stat()
        except FileNotFoundError:
            return True
        return (here.st_dev, here.st_ino) != (there.st_dev, there.st_ino)

    def _mend(self) -> list[bytes]:
        """Cut off what is no whole line at the end; return the last lines."""
        tail = _end_of(self._fd, self._size)
        whole = tail[: tail.rfind(b"\n") + 1]
        while whole and b"\0" in (last := whole[whole.rfind(b"\n", 0, -1) + 1 :]):
            whole = whole[: -len(last)]
        torn = len(tail) - len(whole)
        if torn:
            self.mended_bytes += torn
            self._cut(self._size - torn)
        return whole.splitlines()[-TAIL_EVENTS:]

    def _rotate(self, today: date) -> None:
        day = f"{self._day or today:%Y%m%d}"
        taken = [old.stem.rpartition("-")[2] for old in self._rotated(day)]
        number = max((int(end) for end in taken if end.isdigit()), default=0) + 1
        self.path.rename(self.path.with_name(f"{self.path.stem}-{day}-{number:03d}{self.path.suffix}"))
        self.rotations += 1
        self.close()
        self.open()

    def _rotated(self, day: str = "*") -> list[Path]:
        """Return the files rotated away, the latest last."""
        found = self.path.parent.glob(f"{self.path.stem}-{day}-*{self.path.suffix}")
        return sorted(found, key=lambda old: (old.stat().st_mtime_ns, old.name))


def _end_of(fd: int, size: int) -> bytes:
    """Read a file's last lines, `TAIL_EVENTS` and some."""
    tail = b""
    while size > 0 and tail.count(b"\n") <= TAIL_EVENTS:
        step = min(BLOCK, size)
        size -= step
        tail = os.pread(fd, step, size) + tail
    return tail


def _write_all(fd: int, data: bytes) -> None:
    """Write in one go; a write cut short means that the disk filled up on the way."""
    if os.write(fd, data) != len(data):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _event_id(line: bytes) -> str | None:
    """Find the id of an event in its line; None when it is no event."""
    try:
        event = json.loads(line)
    except ValueError:
        return None
    name = event.get("id") if isinstance(event, dict) else None
    return name if isinstance(name, str) else None
