"""Far sides that do not let us in, refuse, or are full: told once, in words, and over by itself when put right."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.certificates import Authority
from tests.support.events import weighed
from tests.support.far_servers import Postgres
from tests.support.far_side import ROOT, FarSide, shed
from tests.support.far_sides import ASKABLE, EventsFile, Line, Mqtt, Sqlite, Web, WebBatch
from tests.support.running import run, until

LOCKED = pytest.mark.parametrize("kind", [Mqtt, Web, Line, Postgres], ids=lambda kind: kind.__name__)
IN_A_ROOM_OF_ITS_OWN = ("unshare", "--map-root-user", "--mount")


@pytest.fixture
def made(kind: type[FarSide], tmp_path: Path) -> Iterator[FarSide]:
    """Yield a far side that is not started yet."""
    far = kind(tmp_path)
    try:
        yield far
    finally:
        far.close()


@pytest.mark.parametrize(
    ("kind", "answer"),
    [(kind, answer) for kind in ASKABLE for answer in kind.refusals],
    ids=lambda one: one if isinstance(one, str) else one.__name__,
)
def test_a_refusal_is_told_once_and_ends_by_itself(made: FarSide, tmp_path: Path, answer: str) -> None:
    made.start()
    made.set("answer", answer)

    async def day() -> None:
        async with shed(tmp_path, made.table) as one:
            await one.weigh(range(1, 31))
            await until(lambda: bool(one.begun()), "it is told")
            (made.folder / "answer").unlink()
            await one.drained()
            assert len(one.begun()) == 1

    run(day(), 100)
    assert [number for number, _ in made.held()] == list(range(1, 31))


@LOCKED
def test_a_wrong_secret_is_told_and_put_right_without_a_restart(made: FarSide, tmp_path: Path) -> None:
    made.lock()
    made.start()
    secret = tmp_path / "secret"
    secret.write_text("wrong\n")
    table = {**made.table, made.secret_key: "secret"}
    if isinstance(made, Mqtt):
        table |= {"username": "crush"}

    async def day() -> None:
        async with shed(tmp_path, table) as one:
            await one.weigh(range(1, 4))
            await until(lambda: bool(one.begun()), "it is told")
            assert [said.about for said in one.begun()] == ["outlet-far-refused"], "a person has to act"
            assert made.secret_key.removesuffix("_file") in one.begun()[0].text
            secret.write_text(made.password + "\n")
            await one.drained()
            assert len(one.begun()) == 1

    run(day(), 100)
    assert [number for number, _ in made.held()] == [1, 2, 3]


@LOCKED
def test_a_certificate_of_an_unknown_authority_is_told_and_put_right(made: FarSide, tmp_path: Path) -> None:
    ours, strange = Authority(tmp_path / "ours"), Authority(tmp_path / "strange")
    made.certificate = ours.sign("server")
    made.start()
    known = tmp_path / "known.crt"
    known.write_bytes(strange.certificate.read_bytes())

    async def day() -> None:
        async with shed(tmp_path, {**made.table, "ca_file": "known.crt"}) as one:
            await one.weigh(range(1, 4))
            await until(lambda: bool(one.begun()), "it is told")
            assert [said.about for said in one.begun()] == ["outlet-far-refused"]
            assert "authority not known here; set ca_file" in one.begun()[0].text
            known.write_bytes(ours.certificate.read_bytes())
            await one.drained()
            assert len(one.begun()) == 1

    run(day(), 100)
    assert [number for number, _ in made.held()] == [1, 2, 3]


@pytest.mark.parametrize("kind", [Web, WebBatch], ids=lambda kind: kind.__name__)
def test_an_event_that_is_too_large_is_passed_over_and_told_of(made: Web, tmp_path: Path) -> None:
    made.start()
    made.set("largest", "30000" if made.mode == "batch" else "4000")
    large = weighed(5)
    large = large.model_copy(update={"data": large.data.model_copy(update={"notes": ("x" * 40000,)})})

    async def day() -> list[str]:
        async with shed(tmp_path, made.table) as one:
            await one.journal.append([weighed(1), weighed(2), large, weighed(6), weighed(7)])
            await one.drained()
            assert one.outlet._set_aside == 1
            return [said.text for said in one.said]

    (told,) = run(day(), 100)
    assert "Event 3" in told
    assert [number for number, _ in made.held()] == [1, 2, 6, 7]


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


def _may_mount() -> bool:
    return subprocess.run([*IN_A_ROOM_OF_ITS_OWN, "true"], check=False, capture_output=True).returncode == 0


@pytest.mark.skipif(not _may_mount(), reason="a real full disk needs a kernel that lets users mount their own")
@pytest.mark.parametrize("kind", [EventsFile, Sqlite], ids=lambda kind: kind.__name__)
def test_a_disk_that_is_really_full_is_told_once_and_goes_on(kind: type[FarSide], tmp_path: Path) -> None:
    """A file system in memory, filled to its last byte and cleared again, in a room of its own that can mount."""
    program = f"mount -t tmpfs -o size=2m tmpfs {tmp_path} && exec {sys.executable} -m tests.support.full_far_side"
    command = [*IN_A_ROOM_OF_ITS_OWN, "sh", "-c", f"{program} {tmp_path} {kind.__name__}"]
    ran = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, timeout=120, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert ran.stdout.split() == ["held", "400", "told", "1"]
