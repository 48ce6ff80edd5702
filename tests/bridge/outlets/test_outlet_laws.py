"""What holds for every kind of far side: nothing lost, order kept, recovered by itself, told once."""

import asyncio
import json
import random
import shutil
import signal
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.daemon.check_devices import check_devices
from tests.support.far_servers import Postgres
from tests.support.far_side import FarSide, shed
from tests.support.far_sides import KINDS, EventsFile, Plugged, Sqlite, Web, WebBatch, WebBinary
from tests.support.running import run, until
from tests.support.warm import Forked

STANDS = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
SERVED = pytest.mark.parametrize(
    "kind", [kind for kind in KINDS if kind not in {Sqlite, EventsFile}], ids=lambda kind: kind.__name__
)


@pytest.fixture
def far(kind: type[FarSide], tmp_path: Path) -> Iterator[FarSide]:
    """Yield a far side that runs."""
    made = kind(tmp_path)
    try:
        yield made.start()
    finally:
        made.close()


def in_order(far: FarSide, last: int) -> None:
    """Hold the far side against what was weighed: each weighing's newest revision is there, and they came in order."""
    held = far.held()
    first = list(dict.fromkeys(held))
    assert first == sorted(first), "in order, but for repeats"
    assert {number for number, _ in held} == set(range(1, last + 1)), "nothing lost"
    newest = dict(sorted(held))
    assert {number for number, revision in newest.items() if revision == 2} == set(range(7, last + 1, 7))


@STANDS
def test_either_side_killed_at_random_moments_loses_nothing(far: FarSide, tmp_path: Path) -> None:
    chance = random.Random(7)
    last = 0
    for _ in range(2):
        kills_far = threading.Timer(chance.uniform(0.0, 0.3), far.kill)
        with Forked("tests.support.following", str(tmp_path), json.dumps(far.table), "100000") as process:
            assert process.stdout is not None
            for count, line in enumerate(process.stdout):
                last = int(line.split()[1])
                if count == 3:
                    kills_far.start()
                if count >= chance.randint(30, 60):
                    process.kill()
        kills_far.join()
        far.kill()
        far.start()
    last += 5
    words = (str(tmp_path), json.dumps(far.table), str(last))
    with Forked("tests.support.following", *words, stdout=subprocess.DEVNULL) as process:
        assert process.wait() == 0
    in_order(far, last)


@STANDS
def test_a_far_side_that_is_away_for_a_day_costs_nothing_but_time(far: FarSide, tmp_path: Path) -> None:
    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 21))
            await one.drained()
            far.go_away()
            await one.weigh(range(21, 801))
            await until(lambda: bool(one.begun()), "the trouble is told")
            await until(lambda: one.outlet._backoff._next_s >= 0.1, "it tries again and again")
            await asyncio.to_thread(far.come_back)
            await one.drained()
            assert [said.about for said in one.begun()] == ["outlet-far"], "told once"
            assert one.begun()[0].text.endswith("No event is lost: they wait in the journal.")

    run(day())
    assert [number for number, _ in dict.fromkeys(far.held())] == list(range(1, 801))


@SERVED
def test_one_that_is_frozen_is_waited_for_and_then_given_all(
    far: FarSide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("neckyoke.bridge.outlets.web.client.ANSWER_S", 0.5)
    monkeypatch.setattr("neckyoke.bridge.outlets.web.client.CONNECT_S", 0.5)
    monkeypatch.setattr("neckyoke.bridge.outlets.database.sql.ANSWER_S", 0.5)
    monkeypatch.setattr("neckyoke.bridge.outlets.mqtt.connection.ACKNOWLEDGEMENT_S", 0.5)
    monkeypatch.setattr("neckyoke.bridge.outlets.mqtt.connection.GREETING_S", 0.5)

    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 11))
            await one.drained()
            if isinstance(far, Postgres):  # its processes have sessions of their own
                far.rows("select pg_stat_reset()")
            far.freeze()
            await one.weigh(range(11, 31))
            if not isinstance(far, Postgres):
                await until(lambda: bool(one.begun()), "it is told")
            far.send(signal.SIGCONT)
            monkeypatch.undo()
            await one.drained()
            assert len(one.begun()) <= 1

    run(day())
    assert {number for number, _ in far.held()} == set(range(1, 31))


@STANDS
def test_one_that_is_slow_is_given_all_in_order_and_nobody_is_told(far: FarSide, tmp_path: Path) -> None:
    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 21))
            await one.drained()
            with far.slow():
                for first in range(21, 201, 20):
                    await one.weigh(range(first, first + 20))
                    await until(lambda: one.outlet.health().backlog < 40, "it keeps up")
                await one.drained()
            assert one.said == []

    run(day())
    assert [number for number, _ in far.held()] == list(range(1, 201)), "each once: nobody gave up on it"


def test_a_database_file_that_is_gone_is_not_made_anew_where_its_disk_was(tmp_path: Path) -> None:
    """Not by another run either; a person who wants a new one makes an empty file, and it has all from then on."""
    far = Sqlite(tmp_path)

    async def day(numbers: range, *, gone: bool) -> list[str]:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(numbers)
            if gone:
                await until(lambda: bool(one.begun()), "it is told")
                assert not (far.folder / "farm.db").exists()
                (far.folder / "farm.db").touch()
            await one.drained()
            return [said.text for said in one.begun()]

    assert run(day(range(1, 4), gone=False)) == []
    far.go_away()
    (told,) = run(day(range(4, 6), gone=True))
    assert "farm.db is not there; plug its disk in; or make an empty file of that name" in told
    assert [number for number, _ in far.held()] == [4, 5]


def test_a_database_file_that_was_put_in_anothers_place_is_written_from_then_on(tmp_path: Path) -> None:
    """A name that means another file now: what is open still would take all, where nobody looks."""
    far = Sqlite(tmp_path)

    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 4))
            await one.drained()
            (far.folder / "farm.db").rename(far.folder / "old.db")
            (far.folder / "farm.db").touch()
            await one.weigh(range(4, 6))
            await one.drained()
            assert one.said == []

    run(day())
    assert [number for number, _ in far.held()] == [4, 5]


def test_the_same_events_by_every_mode_are_the_same_events(tmp_path: Path) -> None:
    """Read back by the recorder from all three modes of the CloudEvents HTTP binding."""
    taken = []
    for kind in (Web, WebBinary, WebBatch):
        folder = tmp_path / kind.__name__
        folder.mkdir()
        far = kind(folder)
        assert isinstance(far, Web)
        try:
            far.start()

            async def day(far: Web = far, folder: Path = folder) -> None:
                async with shed(folder, far.table) as one:
                    await one.weigh(range(1, 121))
                    await one.drained()

            run(day())
            taken.append(far.taken())
        finally:
            far.close()
    assert taken[0] == taken[1] == taken[2]
    assert len(taken[0]) == 120


@STANDS
def test_it_can_be_tried_before_the_day(far: FarSide, tmp_path: Path) -> None:
    """As `neckyoke check --devices` does: what is right is found good, what is wrong is named."""
    table = OutletTable.model_validate(far.table)
    config = Config(site="larkmoor", links={}, stations={}, outlets={"far": table}, folder=tmp_path)
    before = sorted(far.folder.iterdir())
    (good,) = run(check_devices(config, 1.0))
    assert good.good, good.text
    if isinstance(far, Plugged):
        assert sorted(far.folder.iterdir()) == before, "it leaves nothing behind"
        shutil.rmtree(far.folder)
        (bad,) = run(check_devices(config, 1.0))
        assert not bad.good, bad.text
    if far.process is not None:
        far.kill()
        (bad,) = run(check_devices(config, 1.0))
        assert not bad.good
        assert "out of reach" in bad.text
