"""The journal's SQLite file: schema and statements, synchronous, one connection.

    event     one row an event, never changed; `seq` is the event's sequence.  The columns beside the body are what
              reports look for; only weighings fill them, so that the partial indexes cost other events nothing
    animal, withheld   the herd book (bridge/journal/herd_tables.py)
    kept      what is remembered by kind and name: how far each outlet has got, the stays that had settled and not
              ended, and small values such as a station's memory and the latest state of each link

WAL with synchronous FULL: a commit that returned survives a power cut (SQLite's documentation of the pragma, and
tests/bridge/journal/test_journal_power.py).  One connection writes and nobody else does: versions up to 3.51.2 can
damage a file that two connections write and checkpoint at the same moment.  The statements go through any connection
with an `execute` like sqlite3's, so that the power-cut test can put its own file system below them.
"""

import contextlib
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, NamedTuple, Protocol, TypeAlias

from neckyoke.bridge.events import Event, JobState, LinkState, Weighing, read_event, spell_time
from neckyoke.bridge.journal import herd_tables

SCHEMA_VERSION = 2
Kind: TypeAlias = Literal["base", "position", "open-stay", "link", "job", "value"]
NEVER = "0000-00-00"
"""A date before all others: while today is not known, no dose has passed."""
CHUNK = 500
"""Rows looked at in one step of retention: short enough not to hold up a weighing."""

BIRTH_PRAGMAS = ("pragma auto_vacuum = incremental",)
"""Only of effect before anything is in the file."""
PRAGMAS = (
    "pragma journal_mode = wal",
    "pragma synchronous = full",
    "pragma wal_autocheckpoint = 256",
    "pragma journal_size_limit = 4194304",
    "pragma temp_store = memory",
)
SCHEMA = (
    """create table event(seq integer primary key, type text not null, at integer,
       weighing text, revision integer, tag text, began text, body text not null) strict""",
    "create unique index event_weighing on event(weighing, revision) where weighing is not null",
    "create index event_tag on event(tag) where tag is not null",
    "create index event_began on event(began) where began is not null",
    "create table kept(kind text, name text, body text not null, primary key(kind, name)) strict, without rowid",
)
INSERT = (
    "insert into event(seq, type, at, weighing, revision, tag, began, body) values (?, ?, ?, ?, ?, ?, ?, ?)"
    " on conflict do nothing"
)
LATEST = (
    "select body from event as e where weighing is not null and not exists"
    " (select 1 from event where weighing = e.weighing and revision > e.revision)"
)

NEWEST = """
select body from event where weighing = coalesce(?, (
    select weighing from event where revision = 1 and json_extract(body, '$.data.station') = ?
    and (? is null or json_extract(body, '$.data.number') = ?) order by seq desc limit 1
)) and json_extract(body, '$.data.station') = ? order by revision desc limit 1
"""


class Connection(Protocol):
    """What is used of a database connection: sqlite3's and apsw's both have it."""

    def execute(self, sql: str, parameters: Sequence[Any] = ..., /) -> Iterable[Any]:
        """Run one statement and give its rows."""

    def close(self) -> None:
        """Close the file."""


class StoreError(Exception):
    """The file cannot be used as a journal; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What is written together or not at all.  A stay or value of None is taken out."""

    events: Sequence[Event] = ()
    open_stays: Mapping[str, str | None] = field(default_factory=dict)
    values: Mapping[str, str | None] = field(default_factory=dict)
    positions: Mapping[str, int] = field(default_factory=dict)


class Written(NamedTuple):
    """An event as written: with its sequence, and spelled."""

    sequence: int
    body: str
    event: Event


def connect(path: Path) -> sqlite3.Connection:
    """Open the file for the one connection that writes it."""
    return sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)


class Reading:
    """What can be asked of a journal's file, also of one opened read-only.  Not to be used by two threads at once."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def _rows(self, sql: str, *parameters: Any) -> list[tuple[Any, ...]]:
        return list(self._connection.execute(sql, parameters))

    def read(self, after: int, limit: int) -> list[tuple[int, str]]:
        """Return at most `limit` events beyond a sequence, oldest first, each with its sequence."""
        rows = self._rows("select seq, body from event where seq > ? order by seq limit ?", after, limit)
        return [(seq, body) for seq, body in rows]

    def kept(self, kind: Kind) -> dict[str, str]:
        """Return what is remembered of one kind, by name."""
        return dict(self._rows("select name, body from kept where kind = ?", kind))

    def weighings(
        self,
        *,
        tag: str | None = None,
        since: str | None = None,
        until: str | None = None,
        limit: int | None = None,
        animals: Sequence[str] = (),
        tags: Sequence[str] = (),
    ) -> list[str]:
        """Return the latest revision of each weighing whose stay began in [since, until), oldest first.

        Times are spelled as in events.  With `limit`, only the latest so many.  With `animals` or `tags`, those that
        name one of these animals by its id in the herd book, or have one of these tags.
        """
        sql, parameters = LATEST, list[Any]()
        if animals or tags:
            of = "(json_extract(body, '$.data.animal.id') is not null and json_extract(body, '$.data.animal.id') in "
            sql += f" and ({of}({_marks(animals)})) or tag in ({_marks(tags)}))"
            parameters += [*animals, *tags]
        for condition, value in (("tag = ?", tag), ("began >= ?", since), ("began < ?", until)):
            if value is not None:
                sql += f" and {condition}"
                parameters.append(value)
        sql += " order by began desc, seq desc limit ?"
        rows = self._rows(sql, *parameters, -1 if limit is None else limit)
        return [body for (body,) in reversed(rows)]

    def weighing(self, station: str, *, weighing: str | None = None, number: int | None = None) -> str | None:
        """Return the newest revision of a station's weighing: by id, else the last of that number, else the last."""
        rows = self._rows(NEWEST, weighing, station, number, number, station)
        return rows[0][0] if rows else None

    def latest(self) -> Iterator[str]:
        """Yield the latest revision of every weighing, one at a time however many there are."""
        for (body,) in self._connection.execute(LATEST + " order by seq"):
            yield body

    def size(self) -> int:
        """Return the bytes in use; the file itself may be larger by pages to be used again."""
        pages, free, page = (self._pragma(name) for name in ("page_count", "freelist_count", "page_size"))
        return (pages - free) * page

    def _pragma(self, name: str) -> int:
        return int(self._rows(f"pragma {name}")[0][0])

    def check(self) -> str | None:
        """Look through the file for damage: None when it is sound, else what SQLite says."""
        (answer,) = self._rows("pragma quick_check(1)")[0]
        return None if answer == "ok" else str(answer)

    def close(self) -> None:
        """Close the file; the last writer to do so folds the write-ahead log into it."""
        self._connection.close()

    @property
    def herd(self) -> herd_tables.HerdReading:
        """The herd book, as far as this file has one."""
        return herd_tables.HerdReading(self._rows)


def _marks(values: Sequence[str]) -> str:
    return ", ".join("?" for _ in values)


class Store(Reading):
    """The open file, for its one writer.

    `last` is the sequence of the last event, 0 when there is none.  `base` is for a file begun in place of a damaged
    one: sequences go on above it.
    """

    def __init__(self, connection: Connection, *, base: int = 0) -> None:
        super().__init__(connection)
        version = self._pragma("user_version")
        if version > SCHEMA_VERSION:
            raise StoreError(f"it was written by a later neckyoke (schema {version}); use that one, or another file")
        for pragma in PRAGMAS if version else (*BIRTH_PRAGMAS, *PRAGMAS):
            self._rows(pragma)
        if version < SCHEMA_VERSION:
            with self.transaction():
                self._take_over(version, base)
        self._base = int(self.kept("base")[""])
        self.last: int = self._rows("select coalesce(max(seq), 0) from event")[0][0]

    def _take_over(self, version: int, base: int) -> None:
        """Bring a file of an earlier version, or a new one, to this: all that is there is kept."""
        if version < 1:
            for statement in SCHEMA:
                self._rows(statement)
            self.keep("base", {"": str(base)})
        if version < 2:
            for statement in herd_tables.SCHEMA:
                self._rows(statement)
            self.rebuild_herd()
        self._rows(f"pragma user_version = {SCHEMA_VERSION}")

    def rebuild_herd(self) -> int:
        """Make the herd book anew from the events; return how many rows of it came out otherwise."""
        return herd_tables.rebuild(self._rows, NEVER)

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """All of what is done inside, or nothing."""
        self._rows("begin immediate")
        try:
            yield
            self._rows("commit")
        except BaseException:
            with contextlib.suppress(Exception):  # after some errors SQLite has rolled back already
                self._rows("rollback")
            raise

    def commit(self, entries: Sequence[Entry], at: float | None) -> list[list[Written]]:
        """Write entries in one transaction and give each entry's events as written.

        `at` is the wall clock in seconds, None when it cannot be trusted.  A revision of a weighing that is there
        already is left out: a stay has one weighing, whatever is asked twice.
        """
        last = self.last
        written: list[list[Written]] = []
        with self.transaction():
            for entry in entries:
                written.append([])
                for event in entry.events:
                    sequence = max(last, self._base) + 1
                    numbered = event.model_copy(update={"sequence": f"{sequence:010d}"})
                    body = numbered.to_json()
                    if self._insert(sequence, numbered, body, at):
                        written[-1].append(Written(sequence, body, numbered))
                        last = sequence
                self.keep("open-stay", entry.open_stays)
                self.keep("value", entry.values)
                self.keep("position", {outlet: str(sequence) for outlet, sequence in entry.positions.items()})
        self.last = last
        return written

    def _insert(self, sequence: int, event: Event, body: str, at: float | None) -> bool:
        data = event.data
        row: tuple[Any, ...] = (None, None, None, None)
        if isinstance(data, Weighing):
            row = (data.weighing, data.revision, event.subject, spell_time(data.on))
        self._rows(INSERT, sequence, event.type, None if at is None else int(at * 1000), *row, body)
        fresh = not isinstance(data, Weighing) or self._rows("select changes()")[0][0] == 1
        if fresh:
            herd_tables.take(self._rows, event, body)
        if isinstance(data, LinkState):
            self.keep("link", {data.link: body})
        elif isinstance(data, JobState):
            self._keep_job(data, body)
        return fresh

    def _keep_job(self, data: JobState, body: str) -> None:
        """Keep each station's last job, whatever is said late of an earlier one."""
        before = self.kept("job").get(data.station)
        if before is None or read_event(before).data.model_dump()["turn"] <= data.turn:
            self.keep("job", {data.station: body})

    def restore(self, row: Sequence[Any]) -> int:
        """Put back an event row read from a damaged file; give how many were put, 0 or 1."""
        self._rows(INSERT, *row)
        self.last = max(self.last, row[0])
        return int(self._rows("select changes()")[0][0])

    def keep(self, kind: Kind, values: Mapping[str, str | None]) -> None:
        """Remember values of one kind by name; None forgets."""
        for name, value in values.items():
            if value is None:
                self._rows("delete from kept where kind = ? and name = ?", kind, name)
            else:
                self._rows("insert or replace into kept(kind, name, body) values (?, ?, ?)", kind, name, value)

    def prune(self, *, floor: int, before: float | None, keep_bytes: int, today: str = NEVER) -> int:
        """Delete the oldest events up to `floor` that are older than `before` or beyond `keep_bytes`: one step.

        Gives the number deleted; 0 means that there is nothing to do.  The last event always stays, and so do animals,
        jobs and weighings whose doses hold on `today`.  Age counts only where the clock was known when the event was
        written; those written without go with the first that was.
        """
        floor = min(floor, self.last - 1)
        herd_tables.passed(self._rows, today)
        rows = self._rows(herd_tables.GOES, floor, CHUNK)
        end = max((seq for seq, at in rows if before is not None and at is not None and at < before * 1000), default=0)
        if rows and self.size() > keep_bytes:
            end = max(end, rows[len(rows) // 10][0])
        if not end:
            return 0
        with self.transaction():
            self._rows(herd_tables.DELETE, end)
            count: int = self._rows("select changes()")[0][0]
        self._rows("pragma incremental_vacuum(64)")
        return count


def sync_folder(folder: Path) -> None:
    """Make what happened to a folder's entries survive a power cut.

    A new file begins with a rollback journal that SQLite deletes without this; come back after a power cut, it would
    roll everything back.
    """
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def damaged(error: Exception) -> bool:
    """Return whether an error means that the file itself is broken, not its surroundings."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}


@contextlib.contextmanager
def read_only(path: Path) -> Iterator[Reading]:
    """Open a journal for looking only, whether or not the daemon runs: it neither writes nor checkpoints.

    Raises StoreError when there is none, or none that this user may read.
    """
    try:
        path.stat()
    except FileNotFoundError:
        raise StoreError(f"there is no journal at {path}; the daemon makes it when it first runs") from None
    except PermissionError:
        raise StoreError(f"this user may not look at {path}; run it with sudo") from None
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, timeout=5.0)
    with contextlib.closing(connection):
        yield Reading(connection)
