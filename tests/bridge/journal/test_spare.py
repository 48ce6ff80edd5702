"""The journal's disk takes nothing: it is said, what waits is kept elsewhere, and nothing is lost or written twice."""

import asyncio
import json
import os
import signal
import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from neckyoke.bridge.commands.run import serve
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.events import Attention, Event, Weighing
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.spare import Spare, places, remedy, unsafe
from neckyoke.bridge.journal.store import Entry, Store
from neckyoke.bridge.telling.alert_log import read as read_troubles
from tests.support.broker import Broker
from tests.support.daemon import CONFIG
from tests.support.events import link_state, weighed
from tests.support.outlet import yard
from tests.support.refused_writes import check_refused, written
from tests.support.refusing import KINDS, refusing
from tests.support.running import run, until

pytestmark = pytest.mark.usefixtures("quick")


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.005,))


@pytest.mark.parametrize("kind", KINDS)
def test_refused_at_any_write_and_stopped_nothing_is_lost(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk takes n writes more, then none; the daemon is stopped, and started on a disk that takes them."""
    with refusing(kind, monkeypatch) as system:
        for n in range([*KINDS].index(kind), 100, len(KINDS)):  # each write is refused in one way; the bench: in all
            folder = tmp_path / str(n)
            folder.mkdir()
            if check_refused(system, folder, n):
                break
    assert 5 < n < 99


def test_a_disk_that_takes_writes_again_needs_the_spare_no_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[Attention] = []

    async def day() -> None:
        journal = await Journal.open(tmp_path / "journal.db", say=said.append, spare=tmp_path / "spare")
        system.left = 0
        futures = [journal.submit([weighed(number)]) for number in range(5)]
        await until(lambda: journal.health.spare is not None, "it is kept")
        assert len((tmp_path / "spare").read_text().splitlines()) == 5
        system.left = None
        await asyncio.gather(*futures)
        await until(lambda: not (tmp_path / "spare").exists() and not journal.health.spare, "the spare is gone")
        await journal.close()
        assert journal.left == (0, None)

    with refusing("full", monkeypatch) as system:
        run(day())
    assert written(tmp_path / "journal.db") == list(range(5))
    assert [(one.about, one.over) for one in said] == [("journal-stuck", False), ("journal-stuck", True)]


def test_what_cannot_be_taken_in_waits_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Started again on a disk that is still full: it weighs on, and all of it is there when there is room."""

    async def day(number: int) -> None:
        journal = await Journal.open(tmp_path / "journal.db", spare=tmp_path / "spare")
        system.left = 0
        journal.submit([weighed(number)])
        await until(lambda: journal.health.spare is not None, "it is kept")
        await journal.close(0.02)

    async def last() -> None:
        await (await Journal.open(tmp_path / "journal.db", spare=tmp_path / "spare")).close()

    with refusing("full", monkeypatch) as system:
        run(last())
        for number in range(3):
            run(day(number))
        system.left = None
        run(last())
    assert written(tmp_path / "journal.db") == [0, 1, 2]


def test_the_first_place_that_takes_it_is_used(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    there = tmp_path / "there"
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "elsewhere")
    spare = Spare([tmp_path / "no" / "spare", tmp_path / "folder", link, there])
    entry = Entry((weighed(1), link_state(2)), {"crush": None, "race": "a"}, {"name": "body"}, {"farm": 7})
    assert spare.keep(2.0, entry) == there
    assert spare.keep(1.0, Entry((weighed(3),))) == there
    assert there.stat().st_mode & 0o777 == 0o600
    assert spare.left() == [Entry((weighed(3),)), entry]
    with there.open("a") as file:
        file.write(there.read_text().replace("crush", "crash", 1))
        file.write('{"torn')
    assert spare.left() == [Entry((weighed(3),)), Entry((weighed(3),)), entry]
    assert spare.torn == 2
    spare.clear()
    assert not there.exists()
    assert spare.left() == []
    assert Spare([tmp_path / "no" / "spare"]).keep(1.0, entry) is None


def test_places_are_the_one_that_was_named_then_beside_the_events_then_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal = tmp_path / "state" / "neckyoke.db"
    beside = [tmp_path / "state" / "events.jsonl", tmp_path / "stick" / "events.jsonl"]
    named, near, memory = places(journal, tmp_path / "named", beside)
    assert (named, near) == (tmp_path / "named", tmp_path / "stick" / "neckyoke.db.spare")
    assert memory.name.startswith("neckyoke-")
    assert memory != places(tmp_path / "other.db", None, [])[-1]
    assert len(places(journal, None, [])) == 1
    monkeypatch.setattr("neckyoke.bridge.journal.spare.MEMORY", tmp_path)
    assert places(journal, None, []) == [tmp_path / memory.name]
    monkeypatch.setattr("neckyoke.bridge.journal.spare.MEMORY", tmp_path / "nowhere")
    assert places(journal, None, []) == [Path(tempfile.gettempdir()) / memory.name], "a system that has none"


def test_what_is_told_before_it_is_safe_is_no_revision_yet() -> None:
    event = weighed(1)
    copy = unsafe(event)
    assert copy is not None
    assert isinstance(copy.data, Weighing)
    assert (copy.data.revision, copy.safe, copy.sequence) == (0, False, None)
    assert copy.id != event.id
    assert json.loads(copy.to_json())["safe"] is False
    assert "safe" not in json.loads(event.to_json())
    assert unsafe(weighed(1, revision=2)) is None
    assert unsafe(link_state(1)) is None


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (sqlite3.OperationalError("database or disk is full"), "Delete what is not needed"),
        (OSError(28, "No space left on device"), "Delete what is not needed"),
        (sqlite3.OperationalError("attempt to write a readonly database"), "Make it writable"),
        (OSError(30, "Read-only file system"), "Make it writable"),
        (sqlite3.OperationalError("unable to open database file"), "check that its folder is there"),
        (PermissionError(13, "Permission denied"), "check that its folder is there"),
        (sqlite3.OperationalError("disk I/O error"), "change the disk"),
    ],
)
def test_each_trouble_of_a_disk_has_its_remedy(error: Exception, told: str) -> None:
    assert told in remedy(Path("neckyoke.db"), error)


def test_what_cannot_be_written_leaves_by_the_broker_and_comes_again_when_it_is_safe(
    tmp_path: Path, broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    recorder = broker.record("neckyoke/larkmoor/crush/weighing", "-c")

    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            await until(lambda: one.health().connected, "connected")
            one.journal.on_unsafe(one.outlet.give_unsafe)
            system.left = 0
            future = one.journal.submit([weighed(7)])
            await asyncio.to_thread(recorder.wait_for, 1, "weighing")
            system.left = None
            await future
            await until(lambda: one.outlet.health().backlog == 0, "delivered")

    with refusing("broken", monkeypatch) as system:
        run(day())
    first, last = (message.event for message in recorder.wait_for(2, "weighing"))
    assert (first["data"]["revision"], first["safe"], first.get("sequence")) == (0, False, None)
    assert (last["data"]["revision"], last.get("safe"), last["sequence"]) == (1, None, "0000000001")
    assert first["data"]["weighing"] == last["data"]["weighing"]


def test_a_stop_with_something_unwritten_is_no_clean_stop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    text = CONFIG.format(indicator=f"serial:{tmp_path}/none", panel="tcp://127.0.0.1:9")
    (tmp_path / "neckyoke.toml").write_text(f'{text}\n[journal]\nspare = "spare"\n', encoding="utf-8")
    config = load_config(tmp_path / "neckyoke.toml")
    told: list[Event] = []
    given: list[Event] = []
    commit: Callable[..., object] = Store.commit

    def refuse(*_: object) -> None:
        raise sqlite3.OperationalError("disk I/O error")

    async def day() -> int:
        service = None

        async def made(config: object) -> object:
            nonlocal service
            service = await build(config)  # type: ignore[arg-type]
            return service

        serving = asyncio.create_task(serve(config, made))  # type: ignore[arg-type]
        await until(lambda: service is not None, "it is there")
        assert service is not None
        monkeypatch.setattr(service.outlets["events"], "give_unsafe", given.append)
        with service.hub.watch() as watcher:
            monkeypatch.setattr(watcher, "put", told.append)
            monkeypatch.setattr(Store, "commit", refuse)
            await until(lambda: bool(service.status().troubles), "it stands in the status")
            await until(lambda: bool(given), "the outlets are told")
            assert given[0] in told, "and whoever watches"
            os.kill(os.getpid(), signal.SIGTERM)
            return await serving

    assert run(day()) == 1
    attention = given[0].data
    assert isinstance(attention, Attention)
    assert "change the disk" in attention.text
    last = list(read_troubles(tmp_path))[-1]
    assert last["about"] == "left"
    assert f"kept in {tmp_path / 'spare'}" in str(last["text"])
    monkeypatch.setattr(Store, "commit", commit)
    assert (tmp_path / "spare").exists()
