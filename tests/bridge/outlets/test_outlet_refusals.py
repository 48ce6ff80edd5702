"""Far sides that do not let us in, refuse, or are full: told once, in words, and over by itself when put right."""

import asyncio
import os
import pwd
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
from tests.support.far_sides import FILLED, KINDS, Line, Mqtt, Sqlite, Web, WebBatch, WebBinary
from tests.support.running import run, until

REFUSING: tuple[type[FarSide], ...] = (*KINDS, Line)
WITH_A_LOCK = (Mqtt, Web, WebBinary, WebBatch, Line, Postgres)
LOCKED = pytest.mark.parametrize("kind", WITH_A_LOCK, ids=lambda kind: kind.__name__)
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
    [(kind, answer) for kind in REFUSING for answer in kind.refusals],
    ids=lambda one: one if isinstance(one, str) else one.__name__,
)
def test_a_refusal_is_told_once_and_ends_by_itself(made: FarSide, tmp_path: Path, answer: str) -> None:
    made.start()
    made.refuse(answer)

    async def day() -> None:
        async with shed(tmp_path, made.table) as one:
            await one.weigh(range(1, 31))
            standing = one.outlet._troubles._standing
            await until(lambda: any(trouble.times > 2 for trouble in standing.all()), "it is told, and tried again")
            assert one.outlet.health().position == 0
            await asyncio.to_thread(made.allow)
            await one.drained()
            assert len(one.begun()) == 1
            assert one.begun()[0].text.endswith("No event is lost: they wait in the journal.")

    run(day())
    assert [number for number, _ in made.held()] == list(range(1, 31)), "each once, in order"


@pytest.mark.parametrize("kind", [Mqtt], ids=lambda kind: kind.__name__)
@pytest.mark.parametrize("answer", Mqtt.refusals)
def test_one_refused_within_a_backlog_comes_again_with_all_behind_it_in_order(
    made: FarSide, tmp_path: Path, answer: str
) -> None:
    """A refusal that begins and ends within a window: MQTT 5 (4.6) lets a broker take the ones behind it at once.

    What came before it comes again behind it, and no later one gets past another: the outlet has learned.
    """
    made.start()
    made.set("answer", answer)
    made.set("once", "30 31 90 150")

    async def day() -> None:
        async with shed(tmp_path, made.table) as one:
            await one.weigh(range(1, 201))
            await one.drained()
            assert len(one.begun()) == 1

    run(day())
    came = [number for number, _ in made.held()]
    again = came.index(30)
    early = came[29:again]
    assert came[:29] == list(range(1, 30))
    assert early == list(range(32, 32 + len(early)))
    assert 0 < len(early) < 20, "a window at most came before it"
    assert came[again:] == list(range(30, 201)), "and once more, in order; and nothing else overtook"


@pytest.mark.parametrize("kind", [Mqtt], ids=lambda kind: kind.__name__)
def test_live_nothing_gets_past_one_that_is_refused(made: FarSide, tmp_path: Path) -> None:
    made.start()
    made.set("answer", "151")
    made.set("once", "4 9")

    async def day() -> None:
        async with shed(tmp_path, made.table) as one:
            for last in range(3, 31, 3):
                await one.weigh(range(last - 2, last + 1))
                await one.drained()

    run(day())
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

    run(day())
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

    run(day())
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

    (told,) = run(day())
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
            assert "full; make room on it" in one.begun()[0].text
            await one.drained()  # the connection is a new one, with room
            assert len(one.begun()) == 1

    run(day())
    assert len(far.held()) == 199


def _may_mount() -> bool:
    return subprocess.run([*IN_A_ROOM_OF_ITS_OWN, "true"], check=False, capture_output=True).returncode == 0


@pytest.mark.skipif(not _may_mount(), reason="a real full disk needs a kernel that lets users mount their own")
@pytest.mark.parametrize("kind", FILLED, ids=lambda kind: kind.__name__)
def test_a_disk_that_is_really_full_is_told_once_and_goes_on(kind: type[FarSide], tmp_path: Path) -> None:
    """A file system in memory, filled to its last byte and cleared again, in a room of its own that can mount.

    Within it everything runs as an ordinary user again: PostgreSQL runs as no other.
    """
    user = os.getuid() or pwd.getpwnam("nobody").pw_uid
    mount = f"mount -t tmpfs -o size={kind.disk_mb}m tmpfs {tmp_path}"
    program = f"unshare --map-user={user} {sys.executable} -m tests.support.full_far_side {tmp_path} {kind.__name__}"
    command = [*IN_A_ROOM_OF_ITS_OWN, "sh", "-c", f"{mount} && exec {program}"]
    ran = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, timeout=240, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    (told,) = ran.stdout.splitlines()
    assert "full" in told
    assert "make room on it" in told or "delete what is not needed on it" in told
    assert told.endswith("No event is lost: they wait in the journal.")
