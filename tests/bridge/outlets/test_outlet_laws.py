"""What holds for every kind of far side: nothing lost, order kept, recovered by itself, told once."""

import asyncio
import contextlib
import json
import random
import signal
import subprocess
import sys
import threading
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.daemon.check_devices import check_devices
from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.follower import Follower
from tests.support.certificates import Authority
from tests.support.events import weighed
from tests.support.far_sides import KINDS, FarSide, Postgres, Sqlite, Web, WebBatch, follower
from tests.support.running import run, until

STANDS = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
SERVED = pytest.mark.parametrize("kind", [kind for kind in KINDS if kind is not Sqlite], ids=lambda kind: kind.__name__)


@pytest.fixture
def far(kind: type[FarSide], tmp_path: Path) -> Iterator[FarSide]:
    """Yield a far side that runs."""
    made = kind(tmp_path)
    try:
        yield made.start()
    finally:
        made.close()


class Shed:
    """A journal followed into a far side; `said` is what a person was told."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self.said: list[Attention] = []
        self.outlet: Follower

    async def weigh(self, numbers: range) -> None:
        await self.journal.append([weighed(number) for number in numbers])

    async def drained(self) -> None:
        await until(lambda: self.outlet.health().backlog == 0, f"everything is taken: {self.outlet.health()}", 60.0)

    def begun(self) -> list[Attention]:
        return [one for one in self.said if not one.over]


@contextlib.asynccontextmanager
async def shed(folder: Path, table: dict[str, Any]) -> AsyncIterator[Shed]:
    journal = await Journal.open(folder / "journal.db", outlets=["far"])
    one = Shed(journal)
    one.outlet = follower(OutletTable.model_validate(table), folder, journal, one.said.append)
    one.outlet._backoff._longest_s = 0.1
    running = asyncio.create_task(one.outlet.run())
    try:
        yield one
        await one.outlet.stop(10.0)
    finally:
        running.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await running
        await journal.close()


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
        command = [sys.executable, "-m", "tests.support.following", str(tmp_path), json.dumps(far.table), "100000"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        kills_far = threading.Timer(chance.uniform(0.0, 0.3), far.kill)
        for count, line in enumerate(process.stdout):
            last = int(line.split()[1])
            if count == 3:
                kills_far.start()
            if count >= chance.randint(30, 60):
                process.kill()
        process.communicate()
        kills_far.join()
        far.kill()
        far.start()
    last += 5
    command = [sys.executable, "-m", "tests.support.following", str(tmp_path), json.dumps(far.table), str(last)]
    subprocess.run(command, check=True, timeout=90, stdout=subprocess.DEVNULL)
    in_order(far, last)


@SERVED
def test_a_far_side_that_is_away_for_a_day_costs_nothing_but_time(far: FarSide, tmp_path: Path) -> None:
    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 21))
            await one.drained()
            far.kill()
            await one.weigh(range(21, 801))
            await until(lambda: bool(one.begun()), "the trouble is told")
            await until(lambda: one.outlet._backoff._next_s >= 0.1, "it tries again and again")
            await asyncio.to_thread(far.start)
            await one.drained()
            assert [said.about for said in one.begun()] == ["outlet-far"], "told once"
            assert "No event is lost" in one.begun()[0].text

    run(day(), 100)
    assert [number for number, _ in dict.fromkeys(far.held())] == list(range(1, 801))


@SERVED
def test_one_that_is_frozen_is_waited_for_and_then_given_all(
    far: FarSide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("neckyoke.bridge.outlets.web.client.ANSWER_S", 0.5)
    monkeypatch.setattr("neckyoke.bridge.outlets.web.client.CONNECT_S", 0.5)
    monkeypatch.setattr("neckyoke.bridge.outlets.database.sql.ANSWER_S", 0.5)

    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 11))
            await one.drained()
            if isinstance(far, Postgres):  # its processes have sessions of their own
                far.rows("select pg_stat_reset()")
            far.send(signal.SIGSTOP)
            await one.weigh(range(11, 31))
            if not isinstance(far, Postgres):
                await until(lambda: bool(one.begun()), "it is told")
            far.send(signal.SIGCONT)
            monkeypatch.undo()
            await one.drained()
            assert len(one.begun()) <= 1

    run(day(), 100)
    assert {number for number, _ in far.held()} == set(range(1, 31))


@pytest.mark.parametrize("kind", [Web, WebBatch], ids=lambda kind: kind.__name__)
@pytest.mark.parametrize("answer", ["401", "404", "500", "503", "507"])
def test_a_refusal_is_told_once_and_ends_by_itself(far: Web, tmp_path: Path, answer: str) -> None:
    """507: its disk is full (RFC 4918)."""
    far.set("answer", answer)

    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 31))
            await until(lambda: bool(one.begun()), "it is told")
            (far.folder / "answer").unlink()
            await one.drained()
            assert len(one.begun()) == 1

    run(day(), 100)
    assert [number for number, _ in far.held()] == list(range(1, 31))


@pytest.mark.parametrize("kind", [Web], ids=["Web"])
def test_a_wrong_token_is_told_and_put_right_without_a_restart(far: Web, tmp_path: Path) -> None:
    far.set("token", "right")
    (tmp_path / "token").write_text("wrong\n")

    async def day() -> None:
        async with shed(tmp_path, {**far.table, "token_file": "token"}) as one:
            await one.weigh(range(1, 4))
            await until(lambda: bool(one.begun()), "it is told")
            assert "token_file" in one.begun()[0].text
            (tmp_path / "token").write_text("right\n")
            await one.drained()

    run(day(), 100)
    assert len(far.held()) == 3


def test_a_wrong_password_of_the_database_is_told_and_put_right(tmp_path: Path) -> None:
    far = Postgres(tmp_path)
    try:
        far.start()
        (far.folder / "secret").write_text("wrong")

        async def day() -> None:
            async with shed(tmp_path, far.table) as one:
                await one.weigh(range(1, 4))
                await until(lambda: bool(one.begun()), "it is told")
                assert one.begun()[0].about == "outlet-far-refused"
                assert "password_file" in one.begun()[0].text
                (far.folder / "secret").write_text(far.password)
                await one.drained()

        run(day(), 100)
        assert len(far.held()) == 3
    finally:
        far.close()


def test_a_certificate_of_an_unknown_authority_is_told_and_put_right(tmp_path: Path) -> None:
    ours, strange = Authority(tmp_path / "ours"), Authority(tmp_path / "strange")
    far = Web(tmp_path)
    far.certificate = tuple(map(str, ours.sign("server")))
    try:
        far.start()
        known = tmp_path / "known.crt"
        known.write_bytes(strange.certificate.read_bytes())

        async def day() -> None:
            async with shed(tmp_path, {**far.table, "ca_file": "known.crt"}) as one:
                await one.weigh(range(1, 4))
                await until(lambda: bool(one.begun()), "it is told")
                assert "authority not known here; set ca_file" in one.begun()[0].text
                known.write_bytes(ours.certificate.read_bytes())
                await one.drained()

        run(day(), 100)
        assert len(far.held()) == 3
    finally:
        far.close()


@pytest.mark.parametrize("kind", [Web, WebBatch], ids=lambda kind: kind.__name__)
def test_an_event_that_is_too_large_is_passed_over_and_told_of(far: Web, tmp_path: Path) -> None:
    far.set("largest", "30000" if far.mode == "batch" else "4000")
    large = weighed(5)
    large = large.model_copy(update={"data": large.data.model_copy(update={"notes": ("x" * 40000,)})})

    async def day() -> list[str]:
        async with shed(tmp_path, far.table) as one:
            await one.journal.append([weighed(1), weighed(2), large, weighed(6), weighed(7)])
            await one.drained()
            assert one.outlet._set_aside == 1
            return [said.text for said in one.said]

    (told,) = run(day(), 100)
    assert "Event 3" in told
    assert [number for number, _ in far.held()] == [1, 2, 6, 7]


def test_the_same_events_by_every_mode_are_the_same_events(tmp_path: Path) -> None:
    """Read back by the recorder from all three modes of the CloudEvents HTTP binding."""
    taken = []
    for kind in KINDS[:3]:
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

            run(day(), 100)
            taken.append(far.taken())
        finally:
            far.close()
    assert taken[0] == taken[1] == taken[2]
    assert len(taken[0]) == 120


def test_a_database_file_on_a_full_disk_is_told_and_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite's own word for it, from a database that may have so many pages and no more."""
    far = Sqlite(tmp_path)

    async def day() -> None:
        async with shed(tmp_path, far.table) as one:
            await one.weigh(range(1, 3))
            await one.drained()
            taker: Any = one.outlet.taker
            taker._connection.execute("pragma max_page_count = 1")
            await one.weigh(range(3, 200))
            await until(lambda: bool(one.begun()), "it is told")
            assert "make room on its disk" in one.begun()[0].text
            await one.drained()  # the connection is a new one, with room
            assert len(one.begun()) == 1

    run(day(), 100)
    assert len(far.held()) == 199


@STANDS
def test_it_can_be_tried_before_the_day(far: FarSide, tmp_path: Path) -> None:
    """As `neckyoke check --devices` does: what is right is found good, what is wrong is named."""
    table = OutletTable.model_validate(far.table)
    config = Config(site="larkmoor", links={}, stations={}, outlets={"far": table}, folder=tmp_path)
    (good,) = run(check_devices(config, 1.0), 60)
    assert good.good, good.text
    if far.process is not None:
        far.kill()
        (bad,) = run(check_devices(config, 1.0), 60)
        assert not bad.good
        assert "out of reach" in bad.text
