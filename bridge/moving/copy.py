"""A journal copied while the daemon writes it, and looked through afterwards.

SQLite's online backup (https://www.sqlite.org/backup.html) reads from one snapshot, held by a transaction of its own:
in WAL mode a reader never makes the writer wait, so weighing goes on; only the WAL grows meanwhile.
"""

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.journal.reading import StoreError

PAGES = 512
"""Pages copied between two words on how far it is: 2 MB."""
Progress = Callable[[int, int], None]
"""Told what is done, of how much."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a journal holds: events, weighings, the last sequence, its site (None when empty), outlets' positions."""

    events: int
    weighings: int
    last: int
    site: str | None
    positions: Mapping[str, int]


def copy(source: Path, target: Path, progress: Progress = lambda _done, _of: None) -> Contents:
    """Copy a journal, running or not, into a new file and look through the copy.  Raises StoreError saying why not."""
    if not source.exists():
        raise StoreError(f"there is no journal at {source}; the daemon makes it when it first runs")
    try:
        with _opened(source) as reading, contextlib.closing(sqlite3.connect(target, isolation_level=None)) as writing:
            reading.execute("begin")
            reading.execute("select count(*) from sqlite_master").fetchone()  # the snapshot is taken at the first read
            reading.backup(writing, pages=PAGES, progress=lambda _, left, pages: progress(pages - left, pages), sleep=0)
            writing.execute("pragma journal_mode = delete")  # one file, nothing beside it
    except sqlite3.Error as error:
        raise StoreError(f"{source} could not be copied: {error}") from None
    return look(target)


def look(path: Path) -> Contents:
    """Look through a journal that nobody writes.  Raises StoreError when it is damaged or none at all."""
    try:
        with _opened(path) as reading:
            found = reading.execute("pragma integrity_check(1)").fetchone()[0]
            if found != "ok":
                raise StoreError(f"{path} is damaged: {found}")
            tables = {name for (name,) in reading.execute("select name from sqlite_master where type = 'table'")}
            if not {"event", "kept"} <= tables:
                raise StoreError(f"{path} is no journal: it lacks the tables of one")
            events, last = reading.execute("select count(*), coalesce(max(seq), 0) from event").fetchone()
            weighings = reading.execute("select count(distinct weighing) from event").fetchone()[0]
            body = reading.execute("select body from event order by seq desc limit 1").fetchone()
            kept = reading.execute("select name, body from kept where kind = 'position'").fetchall()
    except sqlite3.Error as error:
        raise StoreError(f"{path} is no journal that can be read: {error}") from None
    site = site_of(body[0]) if body else None
    return Contents(events, weighings, last, site, {name: int(position) for name, position in kept})


def foreign(path: Path, site: str) -> str | None:
    """Return why a file is not this site's journal to go on with; None when it is, or when there is none yet.

    A file without tables is what a copy by hand leaves of a journal that was being written: all was in the log beside
    it.  What is damaged otherwise is the journal's own to mend.
    """
    beside = (Path(f"{path}-wal"), Path(f"{path}.lock"))
    try:
        if not path.exists() or path.stat().st_size == 0:
            return None
        with _opened(path) as reading:
            tables = {name for (name,) in reading.execute("select name from sqlite_master where type = 'table'")}
            if not tables and not any(one.exists() and one.stat().st_size for one in beside):
                return (
                    f"{path} holds nothing: it was copied by hand while it was written, without what stood beside it.  "
                    "Copy with neckyoke backup; if nothing was ever weighed here, delete it"
                )
            if "event" not in tables:
                return None
            body = reading.execute("select body from event order by seq desc limit 1").fetchone()
    except (sqlite3.Error, OSError):
        return None
    found = site_of(body[0]) if body else None
    if found is None or found == site:
        return None
    return (
        f"{path} is the journal of site {found!r}, and this is {site!r}: ids are made of it.  "
        'Give each site a journal of its own ([journal] path = "…"), or write the site as it was'
    )


def site_of(body: str) -> str | None:
    """Return the site of an event, from its source."""
    with contextlib.suppress(ValueError, KeyError, IndexError, AttributeError):
        return str(json.loads(body)["source"].split("/")[1])
    return None


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, timeout=5.0)
    with contextlib.closing(connection):
        yield connection
