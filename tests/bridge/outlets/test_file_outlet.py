"""The file outlet on a real journal and real folders: follows, survives its disk, repeats nothing."""

import asyncio
import contextlib
import errno
import json
import threading
from collections.abc import AsyncIterator, Sequence
from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.files.appender import Appender
from neckyoke.bridge.outlets.files.file import EventsFile, remedy
from neckyoke.bridge.outlets.follower import Follower
from tests.support.events import weighed
from tests.support.outlet import file_outlet
from tests.support.running import run, until


@contextlib.asynccontextmanager
async def following(folder: Path, path: Path, said: list[Attention]) -> AsyncIterator[tuple[Journal, Follower]]:
    journal = await Journal.open(folder / "journal.db", outlets=["events"])
    outlet = file_outlet(path, journal, said.append)
    outlet._backoff._first_s = outlet._backoff._next_s = outlet._backoff._longest_s = 0.02
    running = asyncio.create_task(outlet.run())
    yield journal, outlet
    await outlet.stop()
    await running
    await journal.close()


def file_of(outlet: Follower) -> Appender:
    assert isinstance(outlet.taker, EventsFile)
    return outlet.taker._file


def numbers(path: Path) -> list[int]:
    return [json.loads(line)["data"]["number"] for line in path.read_text().splitlines()]


def test_the_file_has_each_event_once_over_many_runs(tmp_path: Path, no_leaks: None) -> None:
    path = tmp_path / "events.jsonl"

    async def part(first: int) -> None:
        async with following(tmp_path, path, []) as (journal, outlet):
            for number in range(first, first + 300):
                journal.submit([weighed(number)])
                if number % 50 == 0:
                    await until(lambda: outlet.health().backlog == 0, "caught up")
            await journal.append()  # what was handed in before is written when this is

    for first in (0, 300, 600):
        run(part(first))
    assert numbers(path) == list(range(900))


def test_a_crash_between_the_sync_and_the_position_repeats_nothing(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"

    async def first() -> None:
        async with following(tmp_path, path, []) as (journal, _):
            await journal.append([weighed(number) for number in range(100)])

    async def again(position: int) -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["events"])
        await journal.set_position("events", position)  # as if the later one had not been kept
        await journal.close()
        async with following(tmp_path, path, []) as (journal, _):
            await journal.append([weighed(100 + position)])

    run(first())
    run(again(40))
    run(again(0))
    assert numbers(path) == [*range(100), 140, 100]


def test_a_crash_after_a_rotation_repeats_nothing_either(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"

    async def part(first: int, count: int) -> None:
        async with following(tmp_path, path, []) as (journal, outlet):
            file_of(outlet)._rotate_bytes = 22 * len(weighed(1).to_json())  # number 30 is in the file before
            for number in range(first, first + count):
                await journal.append([weighed(number)])
                await until(lambda: outlet.health().backlog == 0, "caught up")

    async def forget() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["events"])
        await journal.set_position("events", 30)  # as if no later one had been kept
        await journal.close()

    run(part(0, 60))
    run(forget())
    run(part(60, 1))
    whole = [
        number
        for file in sorted(tmp_path.glob("events*.jsonl"), key=lambda one: one.stat().st_mtime_ns)
        for number in numbers(file)
    ]
    assert len(list(tmp_path.glob("events-*.jsonl"))) >= 2
    assert sorted(whole) == list(range(61))


def test_what_is_only_noted_costs_no_transaction_of_its_own_and_is_kept_when_the_box_stops(tmp_path: Path) -> None:
    async def day() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["events"])
        await journal.append([weighed(1)])
        journal.note_position("events", 1)
        assert journal.position("events") == 1
        assert journal.kept_position("events") == 0
        await journal.append([weighed(2)])
        assert journal.kept_position("events") == 1
        journal.note_position("events", 2)
        await journal.close()
        again = await Journal.open(tmp_path / "journal.db", outlets=["events"])
        assert again.position("events") == 2
        await again.close()

    run(day())


def test_a_missing_folder_is_said_once_and_recovered_from(tmp_path: Path) -> None:
    path = tmp_path / "stick" / "events.jsonl"
    said: list[Attention] = []

    async def day() -> None:
        async with following(tmp_path, path, said) as (journal, outlet):
            await journal.append([weighed(number) for number in range(10)])
            await until(lambda: len(said) == 1, "trouble is said")
            await until(lambda: outlet._troubles._standing.all()[0].times > 5, "tried again and again")
            assert [(one.about, one.over) for one in said] == [("outlet-events", False)]
            assert "plug the disk in, or make the folder" in said[0].text
            assert outlet.health().backlog == 10
            path.parent.mkdir()
            await until(lambda: outlet.health().backlog == 0, "caught up")
            assert [one.over for one in said] == [False, True]

    run(day())
    assert numbers(path) == list(range(10))


def test_a_disk_that_fills_up_is_said_once_and_recovered_from(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    path.symlink_to("/dev/full")  # the kernel's own full disk
    said: list[Attention] = []

    async def day() -> None:
        async with following(tmp_path, path, said) as (journal, outlet):
            await journal.append([weighed(number) for number in range(10)])
            await until(lambda: len(said) == 1, "trouble is said")
            assert "the disk is full" in said[0].text
            path.unlink()
            await until(lambda: outlet.health().backlog == 0, "caught up")

    run(day())
    assert numbers(path) == list(range(10))


def test_a_slow_disk_holds_up_nobody_else(tmp_path: Path) -> None:
    """The outlet hangs in its write; the journal goes on taking events, and stopping does not wait for ever."""
    path = tmp_path / "events.jsonl"

    async def day() -> None:
        release = threading.Event()
        journal = await Journal.open(tmp_path / "journal.db", outlets=["events"])
        outlet = file_outlet(path, journal)
        append = file_of(outlet).append

        def slow(lines: Sequence[str], today: date) -> int:
            release.wait(30)
            return append(lines, today)

        file_of(outlet).append = slow  # type: ignore[method-assign]
        running = asyncio.create_task(outlet.run())
        for number in range(100):
            await journal.append([weighed(number)])
        assert outlet.health().backlog == 100
        await outlet.stop(0.05)
        assert not running.done()
        release.set()
        await running
        await journal.close()

    run(day())
    assert numbers(path) == list(range(100))


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOSPC, "the disk is full; delete what is not needed on it"),
        (errno.EDQUOT, "this user's share of the disk is used up; delete what is not needed"),
        (errno.EROFS, "the disk is read-only; make it writable, a card may have failed"),
        (errno.ENOENT, "the folder /mnt/stick is not there; plug the disk in, or make the folder"),
        (errno.EACCES, "this user may not write there; change the owner of the folder, or the outlet's path"),
        (errno.EISDIR, "that is a folder; name a file"),
        (errno.EIO, "[Errno 5] it failed"),
    ],
)
def test_every_refusal_says_what_is_wrong_and_what_to_do(number: int, told: str) -> None:
    """That nothing is lost is added for every kind alike (`test_outlet_laws.py`)."""
    text = remedy(Path("/mnt/stick/events.jsonl"), OSError(number, "it failed"))
    assert text == f"/mnt/stick/events.jsonl cannot be written: {told}"


def test_a_mistake_of_our_own_is_said_and_does_not_end_the_outlet(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    said: list[Attention] = []

    async def day() -> None:
        async with following(tmp_path, path, said) as (journal, outlet):
            append = file_of(outlet).append

            def wrong(_lines: Sequence[str], _today: date) -> int:
                file_of(outlet).append = append  # type: ignore[method-assign]
                raise IndexError("pop from an empty deque")

            file_of(outlet).append = wrong  # type: ignore[method-assign, assignment]
            await journal.append([weighed(1)])
            await until(lambda: outlet.health().backlog == 0, "it went on")

    run(day())
    assert "please report it: IndexError('pop from an empty deque') (test_file_outlet.py:" in said[0].text
    assert numbers(path) == [1]
