"""Opening the journal's file; a damaged one is set aside and kept, and what can be read of it goes into a new one.

Sequences must not repeat, or a recorder would take new events for old ones.  The new file cannot know which the damaged
one gave last, so it goes on from the seconds since 1970: above anything a box can have given that writes less than one
event a second over its life.

The new file is made beside the damaged one and takes its place when it is whole, so that this can fail or be cut off at
any point and begin again.
"""

import contextlib
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from neckyoke.bridge.journal.store import Kind, Reading, Store, connect, damaged, sync_folder

KINDS: tuple[Kind, ...] = ("position", "open-stay", "link", "job", "value")
EVENT_COLUMNS = "seq, type, at, weighing, revision, tag, began, body"


@dataclass(frozen=True, slots=True)
class Opened:
    """The open store, and what to tell a person when the old file was damaged."""

    store: Store
    damage: str | None = None


def open_store(path: Path, wall: float, complaint: str | None = None) -> Opened:
    """Open the journal's file, checking it first; with a complaint, take it for damaged at once.

    `wall` is seconds since 1970: the sequences of a new file go on above it.  Raises sqlite3.Error, OSError or
    StoreError when the surroundings are at fault.
    """
    fresh = path.with_name(f"{path.name}.rescue")
    if fresh.exists() and not path.exists():
        fresh.rename(path)  # the power went between the two renames below
    if complaint is None:
        store, complaint = _try(path)
        if store is not None:
            sync_folder(path.parent)
            return Opened(store)
    for leftover in _files(fresh):
        leftover.unlink(missing_ok=True)
    with contextlib.closing(Store(connect(fresh), base=int(wall))) as store:
        count = rescue(path, store)
    aside = set_aside(path)
    fresh.rename(path)
    sync_folder(path.parent)
    return Opened(
        Store(connect(path)),
        f"The journal was damaged ({complaint}). It is kept as {aside}; {count} events were read from it into a new "
        "one. Check today's tally, and the card: a card that damages files is near its end.",
    )


def _files(path: Path) -> tuple[Path, Path, Path]:
    """Name a database's three files: itself, its write-ahead log, and the log's index."""
    return path, Path(f"{path}-wal"), Path(f"{path}-shm")


def _try(path: Path) -> tuple[Store | None, str | None]:
    connection = connect(path)
    try:
        store = Store(connection)
        complaint = store.check()
    except sqlite3.DatabaseError as error:
        connection.close()
        if not damaged(error):
            raise
        return None, str(error)
    except BaseException:
        connection.close()
        raise
    if complaint is None:
        return store, None
    connection.close()
    return None, complaint


def set_aside(path: Path) -> Path:
    """Rename a damaged file, and its write-ahead log with it, to the first free name; give that name."""
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    _, log, index = _files(path)
    path.rename(aside)
    if log.exists():
        log.rename(f"{aside}-wal")
    index.unlink(missing_ok=True)
    return aside


def rescue(path: Path, store: Store) -> int:
    """Copy whatever can be read of a damaged file into a new store; give the number of events."""
    uri = f"{path.absolute().as_uri()}?mode=ro"
    with contextlib.closing(sqlite3.connect(uri, uri=True, isolation_level=None)) as old:
        with store.transaction():
            count = sum(store.restore(row) for row in _readable_events(old))
            store.rebuild_herd()
        for kind in KINDS:
            with contextlib.suppress(sqlite3.Error):
                store.keep(kind, Reading(old).kept(kind))
    return count


def _readable_events(old: sqlite3.Connection) -> Iterator[tuple[Any, ...]]:
    """Read from the front until it breaks, then from the back until it breaks or meets what is read."""
    reached = 0
    try:
        for row in old.execute(f"select {EVENT_COLUMNS} from event order by seq"):  # noqa: S608  # a constant
            reached = row[0]
            yield row
    except sqlite3.Error:
        with contextlib.suppress(sqlite3.Error):
            yield from old.execute(
                f"select {EVENT_COLUMNS} from event where seq > ? order by seq desc",  # noqa: S608  # a constant
                (reached,),
            )
