"""Reads a file into the herd book: by the running daemon, whose book it is; else straight into the journal."""

import json
import sys
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import TypeVar

from neckyoke.bridge.asking.socket import ControlError, NobodyThereError, ask
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.events import Animal, Event, read_event
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.rows import spelled, take_table
from neckyoke.bridge.job.roster.roster import roster_of
from neckyoke.bridge.job.roster.table import Csv, read_table
from neckyoke.bridge.job.roster.troubles import Troubles
from neckyoke.bridge.journal.herd_tables import HerdReading
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.writer import Safe
from neckyoke.bridge.many import many
from neckyoke.bridge.telling.progress import Progress

T = TypeVar("T")

ROWS_AT_ONCE = 100
"""Of one request: the daemon reads them in some milliseconds, between two readings of a scale."""
EVENTS_AT_ONCE = 500
"""In one entry of the journal."""


async def take_in(config: Config, path: Path, *, as_json: bool = False) -> int:
    """Take a file's animals in, and say what became of them; return the command's exit code.

    Raises ConfigError, JournalError and ControlError.
    """
    table, troubles = read_table(path), Troubles(path)
    if "animal" not in table.header:
        table = spelled(roster_of(table, datetime.now(config.zone).date(), troubles))
    try:
        count, size = await _by_daemon(config.socket_path, table, troubles)
    except NobodyThereError:
        count, size = await _by_ourselves(config, table, troubles)
    doubts = [str(doubt) for doubt in troubles.problems()]
    if as_json:
        print(json.dumps({"taken": count, "animals": size, "doubts": doubts}))
        return 1 if doubts else 0
    for doubt in doubts:
        print(doubt, file=sys.stderr)
    book = f"; the book has {size}" if size is not None else ""
    print(f"{many(count, 'animal')} added or filled in{book}.")
    return 1 if doubts else 0


async def _by_daemon(socket: Path, table: Csv, troubles: Troubles) -> tuple[int, int | None]:
    """Let the running daemon take the rows.  Raises ControlError, also when none runs.

    Gives how many animals were added or filled in, and how many the book has then, None where there were no rows.
    """
    count, size = 0, None
    for batch in _parts(Progress("taking in").along(table.numbered), ROWS_AT_ONCE):
        rows = {number: cells for number, cells in batch if any(cells)}
        if not rows:
            continue
        answer = await ask(socket, {"kind": "import", "header": table.header, "rows": rows})
        if not answer["done"]:
            where = f"Rows {min(rows)} to {max(rows)} and what follows were not taken: {answer['text']}"
            raise ControlError(f"{where}  Added or filled in before them: {count}.")
        count += answer["taken"]
        size = answer["size"]
        for doubt in answer["doubts"] or ():
            troubles.say(**doubt)
    return count, size


async def _by_ourselves(config: Config, table: Csv, troubles: Troubles) -> tuple[int, int]:
    """Take the rows into the journal, of which no daemon is the owner now; give what `_by_daemon` does."""
    now = datetime.now(UTC)
    journal = await Journal.open(config.state_path(config.journal.path), outlets=config.outlets)
    try:
        book = Book()
        for body in await journal.herd(HerdReading.animals):
            data = read_event(body).data
            if isinstance(data, Animal):
                book.fold(data)
        today = now.astimezone(config.zone).date()
        events = take_table(config.site, book, table, now, today, troubles)
        count = await write_all(journal, Progress("taking in").along(events))
    finally:
        await journal.close()
    return count, len(book)


async def write_all(journal: Journal, events: Iterable[Event]) -> int:
    """Write events as they are made; return how many.  The next are made while the card takes the last."""
    count = 0
    written: Safe | None = None
    for batch in _parts(events, EVENTS_AT_ONCE):
        count += len(batch)
        before, written = written, journal.submit(batch)
        if before is not None:
            await before
    if written is not None:
        await written
    return count


def _parts(items: Iterable[T], size: int) -> Iterator[list[T]]:
    """Yield the items, so many at a time."""
    rest = iter(items)
    while part := list(islice(rest, size)):
        yield part
