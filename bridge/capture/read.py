"""Reads captures: one file, the parts of a run, or the newest run in the folder of a ring (see `write`)."""

import json
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from neckyoke.bridge.capture.format import CaptureError, Header, LinkChange, Record, read_header, read_record
from neckyoke.bridge.capture.lines import LinesError, read_lines
from neckyoke.bridge.events import spell_time

NOTES = 10
PART = re.compile(r"capture-(\d{6})-.*\.jsonl\.gz")


class Capture:
    """A capture being read: `header`, its records by iteration, and `notes` on what could not be read.

    The notes are complete when the records have been read to the end.  The links' states of the first header come as
    records of their own, so that a part in the middle of a run can be replayed alone.
    """

    def __init__(self, paths: Iterable[Path]) -> None:
        self._paths = list(paths)
        self.notes: list[str] = []
        self._unsaid = 0
        self._t = 0.0
        if not self._paths:
            raise CaptureError("there is no capture there")
        self.header = _first_header(self._paths[0])

    def __iter__(self) -> Iterator[Record]:
        """Yield the records in order, without any that is broken."""
        self.notes.clear()
        self._t, self._unsaid = 0.0, 0
        first = True
        for path in self._paths:
            for record in self._part(path):
                if first:
                    yield from (LinkChange(record.t, link, state) for link, state in self.header.links.items())
                    first = False
                yield record
        if self._unsaid:
            self.notes.append(f"and {self._unsaid} more such lines")

    def _part(self, path: Path) -> Iterator[Record]:
        lines = _lines(path, self.note)
        try:
            header = read_header(next(lines)[1])
        except StopIteration:
            self.note(f"{path.name} is empty or cut in its first line")
            return
        except CaptureError as error:
            self.note(f"{path.name} is left out: {error}")
            return
        if header.started != self.header.started:
            self.note(f"{path.name} is left out: it is of another run, begun {spell_time(header.started)}")
            return
        for number, line in lines:
            if "gap" in line:
                self.note(f"{path.name}, line {number}: {line['gap']} records are missing: the disk was too slow")
                continue
            try:
                record = read_record(line)
            except (KeyError, TypeError, ValueError, AttributeError):
                self.note(f"{path.name}, line {number} is no record and was skipped")
                continue
            if record.t < self._t:
                self.note(f"{path.name}, line {number} goes back in time and was skipped")
                continue
            self._t = record.t
            yield record

    def note(self, text: str, *, always: bool = False) -> None:
        """Keep what is to be said at the end; beyond a few, only how many more there were."""
        if always or len(self.notes) < NOTES:
            self.notes.append(text)
        else:
            self._unsaid += 1


def read_capture(*paths: Path) -> Capture:
    """Open a capture: a file (.jsonl or .jsonl.gz), several parts of one run in order, or the folder of a ring.

    Of a folder the newest run is read.  Raises CaptureError when the first is no capture, OSError when it cannot be
    read.  What comes later and is broken ends up in the notes.
    """
    if len(paths) == 1 and paths[0].is_dir():
        return read_runs(paths[0])[0]
    return Capture(paths)


def read_runs(folder: Path) -> list[Capture]:
    """Open every run in the folder of a ring, newest first.  Raises CaptureError when there is none."""
    runs: dict[datetime, list[Path]] = {}
    for part in ring_parts(folder):
        if (started := _started(part)) is not None:
            runs.setdefault(started, []).append(part)
    if not runs:
        raise CaptureError(f"{folder} holds no capture-*.jsonl.gz that can be read")
    return [Capture(parts) for parts in reversed(runs.values())]


def ring_parts(folder: Path) -> list[Path]:
    """List the parts in a folder, oldest first (their numbers count on over all runs)."""
    return sorted(path for path in folder.glob("capture-*.jsonl.gz") if PART.fullmatch(path.name))


def _started(path: Path) -> datetime | None:
    try:
        return _first_header(path).started
    except (CaptureError, OSError):
        return None


def _first_header(path: Path) -> Header:
    for _, line in _lines(path, lambda _, **_options: None):
        try:
            return read_header(line)
        except CaptureError as error:
            raise CaptureError(f"{path}: {error}") from None
    raise CaptureError(f"{path} is no capture: it is empty, or its first line is broken")


def _lines(path: Path, note: Callable[..., None]) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield the whole lines of a file with their numbers, as objects; note where it breaks off."""
    number = 0
    lines = read_lines(path)
    while True:
        number += 1
        try:
            line = next(lines, None)
        except (LinesError, OSError) as error:
            if number == 1 and isinstance(error, OSError):
                raise  # it cannot be opened: that is no recording that was cut
            why = error if isinstance(error, LinesError) else "it breaks off: it was cut there"
            note(f"{path.name} is read to line {number - 1}: {why}", always=True)
            return
        if line is None:
            return
        if line and not line.endswith(b"\n"):
            note(f"{path.name} breaks off in line {number}: the recording was cut there")
            return
        if line.isspace():
            continue
        try:
            found = json.loads(line)
        except (ValueError, RecursionError):
            found = None
        if isinstance(found, dict):
            yield number, found
        else:
            note(f"{path.name}, line {number} is no record and was skipped")
