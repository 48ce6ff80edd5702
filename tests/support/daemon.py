"""A daemon as a process of its own, on a folder of its own, for tests from end to end."""

import asyncio
import contextlib
import json
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Self

from neckyoke.bridge.asking.socket import ask
from neckyoke.simulators.wires.ends import End, PtyEnd
from tests.support.warm import Forked
from tests.support.yard_clock import DAEMON, YardClock

ROOT = Path(__file__).parents[2]
DEADLINE_S = 300.0
"""Of what never comes.  No test is about how soon: a machine with much to do may take a hundred times as long."""

CONFIG = """\
site = "larkmoor"
[links.indicator]
url = "{indicator}"
[links.panel]
url = "{panel}"
[stations.crush]
scale = "indicator"
readers = [{{ link = "panel", position = "platform" }}]
capacity_kg = 1500
[outlets.events]
file = "events.jsonl"
[capture]
folder = "captures"
"""


def until(condition: Callable[[], bool], what: str, deadline_s: float = DEADLINE_S) -> None:
    """Wait for a condition; fail, saying what was waited for, when it does not come."""
    end = time.monotonic() + deadline_s
    while not condition():
        assert time.monotonic() < end, f"waited {deadline_s} s for {what}"
        time.sleep(0.02)


async def until_async(condition: Callable[[], bool], what: str, deadline_s: float = DEADLINE_S) -> None:
    """Wait likewise without holding the loop up."""
    end = time.monotonic() + deadline_s
    while not condition():
        assert time.monotonic() < end, f"waited {deadline_s} s for {what}"
        await asyncio.sleep(0.02)


class Daemon:
    """`neckyoke run` in `folder` under `config`; with a `speed` other than 1 its clock runs so much faster.

    Such a clock is `synchronised` or not, and goes on through a restart; such a daemon is forked (`warm.py`).
    """

    def __init__(self, folder: Path, config: str, speed: float = 1.0, *, synchronised: bool = True) -> None:
        self.folder = folder
        self.speed = speed
        self.clock = YardClock(speed, folder / "yard.clock")
        self._synchronised = "yes" if synchronised else "no"
        self.config = folder / "neckyoke.toml"
        self.config.write_text(config, encoding="utf-8")
        self.socket = folder / "neckyoke.sock"
        self.log = folder / "daemon.log"
        self.process: subprocess.Popen[bytes] | Forked | None = None

    def start(self) -> Self:
        """Start it and wait until it listens."""
        with self.log.open("ab") as log:
            if self.speed == 1.0:
                command = [sys.executable, "-m", "neckyoke.bridge.cli", "run", "--config", str(self.config)]
                self.process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log)
            else:
                shared = [str(self.speed), str(self.config), str(self.folder / "yard.clock"), self._synchronised]
                self.process = Forked("tests.support.fast_daemon", *shared, stdout=log, stderr=log)
        until(lambda: self.listens or self.process_ended, "the daemon to listen")
        assert not self.process_ended, self.log.read_text()
        return self

    @property
    def listens(self) -> bool:
        """Whether somebody takes calls on its socket; the file alone may be left from before a kill."""
        with socket.socket(socket.AF_UNIX) as probe:
            return probe.connect_ex(str(self.socket)) == 0

    @property
    def process_ended(self) -> bool:
        """Whether the process has ended by itself."""
        return self.process is not None and self.process.poll() is not None

    def stop(self) -> int:
        """Stop it as systemd would; return its exit code."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(DEADLINE_S)
        self.clock.leave(DAEMON)
        return code

    def kill(self, *ends: PtyEnd) -> None:
        """Kill it as a power cut would, as far as a process can be; the ports that it had open at `ends` are free."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(DEADLINE_S)
        self.clock.leave(DAEMON)
        self.socket.unlink(missing_ok=True)
        for end in ends:
            end.let_go()

    def close(self) -> None:
        """Make sure that it is gone."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait(DEADLINE_S)

    def play(self, items: Iterable[tuple[float, str, bytes]], ends: Mapping[str, End]) -> None:
        """Play a yard on real ends, as fast as its clock goes, once the daemon has opened them."""
        until(lambda: all(self._state(link) == "up" for link in ends), f"{', '.join(ends)} to be up")
        asyncio.run(self.clock.play(items, ends))

    def _state(self, link: str) -> str | None:
        state: str | None = self.ask({"kind": "status"})["status"]["links"][link]["state"]
        return state

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        """Ask it something."""
        return asyncio.run(ask(self.socket, request))

    def events(self) -> list[dict[str, Any]]:
        """Read its events file."""
        path = self.folder / "events.jsonl"
        return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []

    def weighings(self) -> dict[str, dict[str, Any]]:
        """Return the highest revision of each weighing by its id, as a recorder would."""
        return latest(self.events())

    @property
    def descriptors(self) -> list[str]:
        """What it holds open: the targets of its descriptors, without numbers that differ each time."""
        assert self.process is not None
        names = []
        for link in Path(f"/proc/{self.process.pid}/fd").iterdir():
            with contextlib.suppress(FileNotFoundError):
                names.append(re.sub(r"\d+", "N", str(link.readlink())))
        return sorted(names)


def latest(events: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Return the data of the highest revision of each weighing by its id."""
    best: dict[str, dict[str, Any]] = {}
    for event in events:
        data = event["data"]
        if (
            event["type"] == "neckyoke.weighing"
            and data["revision"] > best.get(data["weighing"], {"revision": 0})["revision"]
        ):
            best[data["weighing"]] = data
    return best
