"""What all tests may ask for: a real broker, and a check that no descriptor leaks."""

import contextlib
import gc
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants

SLOW = [HealthCheck.too_slow]  # which says how busy this machine is
settings.register_profile(
    "same", derandomize=True, database=None, print_blob=True, suppress_health_check=SLOW, deadline=None
)  # no deadline: a busy machine is no bug
settings.register_profile("fresh", print_blob=True, deadline=None)
settings.load_profile("same")  # nobody's run fails by chance; --hypothesis-profile=fresh looks for what others have not

MEMORY, ROOM_BYTES = Path("/dev/shm"), 2_000_000_000  # pytest makes folders of its own in it


def _files_in_memory() -> None:
    """Let the tests' own files lie in memory where there is room: half of their time went into waiting for a disk.

    What a lost cable or a full disk does is tried by other means; `PYTEST_DEBUG_TEMPROOT=/tmp` brings the disk back.
    """
    with contextlib.suppress(OSError):
        room = os.statvfs(MEMORY)
        if room.f_bavail * room.f_frsize > ROOM_BYTES and not room.f_flag & os.ST_NOEXEC and os.access(MEMORY, os.W_OK):
            os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))


_files_in_memory()
pytest.register_assert_rewrite("tests.support")

from tests.support import ahead  # noqa: E402  # so that its assertions tell as much as a test's
from tests.support.broker import Broker  # noqa: E402


def pytest_configure(config: pytest.Config) -> None:
    """Look for no rubbish yet: all that is imported and collected stays, and looking through it costs.

    Draw nothing from the sources of what is imported: which modules are rests on which tests ran before.
    """
    gc.disable()
    if config.getoption("--hypothesis-profile") is None:
        providers._get_local_constants = Constants


@pytest.hookimpl(tryfirst=True)
def pytest_collection(session: pytest.Session) -> None:
    """Do a worker's share of what all of them need done, before each imports all."""
    given: dict[str, Any] = getattr(session.config, "workerinput", {})
    if "workercount" in given:
        first = int(given["workerid"].removeprefix("gw"))
        ahead.keep(ahead.rewritten()[first :: given["workercount"]], session.config)


def pytest_collection_finish() -> None:
    """Look for rubbish from now on, and never in what was there before the first test.

    Seldom: tests make much and let go of nearly all of it by themselves.
    """
    gc.freeze()
    gc.set_threshold(10_000, 10, 10)
    gc.enable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


@pytest.fixture
def make_broker(tmp_path: Path) -> Iterator[Callable[..., Broker]]:
    """Yield a maker of mosquittos: `make_broker(lines)` makes one and starts it; all are stopped at the end."""
    made: list[Broker] = []

    def make(lines: Sequence[str] = ("allow_anonymous true",), port: int | None = None) -> Broker:
        folder = tmp_path / f"broker-{len(made)}"
        folder.mkdir()
        made.append(Broker(folder, lines, port))
        return made[-1].start()

    yield make
    for broker in made:
        broker.close()


@pytest.fixture
def broker(make_broker: Callable[..., Broker]) -> Broker:
    """Return a running mosquitto that lets everybody in."""
    return make_broker()


@pytest.fixture
def no_leaks() -> Iterator[None]:
    """Fail a test that leaves descriptors open."""
    gc.collect()
    gc.freeze()  # what earlier tests imported is not looked through once more at the end
    before = _descriptors()
    yield
    gc.collect()
    left = {fd: to for fd, to in _descriptors().items() if before.get(fd) != to}
    assert left == {}


def _descriptors() -> dict[int, str]:
    found = {}
    for name in Path("/proc/self/fd").iterdir():
        with contextlib.suppress(FileNotFoundError):  # the one that lists the others
            found[int(name.name)] = str(name.readlink())
    return found
