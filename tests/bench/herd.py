"""What a herd of 20,000 costs: written out and read in, found again among six weighings each, and held in memory.

    .venv/bin/python -m tests.bench.herd [--animals 20000]

Each figure stands beside a bare one of the same run: the same rows through csv and sqlite3 alone, and the same rows
found by an index alone.
"""

import argparse
import asyncio
import csv
import random
import sqlite3
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import UTC, timedelta
from pathlib import Path

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.commands.herd_import import write_all
from neckyoke.bridge.daemon.herd import open_herd
from neckyoke.bridge.daemon.history_cache import Lookup
from neckyoke.bridge.events import Event, make_id, read_event, wrap
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.rows import read_export
from neckyoke.bridge.herd.table import write
from neckyoke.bridge.job.roster.table import read_table
from neckyoke.bridge.job.roster.troubles import Troubles as Problems
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.telling.alerts import Troubles, unheard
from tests.support.events import DAY, SITE, weighing

TIMES = 6
LOOKED_UP = 400
BATCH = 500


def herd(count: int) -> Iterator[Event]:
    """Yield animals, one in ten with a former tag."""
    for number in range(count):
        former = (WornTag(id=f"998{number:012d}", since=DAY, until=DAY),) if number % 10 == 0 else ()
        tags = (*former, WornTag(id=f"999{number:012d}", since=DAY))
        animal = Animal(animal=make_id(SITE, number), tags=tags, visuals=(str(number),), sex="steer", mob="autumn")
        yield wrap(animal, site=SITE, time=DAY, key=f"{animal.animal}/1")


def stays(count: int) -> Iterator[Event]:
    """Yield the weighings, day by day."""
    for day in range(TIMES):
        for number in range(count):
            data = weighing(number + 1, tag=f"999{number:012d}", run=f"day {day}")
            on = data.on + timedelta(days=30 * day)
            animal = {"id": make_id(SITE, number)}
            data = data.model_copy(update={"on": on, "settled": on, "off": on, "animal": animal})
            yield wrap(data, site=SITE, time=on, key=f"{data.weighing}/1")


async def append(journal: Journal, events: list[Event]) -> None:
    """Write events in batches, as an import does."""
    for start in range(0, len(events), BATCH):
        await journal.append(events[start : start + BATCH])


def percentile(seconds: list[float], percent: float) -> float:
    """Return a percentile in milliseconds."""
    return sorted(seconds)[min(len(seconds) - 1, int(len(seconds) * percent / 100))] * 1000


async def timed(seconds: list[float], look: Callable[[int], object], number: int) -> None:
    """Time one look."""
    begun = time.perf_counter()
    found = look(number)
    if asyncio.iscoroutine(found):
        await found
    seconds.append(time.perf_counter() - begun)


async def out_and_in(folder: Path, book: Book) -> tuple[tuple[float, float], tuple[float, float]]:
    """Write the book out and read it into an empty box; and the same rows by csv and sqlite3 alone.

    Gives seconds and processor seconds of each.
    """
    begun, worked = time.perf_counter(), time.process_time()
    with (folder / "herd.csv").open("w", newline="") as out:
        write(book, out)
    journal = await Journal.open(folder / "empty.db")
    empty, troubles = Book(), Problems(folder / "herd.csv")
    await write_all(journal, read_export(SITE, empty, read_table(troubles.path), DAY, troubles))
    await journal.close()
    ours = (time.perf_counter() - begun, time.process_time() - worked)
    assert not list(troubles.each())
    assert len(empty) == len(book)
    begun, worked = time.perf_counter(), time.process_time()
    with (folder / "herd.csv").open(newline="") as file:
        rows = list(csv.reader(file))
    bare = sqlite3.connect(folder / "bare.db", isolation_level=None)
    bare.execute("pragma journal_mode = wal")
    bare.execute("pragma synchronous = full")
    bare.execute(f"create table herd({', '.join(rows[0])})")
    for start in range(1, len(rows), BATCH):
        bare.execute("begin")
        bare.executemany(f"insert into herd values ({', '.join('?' * len(rows[0]))})", rows[start : start + BATCH])
        bare.execute("commit")
    bare.close()
    return ours, (time.perf_counter() - begun, time.process_time() - worked)


async def main(count: int) -> None:
    """Measure, and say."""
    chance = random.Random(5)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        animals = list(herd(count))
        journal = await Journal.open(folder / "journal.db")
        await append(journal, animals)
        await append(journal, list(stays(count)))
        begun = time.perf_counter()
        await open_herd(SITE, journal, {}, unheard, UTC)
        opened = time.perf_counter() - begun
        tracemalloc.start()
        keeper = await open_herd(SITE, journal, {}, unheard, UTC)
        held_mb = tracemalloc.get_traced_memory()[0] / 1e6
        tracemalloc.stop()
        ours, bare = await out_and_in(folder, keeper.book)
        told = {"ours": ours, "bare csv and sqlite3": bare}
        print(f"{count} animals, {TIMES} weighings each")
        beside = "   ".join(f"{what} {took:.2f} s ({work:.2f} s of work)" for what, (took, work) in told.items())
        print(f"out and in again   {beside}   {ours[0] / bare[0]:.1f} times, work {ours[1] / bare[1]:.1f} times")
        print(f"opened at start    {opened:6.2f} s   held in memory {held_mb:.1f} MB")

        plain = sqlite3.connect(folder / "journal.db")
        looked: dict[str, list[float]] = {"by animal": [], "bare index": []}
        for number in chance.sample(range(count), min(LOOKED_UP, count)):
            lookup = Lookup(journal, keeper.book, Troubles(unheard, time.monotonic))
            await timed(looked["by animal"], lambda n: lookup.fetch(make_id(SITE, n)), number)  # noqa: B023
            assert len(lookup.past.weights(make_id(SITE, number))) == TIMES
            sql = "select body from event where tag = ?"
            await timed(
                looked["bare index"],
                lambda n: [read_event(body) for (body,) in plain.execute(sql, (f"999{n:012d}",))],  # noqa: B023
                number,
            )
        plain.close()
        for what, seconds in looked.items():
            print(f"{what:18} p50 {percentile(seconds, 50):.2f} ms   p99 {percentile(seconds, 99):.2f} ms")
        ratio = percentile(looked["by animal"], 99) / percentile(looked["bare index"], 99)
        print(f"ratio at p99 {ratio:.1f}")
        await journal.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="What a herd costs.")
    parser.add_argument("--animals", type=int, default=20_000)
    asyncio.run(main(parser.parse_args().animals))
