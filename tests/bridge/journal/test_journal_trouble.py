"""The journal in trouble: a damaged file, a disk that is full or refuses, a thread that hangs."""

import asyncio
import os
import sqlite3
from pathlib import Path

import pytest

from neckyoke.bridge.events import Attention, read_event
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.journal.salvage import open_store, set_aside
from neckyoke.bridge.journal.writer import WAITING_MAX
from tests.support.disk import files_limited
from tests.support.events import link_state, weighed
from tests.support.running import run, until


def write_and_damage(path: Path, offsets: list[int]) -> None:
    async def write() -> None:
        journal = await Journal.open(path, outlets=["farm"])
        await journal.append([weighed(number) for number in range(400)], {"crush": "a stay"}, {"memory/crush": "{}"})
        await journal.set_position("farm", 390)
        await journal.close()

    run(write())
    body = bytearray(path.read_bytes())
    for offset in offsets:
        place = offset if offset >= 0 else len(body) + offset
        body[place : place + 4096] = b"\xa5" * len(body[place : place + 4096])
    path.write_bytes(body)


@pytest.mark.parametrize(
    ("offsets", "rescued"),
    [([0], 400), ([4096], 400), ([40960], 390), ([-409600], 390), ([-4096], 390), ([4096 * n for n in range(7)], 400)],
    ids=["header", "page-map", "front", "middle", "end", "roots"],
)
def test_a_damaged_file_is_kept_and_what_can_be_read_goes_on(tmp_path: Path, offsets: list[int], rescued: int) -> None:
    path = tmp_path / "journal.db"
    write_and_damage(path, offsets)
    damaged = path.read_bytes()
    said: list[Attention] = []

    async def reopen() -> None:
        journal = await Journal.open(path, outlets=["farm"], say=said.append)
        assert [one.about for one in said] == ["journal-damaged"]
        assert (tmp_path / "journal.db.damaged-1").read_bytes() == damaged
        rows = await journal.read(0, 1000)
        assert len(rows) >= rescued
        for _, body in rows:
            read_event(body)
        (event,) = await journal.append([weighed(1000)])
        assert int(event.sequence or 0) > 1_700_000_000  # above whatever the damaged file can have given
        assert journal.last == int(event.sequence or 0)
        await journal.close()
        again = await Journal.open(path, outlets=["farm"], say=said.append)
        assert len(said) == 1
        (event,) = await again.append([weighed(1001)])
        assert int(event.sequence or 0) == journal.last + 1
        await again.close()

    run(reopen())


def files_open() -> list[str]:
    return [os.path.realpath(one) for one in Path("/proc/self/fd").iterdir()]


def test_a_file_that_proves_damaged_on_the_way_loses_nothing_handed_in(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    said: list[Attention] = []

    async def write() -> None:
        journal = await Journal.open(path, outlets=["farm"], say=said.append)
        await journal.append([weighed(number) for number in range(50)])
        real = journal._writer._store.commit

        def broken(*_: object) -> None:
            journal._writer._store.commit = real  # type: ignore[method-assign]
            error = sqlite3.DatabaseError("database disk image is malformed")
            error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
            raise error

        journal._writer._store.commit = broken  # type: ignore[method-assign, assignment]
        (event,) = await journal.append([weighed(50)])
        await until(lambda: [one.about for one in said] == ["journal-damaged"], "said")
        assert len(await journal.weighings()) == 51
        assert journal.last == int(event.sequence or 0) > 50
        held = files_open()
        assert str(path) in held
        assert not any(one.startswith(f"{path}.damaged") for one in held), "the damaged one is let go"
        await journal.close()

    run(write())


def test_a_disk_that_refuses_is_said_once_and_recovered_from(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.01,))
    said: list[Attention] = []

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", say=said.append)
        await journal.append([weighed(0)])
        with files_limited(65536):
            waiting = [journal.submit([weighed(number)]) for number in range(1, 400)]
            await until(lambda: len(said) == 1, "trouble is said")
            await asyncio.sleep(0.1)  # some ten attempts
            assert not any(future.done() and future.exception() for future in waiting)
            acknowledged = sum(future.done() for future in waiting)
            rows = await journal.read(0, 1000)
            assert len(rows) == acknowledged + 1
            assert journal.health.waiting == 399 - acknowledged > 0
            assert journal.alive()
        await asyncio.gather(*waiting)
        assert [int(event.sequence or 0) for future in waiting for event in future.result()] == list(range(2, 401))
        assert [(one.about, one.over) for one in said] == [("journal-stuck", False), ("journal-stuck", True)]
        assert said[1].lasted_s is not None
        await journal.close()

    run(write())


def test_a_full_disk_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.01,))
    said: list[Attention] = []

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", say=said.append)
        pages = await journal._writer.call(lambda store: store._pragma("page_count"))
        await journal._writer.call(lambda store: store._pragma(f"max_page_count = {pages + 2}"))
        written = journal.submit([weighed(number) for number in range(100)])
        await until(lambda: len(said) == 1, "trouble is said")
        assert "disk is full" in said[0].text
        assert not written.done()
        await journal._writer.call(lambda store: store._pragma("max_page_count = 1000000"))
        assert len(await written) == 100
        await journal.close()

    run(write())


def test_a_read_only_disk_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.01,))
    said: list[Attention] = []

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", say=said.append)
        await journal._writer.call(lambda store: store.rows("pragma query_only = on"))  # refuses in the same words
        written = journal.submit([weighed(1)])
        await until(lambda: len(said) == 1, "trouble is said")
        assert "read-only" in said[0].text
        assert not written.done()
        await journal._writer.call(lambda store: store.rows("pragma query_only = off"))
        assert len(await written) == 1
        await journal.close()

    run(write())


def test_memory_is_bounded_and_no_weighing_is_let_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.01,))

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        with files_limited(4096):
            for number in range(WAITING_MAX):
                journal.submit([link_state(number)])
            weighings = [journal.submit([weighed(number)]) for number in range(50)]
            await until(lambda: journal.health.let_go == 50, "the oldest others are let go")
            assert journal.health.waiting == WAITING_MAX
        written = [event for future in weighings for event in await future]
        assert len(written) == 50
        first = read_event((await journal.read(0, 1))[0][1])
        assert first.data.text == "change 50"  # type: ignore[union-attr]
        await journal.close()

    run(write())


def test_an_event_that_cannot_be_written_holds_up_nothing(tmp_path: Path) -> None:
    """JSON can carry half a character, which no UTF-8 can: an event with one is left out, and said."""
    said: list[Attention] = []
    half = weighed(2)
    half = half.model_copy(update={"data": half.data.model_copy(update={"notes": ("\ud800",)})})

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", say=said.append)
        futures = [journal.submit([weighed(1)]), journal.submit([half]), journal.submit([weighed(3)])]
        written = [await future for future in futures]
        assert [len(events) for events in written] == [1, 0, 1]
        assert [(await journal.append([weighed(number)]))[0].sequence for number in (4, 5)] == [
            *("0000000003", "0000000004")
        ]
        assert journal.health.refused == 1
        await journal.close()

    run(write())
    assert [one.about for one in said] == ["journal-refused"]


@pytest.mark.parametrize("after", ["fresh", "aside", "renamed"])
def test_a_rescue_cut_off_at_any_point_begins_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, after: str
) -> None:
    path = tmp_path / "journal.db"
    write_and_damage(path, [-4096])

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    def cut_after(path: Path) -> None:
        set_aside(path)
        cut()

    with monkeypatch.context() as patch:
        if after == "fresh":
            patch.setattr("neckyoke.bridge.journal.salvage.set_aside", cut)
        elif after == "aside":
            patch.setattr("neckyoke.bridge.journal.salvage.set_aside", cut_after)
        else:
            patch.setattr("neckyoke.bridge.journal.salvage.sync_folder", cut)
        with pytest.raises(KeyboardInterrupt):
            open_store(path, 1.7e9)
    opened = open_store(path, 1.7e9)
    assert len(opened.store.read(0, 1000)) >= 300
    assert opened.store.kept("position") == {"farm": "390"}
    opened.store.close()
    assert len(list(tmp_path.glob("*.damaged-[0-9]"))) == 1
    assert not (tmp_path / "journal.db.rescue").exists()


def test_a_thread_that_hangs_is_noticed(tmp_path: Path) -> None:
    async def hang() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        assert journal.alive()
        journal._writer._busy_since = -1e9
        assert not journal.alive()
        journal._writer._busy_since = None
        await journal.close()
        assert not journal.alive()
        with pytest.raises(JournalError, match="is closed"):
            journal.submit([weighed(1)])

    run(hang())
