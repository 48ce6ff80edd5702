"""Where what the journal cannot be given is kept meanwhile, so that a stop or a power cut does not lose it.

A file of lines beside what the journal waits for: an entry each, and its sum.  The places are tried in order, and the
first that takes a line has it; what was kept in any of them is taken in at the next start, in the order it was handed
in.  When the journal has everything, the files go.
"""

import contextlib
import errno
import hashlib
import json
import os
import stat
import tempfile
from collections.abc import Sequence
from pathlib import Path

from pydantic import ValidationError

from neckyoke.bridge.events import Attention, Event, Weighing, make_id, read_event
from neckyoke.bridge.journal.rows import total_of
from neckyoke.bridge.journal.store import Entry

MEMORY = Path("/dev/shm")  # noqa: S108  # no file is read or written there that is not this user's own
"""A file system in memory: it outlives the daemon, though not the power."""


def places(journal: Path, spare: Path | None, beside: Sequence[Path]) -> list[Path]:
    """List where to keep what a journal cannot be given: the path that a person named, else beside these files."""
    near = [one.parent / f"{journal.name}.spare" for one in beside if one.parent.resolve() != journal.parent.resolve()]
    name = f"neckyoke-{hashlib.sha256(str(journal.absolute()).encode()).hexdigest()[:12]}.spare"
    memory = MEMORY if MEMORY.is_dir() else Path(tempfile.gettempdir())
    return list(dict.fromkeys([*([spare] if spare else []), *near, memory / name]))


class Spare:
    """The places.  Used by one thread at a time."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self._paths = paths
        self.torn = 0

    def left(self) -> list[Entry]:
        """Return what was kept, in order; lines that are torn or damaged are counted in `torn`."""
        found: list[tuple[float, Entry]] = []
        for path in self._paths:
            for line in _lines(path):
                body, _, total = line.rpartition(" ")
                if total != total_of(body):
                    self.torn += 1
                    continue
                try:
                    found.append(_read(body))
                except (ValueError, KeyError, TypeError, ValidationError):
                    self.torn += 1
        return [entry for _, entry in sorted(found, key=lambda one: one[0])]

    def keep(self, number: float, entry: Entry) -> Path | None:
        """Write an entry to the first place that takes it; return that, or None.  `number` orders entries."""
        body = json.dumps(
            {
                "number": number,
                "events": [event.to_json() for event in entry.events],
                "open_stays": dict(entry.open_stays),
                "values": dict(entry.values),
                "positions": dict(entry.positions),
            }
        )
        for path in self._paths:
            with contextlib.suppress(OSError):
                _append(path, f"{body} {total_of(body)}\n".encode())
                return path
        return None

    def clear(self) -> None:
        """Forget it all: the journal has it."""
        for path in self._paths:
            with contextlib.suppress(OSError):
                if path.exists():
                    path.unlink()


def _read(body: str) -> tuple[float, Entry]:
    table = json.loads(body)
    events = tuple(read_event(event) for event in table["events"])
    return table["number"], Entry(events, table["open_stays"], table["values"], table["positions"])


def _lines(path: Path) -> list[str]:
    """Read the lines of a file that this user wrote, and of no other's: folders for everybody hold anybody's files."""
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC)
    except OSError:
        return []
    about = os.fstat(descriptor)
    if not (stat.S_ISREG(about.st_mode) and about.st_uid == os.geteuid()):
        os.close(descriptor)
        return []
    with os.fdopen(descriptor, "rb") as file:
        return file.read().decode("utf-8", "replace").splitlines()


def _append(path: Path, line: bytes) -> None:
    """Append a line and wait until it would survive a power cut; what was written in part is taken back."""
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    try:
        about = os.fstat(descriptor)
        if not stat.S_ISREG(about.st_mode) or about.st_uid != os.geteuid():
            raise PermissionError(str(path))
        try:
            written = os.write(descriptor, line)
            os.fsync(descriptor)
        except OSError:
            os.ftruncate(descriptor, about.st_size)
            raise
        if written != len(line):
            os.ftruncate(descriptor, about.st_size)
            raise OSError(errno.ENOSPC, "no room", str(path))
    finally:
        os.close(descriptor)


def kept_at(path: Path | None) -> str:
    """Explain what becomes of what waits for the journal."""
    if path is None:
        return "What waits is held in memory only, and a stop or a power cut loses it: write the weights down by hand."
    return f"What waits is kept in {path}, and taken in when the journal can be written, now or after a restart."


def remedy(path: Path, error: Exception) -> str:
    """Return what is wrong with the journal's file and what to do about it."""
    said = str(error)
    if "full" in said or getattr(error, "errno", None) == errno.ENOSPC:
        return (
            f"The disk is full: {path} cannot be written. Delete what is not needed on it; nothing need be restarted."
        )
    if "readonly" in said or "read-only" in said.lower():
        return f"{path} cannot be written: the file or its disk is read-only. Make it writable; a card may have failed."
    if "unable to open" in said or isinstance(error, OSError):
        return f"{path} cannot be opened ({said}): check that its folder is there and that this user may write in it."
    return f"The journal {path} cannot be used: {said}. Copy it and change the disk: a card may have failed."


def unsafe(event: Event) -> Event | None:
    """Return the copy of an event that is told before it is safe, None where it can wait.

    A weighing's is revision 0: its first, when it is safe, is the next.  An amendment waits.
    """
    copy = event.model_copy(update={"id": make_id(event.id, "unsafe"), "safe": False})
    if isinstance(event.data, Attention):
        return copy
    if isinstance(event.data, Weighing) and event.data.revision == 1:
        return copy.model_copy(update={"data": event.data.model_copy(update={"revision": 0})})
    return None


def too_large(path: Path, size: int, behind: Sequence[str]) -> str:
    """Describe why a journal is larger than it may be."""
    text = f"{path} holds {size / 1e6:.0f} MB, more than keep_mb, for outlets that are behind: {', '.join(behind)}."
    return f"{text} See to those; nothing is deleted that they lack."
