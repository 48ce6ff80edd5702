"""A real mosquitto on a free loopback port, with its own folder and configuration, and a recorder behind it.

The recorder is mosquitto_sub: another client than the one under test.
"""

import contextlib
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Iterator, Sequence
from itertools import count
from pathlib import Path
from typing import Any, NamedTuple

import pytest

HOW_TO_GET_IT = "mosquitto is needed: apt-get install mosquitto mosquitto-clients (Debian's packages)"


PORTS = range(12000, 32000)
"""Below those that the system gives to outgoing connections (ip_local_port_range begins at 32768)."""
WORKERS = 10


def _ports() -> Iterator[int]:
    """Yield the ports of this process: each worker of a run has a share of its own, and begins it anywhere."""
    share = len(PORTS) // WORKERS
    worker = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) % WORKERS
    begin = random.SystemRandom().randrange(share)
    yield from (PORTS[worker * share + (begin + n) % share] for n in count())


_OURS = _ports()


def free_port() -> int:
    """Return a TCP port that nobody listens on, and that nobody will be given until somebody asks for it."""
    for port in _OURS:
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(("127.0.0.1", port))
            return port
    raise AssertionError("the ports never end")


def find(program: str) -> str:
    """Return a program's path, or fail saying how to get it."""
    path = shutil.which(program) or shutil.which(program, path="/usr/sbin:/usr/local/sbin")
    if path is None:
        pytest.fail(HOW_TO_GET_IT)
    return path


def wait_until(condition: Callable[[], bool], what: str, deadline_s: float = 120.0) -> None:
    """Wait for a condition, with a deadline."""
    end = time.monotonic() + deadline_s
    while not condition():
        if time.monotonic() > end:
            pytest.fail(f"not within {deadline_s} s: {what}")
        time.sleep(0.01)


class Broker:
    """One mosquitto.  `lines` are put into its configuration; without a listener there, one is made on `port`."""

    def __init__(self, folder: Path, lines: Sequence[str] = ("allow_anonymous true",), port: int | None = None) -> None:
        self.folder = folder
        self.port = port or free_port()
        self.log = folder / "broker.log"
        self._config = folder / "mosquitto.conf"
        head = ["log_type all", f"log_dest file {self.log}", f"listener {self.port} 127.0.0.1", "user root"]
        self._config.write_text("\n".join([*head, *lines]) + "\n")
        self._process: subprocess.Popen[bytes] | None = None
        self._recorders: list[Recorder] = []

    @property
    def url(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    def start(self) -> "Broker":
        self._process = subprocess.Popen(
            [find("mosquitto"), "-c", self._config], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        wait_until(self._listens, "mosquitto listens")
        return self

    def _listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def send(self, number: signal.Signals) -> None:
        assert self._process is not None
        self._process.send_signal(number)

    def freeze(self) -> None:
        self.send(signal.SIGSTOP)

    def thaw(self) -> None:
        self.send(signal.SIGCONT)

    def stop(self, number: signal.Signals = signal.SIGKILL) -> None:
        if self._process is not None:
            self._process.send_signal(number)
            self._process.wait(10)
            self._process = None

    def logged(self) -> str:
        return self.log.read_text(errors="replace") if self.log.exists() else ""

    def record(self, topic: str = "#", *more: str) -> "Recorder":
        recorder = Recorder(self, topic, len(self._recorders), more)
        self._recorders.append(recorder)
        return recorder

    def close(self) -> None:
        for recorder in self._recorders:
            recorder.close()
        self.stop()


class Message(NamedTuple):
    """What the recorder received."""

    topic: str
    payload: str
    qos: int
    retained: bool
    properties: dict[str, Any]

    @property
    def event(self) -> dict[str, Any]:
        event: dict[str, Any] = json.loads(self.payload)
        return event


class Recorder:
    """mosquitto_sub, writing down what it receives."""

    def __init__(self, broker: Broker, topic: str, number: int, more: Sequence[str]) -> None:
        self._path = broker.folder / f"recorded-{number}.jsonl"
        name = f"recorder-{broker.port}-{number}"
        before = broker.logged().count(f"{name} 1 {topic}")
        with self._path.open("wb") as out:
            self._process = subprocess.Popen(
                [
                    *(find("mosquitto_sub"), "-h", "127.0.0.1", "-p", str(broker.port), "-V", "5", "-i", name),
                    *("-q", "1", "-t", topic, "-F", "%j", *more),
                ],
                stdout=out,
                stderr=subprocess.DEVNULL,
            )
        wait_until(lambda: broker.logged().count(f"{name} 1 {topic}") > before, "the recorder has subscribed")

    def messages(self) -> list[Message]:
        text = self._path.read_text()
        lines = text[: text.rfind("\n") + 1].splitlines()
        return [
            Message(one["topic"], one.get("payload") or "", one["qos"], bool(one["retain"]), one.get("properties", {}))
            for one in map(json.loads, lines)
        ]

    def on(self, ending: str) -> list[Message]:
        return [message for message in self.messages() if message.topic.endswith(ending)]

    def wait_for(self, count: int, ending: str, deadline_s: float = 120.0) -> list[Message]:
        wait_until(lambda: len(self.on(ending)) >= count, f"{count} messages on {ending}", deadline_s)
        return self.on(ending)

    def close(self) -> None:
        self._process.kill()
        self._process.wait(10)
