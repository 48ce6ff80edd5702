"""Connections that say nothing take no descriptor from devices, broker or socket: the daemon weighs on, all of it."""

import asyncio
import contextlib
import http.client
import resource
import socket
import threading
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from neckyoke.bridge.page import access, app
from neckyoke.simulators.wires.ends import PtyEnd, play
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker, Recorder, free_port
from tests.support.daemon import CONFIG, Daemon, until

SPEED = 8.0
SILENT, FROM = 1200, [f"127.0.1.{n}" for n in range(1, 4)]
DESCRIPTORS = 512
"""Half of what systemd gives: fewer than the connections, by far."""
OWN = 40
"""As many has the daemon of this test itself, and some more."""


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    (tmp_path / "broker").mkdir()
    made = Broker(tmp_path / "broker").start()
    yield made
    made.close()


@pytest.fixture
def ends(tmp_path: Path) -> Iterator[dict[str, PtyEnd]]:
    with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
        yield {"indicator": indicator, "panel": panel}


@pytest.fixture
def lines() -> Iterator[list[socket.socket]]:
    """What is connected; this process may have so many open at once."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if soft < SILENT + 200:
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(SILENT + 200, hard), hard))
    made: list[socket.socket] = []
    yield made
    for line in made:
        line.close()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@contextlib.contextmanager
def few_descriptors() -> Iterator[None]:
    """What is started meanwhile may have so few open at once."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (DESCRIPTORS, hard))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@contextlib.contextmanager
def crowded(port: int, lines: list[socket.socket]) -> Iterator[None]:
    """A crowd at a port meanwhile."""
    enough = threading.Event()
    coming = threading.Thread(target=crowd, args=(port, lines, enough), daemon=True)
    coming.start()
    try:
        until(lambda: len(lines) >= SILENT, "the crowd")
        yield
    finally:
        enough.set()
        coming.join()


def crowd(port: int, lines: list[socket.socket], enough: threading.Event) -> None:
    """Connect again and again, from some addresses in turn, and say nothing: at first so many, then as they go."""
    for n in count():
        if enough.is_set():
            return
        if len(lines) >= SILENT:
            lines[:] = [line for line in lines if is_open(line)]
            enough.wait(0.05)
        with contextlib.suppress(OSError):
            lines.append(socket.create_connection(("127.0.0.1", port), 1, (FROM[n % len(FROM)], 0)))


def is_open(line: socket.socket) -> bool:
    """Return whether the far end has not hung up."""
    line.settimeout(0)
    with contextlib.suppress(ConnectionError):
        try:
            line.recv(1)
        except BlockingIOError:
            return True
    line.close()
    return False


def health(port: int, whence: str) -> int:
    """Ask the page how it is, from an address."""
    asker = http.client.HTTPConnection("127.0.0.1", port, timeout=60, source_address=(whence, 0))
    with contextlib.closing(asker):
        asker.request("GET", "/health")
        return asker.getresponse().status


def told(recorder: Recorder) -> set[str]:
    """Name the weighings that the broker was given."""
    return {message.event["data"]["weighing"] for message in recorder.on("/weighing")}


@pytest.mark.long
@pytest.mark.timeout(400)
def test_twelve_hundred_silent_connections_cost_no_stay(
    tmp_path: Path, broker: Broker, ends: dict[str, PtyEnd], lines: list[socket.socket]
) -> None:
    assert DESCRIPTORS // 4 + app.ACCEPTED_AT_ONCE + OWN < DESCRIPTORS / 2, "places, a moment's newcomers, its own"
    port = free_port()
    urls = {name: f"serial:{tmp_path / name}?baud=9600" for name in ends}
    config = CONFIG.format(**urls) + f'[outlets.farm]\nmqtt = "{broker.url}"\n[page]\nlisten = "127.0.0.1:{port}"\n'
    daemon = Daemon(tmp_path, config, SPEED)
    access.keep(tmp_path / "page.code", "482913067")
    yard = Yard.named("calm", seed=5, animals=4)
    recorder = broker.record("neckyoke/larkmoor/crush/weighing")
    with contextlib.closing(daemon):
        with few_descriptors():
            daemon.start()
        until(lambda: daemon.ask({"kind": "status"})["status"]["outlets"]["farm"]["trouble"] == {}, "the broker")

        with crowded(port, lines):
            for end in ends.values():  # a device comes back: it needs a descriptor
                end.unplug()
                end.plug()
            asyncio.run(play(yard.items(), ends, speed=SPEED))

            until(lambda: len(daemon.weighings()) == len(yard.truth), "a weighing a stay")
            # the page answers, from an address of the crowd's too; the socket as well
            assert [health(port, whence) for whence in ("127.0.0.1", FROM[0])] == [200, 200]
            links = daemon.ask({"kind": "status"})["status"]["links"]
            assert {link["state"] for link in links.values()} == {"up"}
            assert len(daemon.descriptors) < DESCRIPTORS / 2
            until(lambda: told(recorder) >= set(daemon.weighings()), "the broker's share")
        assert daemon.stop() == 0
