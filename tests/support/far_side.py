"""A real far side of an outlet, to be killed, frozen, slowed and locked; and an outlet that follows into it."""

import asyncio
import contextlib
import os
import signal
import socket
import subprocess
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any, ClassVar

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.outlets.make import make_outlet
from neckyoke.bridge.telling.alerts import Say, unheard
from tests.support.broker import free_port, wait_until
from tests.support.events import weighed
from tests.support.running import until
from tests.support.status import status_of

ROOT = Path(__file__).parents[2]
STOPPED_S, GOING_S = 0.1, 0.02


@contextlib.contextmanager
def again_and_again(holds: Callable[[], contextlib.AbstractContextManager[object]]) -> Iterator[None]:
    """Let a far side be held most of the time, by a thread: entered, `holds` holds it."""
    over = threading.Event()

    def pulses() -> None:
        while not over.is_set():
            with holds():
                time.sleep(STOPPED_S)
            time.sleep(GOING_S)

    thread = threading.Thread(target=pulses)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def follower(table: OutletTable, folder: Path, journal: Journal, say: Say = unheard) -> Follower:
    """Make the outlet `far` as the daemon makes it."""
    config = Config(site="larkmoor", links={}, stations={}, outlets={"far": table}, folder=folder)

    async def ask(*_: Any, **__: Any) -> dict[str, Any]:
        return {}

    return make_outlet("far", table, config, journal, say=say, ask=ask, status=status_of)


class FarSide(ABC):
    """One far side in a folder.  `held` gives (weighing's number, revision) of what it holds."""

    kind = ""
    password = "a secret of ours"
    secret_key: ClassVar[str] = "password_file"
    refusals: ClassVar[tuple[str, ...]] = ()
    """In how many ways it refuses, and how each is called."""
    disk_mb: ClassVar[int] = 2
    """How small a disk of its own may be to be filled."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "far"
        self.folder.mkdir()
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None
        self.certificate: tuple[Path, ...] = ()

    @property
    @abstractmethod
    def table(self) -> dict[str, Any]:
        """The outlet's table in the configuration."""

    def command(self) -> list[str]:
        return []

    def start(self) -> "FarSide":
        if self.command():
            self._run()
            wait_until(self._listens, f"{self.kind} listens")
        return self

    def _run(self) -> None:
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(self.command(), cwd=ROOT, stdout=log, stderr=log, start_new_session=True)

    def _listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def set(self, name: str, value: str) -> None:
        """Write down for it what it is to do."""
        (self.folder / name).write_text(value)

    def lock(self) -> None:
        """Let it ask for its password from now on."""
        self.set("token", self.password)

    def refuse(self, how: str) -> None:
        """Let it take nothing, in one of the ways of `refusals`, but be there."""
        self.set("answer", how)

    def allow(self) -> None:
        """Let it take all again."""
        (self.folder / "answer").unlink()

    def put_right(self) -> None:  # noqa: B027  # most need nothing
        """Do what its own people would have to once its disk has room again."""

    def send(self, number: int) -> None:
        if self.process is not None:
            os.killpg(self.process.pid, number)

    def freeze(self) -> None:
        """Stop it, and wait until it stands: until its first thread has met the signal, the others go on working."""
        if self.process is not None:
            self.send(signal.SIGSTOP)
            os.waitid(os.P_PID, self.process.pid, os.WSTOPPED | os.WEXITED | os.WNOWAIT)

    def kill(self) -> None:
        if self.process is not None:
            self.send(signal.SIGKILL)
            self.process.wait(10)
            self.process = None

    def go_away(self) -> None:
        self.kill()

    def come_back(self) -> None:
        self.start()

    @contextlib.contextmanager
    def slow(self) -> Iterator[None]:
        """Let it go for a fraction of the time only."""

        @contextlib.contextmanager
        def stopped() -> Iterator[None]:
            self.freeze()
            yield
            self.send(signal.SIGCONT)

        with again_and_again(stopped):
            yield

    def close(self) -> None:
        self.send(signal.SIGCONT)
        self.kill()

    @abstractmethod
    def held(self) -> list[tuple[int, int]]:
        """Return (number, revision) of all that it holds: as they came, or by number from a table."""


class Shed:
    """A journal followed into a far side; `said` is what a person was told."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self.said: list[Attention] = []
        self.outlet: Follower

    async def weigh(self, numbers: range) -> None:
        await self.journal.append([weighed(number) for number in numbers])

    async def drained(self) -> None:
        await until(lambda: self.outlet.health().backlog == 0, "everything is taken", 300.0)

    def begun(self) -> list[Attention]:
        return [one for one in self.said if not one.over]


@contextlib.asynccontextmanager
async def shed(folder: Path, table: dict[str, Any]) -> AsyncIterator[Shed]:
    """Let a journal be followed into the far side of a table."""
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
