"""The journal's SQLite file for its one writer: schema and statements, synchronous, one connection.

    event     one row an event, never changed; `seq` is the event's sequence, `sum` its body's checksum.  The columns
              between are what reports look for; only weighings fill them, so that the partial indexes cost no others
    animal, withheld   the herd book (bridge/journal/herd_tables.py)
    kept      what is remembered by kind and name, each with its checksum: how far each outlet has got, the stays that
              are open, small values such as a station's memory, the latest state of each link, and sequences that are
              known to be missing
    aside     rows that were found damaged, as they were found

WAL with synchronous FULL: a commit that returned survives a power cut (SQLite's documentation of the pragma, and
tests/bridge/journal/test_journal_power.py).  One connection writes and nobody else does: versions up to 3.51.2 can
damage a file that two connections write and checkpoint at the same moment.
"""

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from neckyoke.bridge.events import Event, JobState, LinkState, Weighing, read_event, spell_time
from neckyoke.bridge.journal import herd_tables
from neckyoke.bridge.journal.reading import Connection, Kind, Reading, StoreError, as_text
from neckyoke.bridge.journal.rows import NO_COLUMNS, Found, columns_of, total_of

SCHEMA_VERSION = 3
NEVER = "0000-00-00"
"""A date before all others: while today is not known, no dose has passed."""
CHUNK = 500
"""Rows looked at in one step of retention: short enough not to hold up a weighing."""
ASIDE_MAX = 1000
"""Damaged rows kept to be looked at; more of them say nothing new."""

BIRTH_PRAGMAS = ("pragma page_size = 4096", "pragma auto_vacuum = incremental")
"""Only of effect before anything is in the file."""
PRAGMAS = (
    "pragma journal_mode = wal",
    "pragma synchronous = full",
    "pragma wal_autocheckpoint = 256",
    "pragma journal_size_limit = 4194304",
    "pragma temp_store = memory",
    "pragma secure_delete = on",  # what was deleted must not be read from the pages as if it stood
)
ASIDE = "create table aside(id integer primary key, what text not null, body blob) strict"
SCHEMA = (
    """create table event(seq integer primary key, type text not null, at integer,
       weighing text, revision integer, tag text, began text, body text not null, sum text) strict""",
    "create unique index event_weighing on event(weighing, revision) where weighing is not null",
    "create index event_tag on event(tag) where tag is not null",
    "create index event_began on event(began) where began is not null",
    """create table kept(kind text, name text, body text not null, sum text, primary key(kind, name)) strict,
       without rowid""",
    ASIDE,
)
SUMS = ("alter table event add column sum text", "alter table kept add column sum text", ASIDE)
"""What a file of before the sums lacks."""
INSERT = (
    "insert into event(seq, type, at, weighing, revision, tag, began, body, sum) values (?, ?, ?, ?, ?, ?, ?, ?, ?)"
    " on conflict do nothing"
)
PUT = "insert or replace into kept(kind, name, body, sum) values (?, ?, ?, ?)"
ROOM = f"(select count(*) from aside) < {ASIDE_MAX}"  # noqa: S608  # a constant
EVENT_ASIDE = f"insert into aside(what, body) select ?, cast(body as blob) from event where seq = ? and {ROOM}"  # noqa: S608
KEPT_ASIDE = (
    "insert into aside(what, body) select ?, cast(body as blob) from kept"  # noqa: S608  # constants
    f" where kind = ? and name = ? and {ROOM}"
)


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
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)
    connection.text_factory = as_text
    return connection


class DamagedError(Exception):
    """The file's description of itself is not the one that was written."""


class Store(Reading):
    """The open file, for its one writer.

    `last` is the sequence of the last event, 0 when there is none; from `first` on there is each.  `base` is for a file
    begun in place of a damaged one: sequences go on above it.
    """

    def __init__(self, connection: Connection, *, base: int = 0) -> None:
        super().__init__(connection)
        version = self._pragma("user_version")
        if version:
            self._compare(version)
        for pragma in PRAGMAS if version else (*BIRTH_PRAGMAS, *PRAGMAS):
            self.rows(pragma)
        if version < SCHEMA_VERSION:
            with self.transaction():
                self._take_over(version, base)
        self.last = self.readable_last()
        known = self.kept("base")
        self._base = int(known.get("", self.last))
        self.first = int(known.get("first", 0))

    def _compare(self, version: int) -> None:
        """See whether the file is what it says it is: a bit of its header may have flipped."""
        said = None
        if version >= SCHEMA_VERSION:
            with contextlib.suppress(sqlite3.OperationalError):  # a later one may keep it otherwise
                said = self.kept("base").get("schema")
        if said is not None and said != self._described(min(version, SCHEMA_VERSION)):
            raise DamagedError("its schema is not the one it was made with")
        if version > SCHEMA_VERSION:
            if said is not None:
                raise DamagedError("its version is not the one it was made with")
            raise StoreError(f"it was written by a later neckyoke (schema {version}); use that one, or another file")

    def _described(self, version: int) -> str:
        rows = self.rows("select name, rootpage, sql from sqlite_master order by name")
        return f"{version} {total_of(repr(rows))}"

    def _take_over(self, version: int, base: int) -> None:
        """Bring a file of an earlier version, or a new one, to this: all that is there is kept.

        Old events get their sums when they are looked through.
        """
        for statement in SUMS if version else SCHEMA:
            self.rows(statement)
        if version == 2:
            self.rows("drop index event_of")
        for statement in herd_tables.SCHEMA if version < 2 else herd_tables.SCHEMA[-1:]:
            self.rows(statement)
        if version == 1:
            self.rebuild_herd()
        if version:
            for kind, name, body in self.rows("select kind, name, body from kept"):
                self.keep(kind, {name: body})
            goes = f"select coalesce(min(seq), 1) from event where type not in {herd_tables.KEPT_TYPES}"  # noqa: S608
            self.keep("base", {"first": str(self.rows(goes)[0][0])})
        else:
            self.keep("base", {"": str(base), "first": "1"})
        self.rows(f"pragma user_version = {SCHEMA_VERSION}")
        self.keep("base", {"schema": self._described(SCHEMA_VERSION)})

    def herd_agrees(self) -> bool:
        """Return whether the herd book says what the events say."""
        return herd_tables.agrees(self.rows)

    def rebuild_herd(self, today: str = NEVER) -> int:
        """Make the herd book anew from the events; return how many rows of it came out otherwise."""
        return herd_tables.rebuild(self.rows, today)

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """All of what is done inside, or nothing."""
        self.rows("begin immediate")
        try:
            yield
            self.rows("commit")
        except BaseException:
            with contextlib.suppress(Exception):  # after some errors SQLite has rolled back already
                self.rows("rollback")
            raise

    def commit(self, entries: Sequence[Entry], at: float | None) -> list[list[Written]]:
        """Write entries in one transaction and return each entry's events as written.

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
        row: tuple[Any, ...] = NO_COLUMNS
        if isinstance(data, Weighing):
            row = (data.weighing, data.revision, event.subject, spell_time(data.on))
        moment = None if at is None else int(at * 1000)
        self.rows(INSERT, sequence, event.type, moment, *row, body, total_of(body))
        fresh = not isinstance(data, Weighing) or self.rows("select changes()")[0][0] == 1
        if fresh:
            herd_tables.take(self.rows, event, body)
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

    def restore(self, found: Found) -> int:
        """Put back an event that was read from somewhere; return how many were put, 0 or 1."""
        kind, row = columns_of(found.body)
        self.rows(INSERT, found.seq, kind, found.at, *row, found.body, total_of(found.body))
        put = int(self.rows("select changes()")[0][0])
        if put:
            self.last = max(self.last, found.seq)
        return put

    def keep(self, kind: Kind, values: Mapping[str, str | None]) -> None:
        """Remember values of one kind by name; None forgets."""
        for name, value in values.items():
            if value is None:
                self.rows("delete from kept where kind = ? and name = ?", kind, name)
            else:
                total = total_of(kind, name, value)
                self.rows(PUT, kind, name, value, total)

    def go_on_above(self, base: int) -> None:
        """Use only sequences above this one from now on."""
        self._base = max(self._base, base)
        self.keep("base", {"": str(self._base)})

    def set_aside(self) -> tuple[list[int], list[tuple[str, str]]]:
        """Take the damaged rows that were met out of the way; return the events' sequences and the values' names."""
        events, values = sorted(self.unsound), sorted(self.unsound_kept)
        with self.transaction():
            for seq in events:
                self.rows(EVENT_ASIDE, f"event {seq}", seq)
                self.rows("delete from event where seq = ?", seq)
                self.keep("gap", {str(seq): str(seq)})
                self.go_on_above(seq)
            for kind, name in values:
                self.rows(KEPT_ASIDE, f"kept {kind}", kind, name)
                self.rows("delete from kept where kind = ? and name = ?", kind, name)
        self.unsound.clear()
        self.unsound_kept.clear()
        return events, values

    def readable_last(self) -> int:
        """Return the sequence of the last event that is there to be read."""
        return int(self.rows("select coalesce(max(seq), 0) from event")[0][0])

    def prune(self, *, floor: int, before: float | None, keep_bytes: int, today: str = NEVER) -> int:
        """Delete the oldest events up to `floor` that are older than `before` or beyond `keep_bytes`: one step.

        Gives the number deleted; 0 means that there is nothing to do.  The last event always stays, and so do animals,
        jobs and weighings whose doses hold on `today`.  Age counts only where the clock was known when the event was
        written; those written without go with the first that was.
        """
        floor = min(floor, self.last - 1)
        herd_tables.passed(self.rows, today)
        rows = self.rows(herd_tables.GOES, floor, CHUNK)
        end = max((seq for seq, at in rows if before is not None and at is not None and at < before * 1000), default=0)
        if rows and self.size() > keep_bytes:
            end = max(end, rows[len(rows) // 10][0])
        if not end:
            return 0
        with self.transaction():
            self.rows(herd_tables.DELETE, end)
            count: int = self.rows("select changes()")[0][0]
            self.first = end + 1
            self.keep("base", {"first": str(self.first)})
            self.keep("gap", {name: None for name, last in self.kept("gap").items() if int(last) <= end})
        self.rows("pragma incremental_vacuum(64)")
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
    if isinstance(error, UnicodeDecodeError):
        return True
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
