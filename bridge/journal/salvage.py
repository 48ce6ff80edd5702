"""Opening the journal's file; what is wrong with it is told, a damaged one is set aside and read into a new one.

Sequences must not repeat, or a recorder would take new events for old ones.  Where anything is wrong it is not certain
which was given last, so they go on from the seconds since 1970: above anything a box can have given that writes less
than one event a second over its life.

The new file is made beside the damaged one and takes its place when it is whole, so that this can fail or be cut off at
any point and begin again.  What it takes is read from the pages themselves (bridge/journal/pages.py).
"""

import contextlib
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from neckyoke.bridge.journal.checkup import look_through, missing, remember_missing
from neckyoke.bridge.journal.mark import UNKNOWN, Given
from neckyoke.bridge.journal.pages import Pages
from neckyoke.bridge.journal.reading import Kind
from neckyoke.bridge.journal.rows import spelled
from neckyoke.bridge.journal.store import DamagedError, Store, connect, damaged, sync_folder
from neckyoke.bridge.many import many, many_are

LOOKED_AT_FIRST = 10
"""Steps of looking for damaged rows while the file is opened: the newest some two thousand rows."""
LOG_MAX = 64 * 1024 * 1024
"""A write-ahead log is cut back to 4 MB whenever it can be; of a larger one what is beyond this is not looked at."""
HEADER = slice(0, 16), b"SQLite format 3\0"
VERSIONS = slice(18, 20), b"\2\2"
"""What a database in WAL mode says of itself: "Database File Format", 1.3."""
CARD = "Check today's tally, and the card: a card that damages files is near its end."


@dataclass(frozen=True, slots=True)
class Opened:
    """The open store, and what to tell a person when something was wrong.

    `missing` counts the events that are gone; the rows below `before` are still to be looked at.
    """

    store: Store
    damage: str | None = None
    missing: int = 0
    before: int = 0


def open_store(path: Path, wall: float, complaint: str | None = None, given: Given = UNKNOWN) -> Opened:
    """Open the journal's file, checking it first; with a complaint, take it for damaged at once.

    `wall` is seconds since 1970: the sequences of a damaged file go on above it.  `given` are the sequences that
    were given.  Raises sqlite3.Error, OSError or StoreError when the surroundings are at fault.
    """
    fresh = path.with_name(f"{path.name}.rescue")
    if fresh.exists() and not path.exists():
        fresh.rename(path)  # the power went between the two renames below
    log = _log(path)
    if complaint is None:
        opened, complaint = _try(path, log, int(wall), given)
        if opened is not None:
            sync_folder(path.parent)
            return opened
    for leftover in _files(fresh):
        leftover.unlink(missing_ok=True)
    with contextlib.closing(Store(connect(fresh), base=int(wall))) as store:
        store.keep("base", {"first": None})  # that is the damaged one's to say
        count = rescue(Pages(path, log), store, given)
        lost = missing(store, given)
        with store.transaction():
            remember_missing(store, [*lost, range(max(store.last, given.last) + 1, int(wall) + 1)])
            store.go_on_above(max(int(wall), given.last))
    aside = set_aside(path)
    fresh.rename(path)
    sync_folder(path.parent)
    gone = sum(map(len, lost))
    numbers = [sequence for one in lost for sequence in one]
    told = f"{gone} are missing ({spelled(numbers)})" if gone else "none of those that can be counted is missing"
    text = f"The journal was damaged ({complaint}). It is kept as {aside}; read from it into a new one: "
    return Opened(Store(connect(path)), f"{text}{many(count, 'event')}; {told}. {CARD}", gone)


def _complete(store: Store, path: Path, log: bytes, wall: int, given: Given) -> Opened:
    """See what a sound file lacks or has damaged, and read from its pages and its log what can be."""
    before = store.last + 1
    for _ in range(LOOKED_AT_FIRST):
        before = look_through(store, before).before if before else 0
    store.kept_all()
    lost = missing(store, given)
    agrees = bool(store.unsound) or store.herd_agrees()
    if agrees and not (lost or store.unsound or store.unsound_kept):
        return Opened(store, before=before)
    damaged, values = store.set_aside()
    wanted = {*damaged, *(sequence for one in lost for sequence in one)}
    pages = Pages(path, log)
    with store.transaction():
        back = {found.seq for found in pages.events() if found.seq in wanted and store.restore(found)}
        store.keep("gap", {str(one): None for one in back})
        store.rebuild_herd()
        if lost and lost[-1][-1] >= given.last > 0:  # the log broke off: what it remembered beyond is newer
            _keep(store, pages)
        lost = missing(store, given)
        remember_missing(store, lost)
        if lost:
            end = max(store.last, given.last)
            remember_missing(store, [range(end + 1, max(wall, end) + 1)])
            store.go_on_above(max(wall, end))
    gone = sorted({*wanted} - back)
    told = [f"{many_are(len(gone), 'event')} missing ({spelled(gone)})"] if gone else []
    told += [f"{len(back)} were found again beside their place"] if back else []
    told += [] if agrees else ["its herd book did not agree with its events, and was made anew from those"]
    told += [f"what was remembered cannot be read: {', '.join(map(' '.join, values[:5]))}"] if values else []
    return Opened(store, f"The journal {path} was damaged: {'; '.join(told)}. {CARD}", len(gone), before)


def _log(path: Path) -> bytes:
    """Read the write-ahead log: opening the file folds it in, and drops what it cannot read."""
    try:
        with Path(f"{path}-wal").open("rb") as file:
            return file.read(LOG_MAX)
    except FileNotFoundError:
        return b""


def _files(path: Path) -> tuple[Path, Path, Path]:
    """Name a database's three files: itself, its write-ahead log, and the log's index."""
    return path, Path(f"{path}-wal"), Path(f"{path}-shm")


def _try(path: Path, log: bytes, wall: int, given: Given) -> tuple[Opened | None, str | None]:
    """Open a file and see what it lacks; if it is too damaged for that say how, and leave its log as it is."""
    if (complaint := _odd(path)) is not None:
        return None, complaint
    connection = connect(path)
    try:
        store = Store(connection)
        complaint = store.check()
        if complaint is None:
            return _complete(store, path, log, wall, given), None
    except (DamagedError, UnicodeDecodeError) as error:  # a complaint of SQLite's may quote what is damaged
        complaint = str(error)
    except sqlite3.DatabaseError as error:
        if not (damaged(error) or error.sqlite_errorcode & 0xFF in {sqlite3.SQLITE_ERROR, sqlite3.SQLITE_FORMAT}):
            connection.close()
            raise
        complaint = str(error)
    except BaseException:
        connection.close()
        raise
    connection.close()
    if log:
        Path(f"{path}-wal").write_bytes(log)  # closing folded it into a damaged file
    return None, complaint


def _odd(path: Path) -> str | None:
    """Name what is odd in a file's first bytes that SQLite would take for something else than damage."""
    if not path.exists() or path.stat().st_size == 0:
        return None
    with path.open("rb") as file:
        head = file.read(100)
    place, right = VERSIONS
    made = head[HEADER[0]] == HEADER[1] and head[place] in {right, b"\1\1"}
    return None if made and os.access(path, os.R_OK) else "its header is not a database's"


def set_aside(path: Path) -> Path:
    """Rename a damaged file, and its write-ahead log with it, to the first free name; return that name."""
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    _, log, index = _files(path)
    path.rename(aside)
    if log.exists():
        log.rename(f"{aside}-wal")
    index.unlink(missing_ok=True)
    return aside


def rescue(pages: Pages, store: Store, given: Given = UNKNOWN) -> int:
    """Copy whatever can be read of a damaged file into a new store; return the number of events."""
    with store.transaction():
        count = sum(store.restore(found) for found in pages.events())
        _keep(store, pages)
        store.rebuild_herd()
        if "first" not in store.kept("base"):
            first = given.first or store.rows("select coalesce(min(seq), 1) from event")[0][0]
            store.keep("base", {"first": str(first)})
    return count


def _keep(store: Store, pages: Pages) -> None:
    """Take what was remembered, but for what only the file itself can know."""
    kinds = {*get_args(Kind)} - {"base"}
    for one in pages.kept():
        if one.kind in kinds or (one.kind, one.name) == ("base", "first"):
            store.keep(one.kind, {one.name: one.body})  # type: ignore[arg-type]  # it is a kind
