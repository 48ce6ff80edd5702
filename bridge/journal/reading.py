"""What can be asked of a journal's file: the statements that read, synchronous, one connection.

The statements go through any connection with an `execute` like sqlite3's, so that tests can put their own file system
below them.  A row that is damaged (bridge/journal/rows.py) is left out of every answer as if it were not there, and
remembered: the writer sets it aside, whoever only looks says how many there were.
"""

import contextlib
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Literal, Protocol, TypeAlias, get_args

from neckyoke.bridge.journal.herd_tables import OF, HerdReading
from neckyoke.bridge.journal.rows import is_sound, total_of

Kind: TypeAlias = Literal["base", "gap", "position", "open-stay", "link", "job", "value"]

LATEST = (
    "select seq, body, sum from event as e where weighing is not null{but} and not exists"
    " (select 1 from event where weighing = e.weighing and revision > e.revision{but})"
)
STATION, NUMBER = (
    f"(case when json_valid(body) then json_extract(body, '$.data.{name}') end)" for name in ("station", "number")
)
NEWEST = f"""
select seq, body, sum from event where weighing = coalesce(?, (
    select weighing from event where revision = 1{{but}} and {STATION} = ?
    and (? is null or {NUMBER} = ?) order by seq desc limit 1
)){{but}} and {STATION} = ? order by revision desc limit 1
"""  # noqa: S608  # constants

LAST_ONES = f"""
select {STATION}, weighing, max(seq) from event
where revision = 1 and seq > (select max(seq) - ? from event) group by 1
"""  # noqa: S608  # constants
RECENT = 5000
"""Events among which the last weighings of the stations are looked for."""
REVISIONS = 1000
"""Revisions read at once where all are asked for."""


class Connection(Protocol):
    """What is used of a database connection: sqlite3's and apsw's both have it."""

    def execute(self, sql: str, parameters: Sequence[Any] = ..., /) -> Iterable[Any]:
        """Run one statement and return its rows."""

    def close(self) -> None:
        """Close the file."""


class StoreError(Exception):
    """The file cannot be used as a journal; the text says why and what to do."""


def as_text(data: bytes) -> str:
    """Read text that may be damaged: bytes that are no UTF-8 stay distinct, so that its sum shows them."""
    return data.decode("utf-8", "surrogateescape")


class Reading:
    """What can be asked of a journal's file, also of one opened read-only.  Not to be used by two threads at once.

    `unsound` holds the sequences of the damaged events met so far, `unsound_kept` kind and name of damaged values.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self.unsound: set[int] = set()
        self.unsound_kept: set[tuple[str, str]] = set()

    def rows(self, sql: str, *parameters: Any) -> list[tuple[Any, ...]]:
        """Run one statement and return its rows."""
        return list(self._connection.execute(sql, parameters))

    def _but(self, sql: str) -> str:
        """Leave the damaged events that are known out of a statement."""
        known = ", ".join(map(str, sorted(self.unsound)))
        return sql.format(but=f" and seq not in ({known})" if known else "")

    def _sound(self, sql: str, *parameters: Any) -> list[tuple[int, str]]:
        """Return sequence and body of the rows of a statement that gives seq, body and sum; none of them damaged."""
        while True:
            rows = self.rows(self._but(sql), *parameters)
            unsound = {seq for seq, body, total in rows if not is_sound(seq, body, total)}
            if not unsound:
                return [(seq, body) for seq, body, _ in rows]
            self.unsound |= unsound

    def read(self, after: int, limit: int) -> list[tuple[int, str]]:
        """Return at most `limit` events beyond a sequence, oldest first, each with its sequence."""
        return self._sound("select seq, body, sum from event where seq > ?{but} order by seq limit ?", after, limit)

    def kept(self, kind: Kind) -> dict[str, str]:
        """Return what is remembered of one kind, by name."""
        found = {}
        for name, body, total in self.rows("select name, body, sum from kept where kind = ?", kind):
            if total is None or total == total_of(kind, name, body):
                found[name] = body
            else:
                self.unsound_kept.add((kind, name))
        return found

    def kept_all(self) -> None:
        """Look at everything that is remembered."""
        for kind in get_args(Kind):
            self.kept(kind)

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
            named = f"select seq from event where weighing is not null and {OF} is not null and {OF} in "  # noqa: S608
            worn = f"select seq from event where tag in ({_marks(tags)})"  # noqa: S608  # each by its own index
            sql += f" and seq in ({named}({_marks(animals)}) union {worn})"
            parameters += [*animals, *tags]
        for condition, value in (("tag = ?", tag), ("began >= ?", since), ("began < ?", until)):
            if value is not None:
                sql += f" and {condition}"
                parameters.append(value)
        sql += " order by began desc, seq desc limit ?"
        rows = self._sound(sql, *parameters, -1 if limit is None else limit)
        return [body for _, body in reversed(rows)]

    def weighing(self, station: str, *, weighing: str | None = None, number: int | None = None) -> str | None:
        """Return the newest revision of a station's weighing: by id, else the last of that number, else the last."""
        rows = self._sound(NEWEST, weighing, station, number, number, station)
        return rows[0][1] if rows else None

    def last_weighings(self) -> dict[str, str]:
        """Return the newest revision of each station's last weighing, by station; of those not too long ago."""
        found = self.rows(LAST_ONES, RECENT)
        bodies = {station: self.weighing(station, weighing=weighing) for station, weighing, _ in found if station}
        return {station: body for station, body in bodies.items() if body is not None}

    def latest(self) -> Iterator[str]:
        """Yield the latest revision of every weighing, one at a time however many there are."""
        for seq, body, total in self._connection.execute(self._but(LATEST + " order by seq")):
            if is_sound(seq, body, total):
                yield body
            else:
                self.unsound.add(seq)

    def revisions(self) -> Iterator[str]:
        """Yield every revision of every weighing, in the order in which they were written."""
        every = "select seq, body, sum from event where weighing is not null and seq > ?{but} order by seq limit ?"
        after = 0
        while rows := self._sound(every, after, REVISIONS):
            yield from (body for _, body in rows)
            after = rows[-1][0]

    def jobs(self) -> Iterator[str]:
        """Yield the events of jobs, oldest first."""
        for (body,) in self._connection.execute("select body from event where type = 'neckyoke.job' order by seq"):
            yield body

    def size(self) -> int:
        """Return the bytes in use; the file itself may be larger by pages to be used again."""
        pages, free, page = (self._pragma(name) for name in ("page_count", "freelist_count", "page_size"))
        return (pages - free) * page

    def _pragma(self, name: str) -> int:
        return int(self.rows(f"pragma {name}")[0][0])

    def check(self) -> str | None:
        """Look through the file's structure for damage: None when it is sound, else what SQLite says."""
        (answer,) = self.rows("pragma quick_check(1)")[0]
        return None if answer == "ok" else str(answer)

    @property
    def herd(self) -> HerdReading:
        """The herd book, as far as this file has one."""
        return HerdReading(self.rows, self._sound)

    def close(self) -> None:
        """Close the file; the last writer to do so folds the write-ahead log into it."""
        self._connection.close()


def _marks(values: Sequence[str]) -> str:
    return ", ".join("?" for _ in values)


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
    connection.text_factory = as_text
    with contextlib.closing(connection):
        yield Reading(connection) if _has_sums(connection) else OldReading(connection)


def _has_sums(connection: sqlite3.Connection) -> bool:
    return any(row[1] == "sum" for row in connection.execute("pragma table_info(event)"))


class OldReading(Reading):
    """A file of before the sums, only looked at: the daemon takes it over when it next starts."""

    def rows(self, sql: str, *parameters: Any) -> list[tuple[Any, ...]]:
        """Run one statement and return its rows."""
        return super().rows(_without_sums(sql), *parameters)

    def latest(self) -> Iterator[str]:
        """Yield the latest revision of every weighing."""
        for _, body in self._sound(LATEST + " order by seq"):
            yield body


def _without_sums(sql: str) -> str:
    return sql.replace("body, sum from", "body, null from")
