"""The troubles of the last days, kept in a few small files of our own.

A Raspberry Pi keeps systemd's journal in memory: what went wrong before a power cut is gone after it.  So troubles, and
the beginning and end of each run, are appended here too, a line of JSON each; flushed and not synced, since a card
wears by syncs and the last second before a power cut says little.

    troubles.jsonl, troubles.1.jsonl, ...      the newest first; each at most `part_bytes`, at most `parts` of them
"""

import contextlib
import json
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from neckyoke.bridge.events import spell_time

NAME = "troubles.jsonl"
PART_BYTES = 1_000_000
PARTS = 5
AT_LEAST = 20
"""Records shown however old they are: after a power cut the clock may be behind what was written before it."""


class TroubleLog:
    """The log of one daemon, in its state folder.  What cannot be written is let go: weighing matters more."""

    def __init__(self, folder: Path, *, part_bytes: int = PART_BYTES, parts: int = PARTS) -> None:
        self.path = folder / NAME
        self._part_bytes, self._parts = part_bytes, parts

    def note(self, at: datetime, about: str, text: str, **more: object) -> None:
        """Append one record; what is None in `more` is left out."""
        known = {name: value for name, value in more.items() if value is not None}
        line = json.dumps({"time": spell_time(at), "about": about, "text": text, **known}) + "\n"
        with contextlib.suppress(OSError):
            if self.path.exists() and self.path.stat().st_size + len(line) > self._part_bytes:
                self._rotate()
            with self.path.open("a", encoding="utf-8") as out:
                out.write(line)

    def _rotate(self) -> None:
        for number in range(self._parts - 1, 0, -1):
            older = part(self.path, number)
            younger = part(self.path, number - 1)
            if younger.exists():
                younger.replace(older)

    def last(self) -> Mapping[str, Any] | None:
        """Return the last record there is."""
        with contextlib.suppress(OSError):
            return next(iter(list(read(self.path.parent))[-1:]), None)
        return None


def part(path: Path, number: int) -> Path:
    """Return the path of a part, 0 the newest."""
    return path if number == 0 else path.with_suffix(f".{number}.jsonl")


def read(folder: Path, parts: int = PARTS) -> Iterator[Mapping[str, Any]]:
    """Yield every record, the oldest first; a torn line is passed over.  Raises PermissionError."""
    for number in reversed(range(parts)):
        path = part(folder / NAME, number)
        if not path.exists():
            continue
        for line in path.read_text(encoding="utf-8", errors="replace").splitlines():
            with contextlib.suppress(ValueError):
                record = json.loads(line)
                if isinstance(record, dict):
                    yield record


def recent(folder: Path, now: datetime, hours: float = 24.0) -> list[Mapping[str, Any]]:
    """Return the records of the last hours, and always the last few."""
    records = list(read(folder))
    since = spell_time(now - timedelta(hours=hours))
    first = next((at for at, record in enumerate(records) if str(record.get("time")) >= since), len(records))
    return records[min(first, max(0, len(records) - AT_LEAST)) :]
