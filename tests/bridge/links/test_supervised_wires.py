"""Supervisors on real wires: devices that go and come back, that change their name, that never stop talking."""

import asyncio
import random
import socket
import time
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest

from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.capture.write import CaptureWriter
from neckyoke.bridge.config.model import LinkTable
from neckyoke.bridge.links.bluetooth import ble as bluetooth
from neckyoke.bridge.links.make import make_link
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.links.wires import descriptor, tcp
from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import WeightReading
from neckyoke.simulators.wires.ends import PtyEnd, TcpEnd
from tests.support.running import run, until
from tests.support.wires import WIRES, opened, wire

FAST = 20.0
"""Times as fast as the clock on the wall, for waits."""

pytestmark = pytest.mark.usefixtures("no_leaks")


class Watched:
    """A supervisor on a link, and what it told."""

    def __init__(self, url: str) -> None:
        self.got = bytearray()
        self.states: list[str] = []
        table = LinkTable(url=url)
        self.supervisor = Supervisor(
            "device",
            partial(make_link, table.address, table),
            on_bytes=lambda _, data: self.got.extend(data),
            on_state=lambda _, state, __, ___: self.states.append(state),
            now=lambda: time.monotonic() * FAST,
            sleep=lambda seconds: asyncio.sleep(seconds / FAST),
        )
        self.task = asyncio.ensure_future(self.supervisor.run())

    async def close(self) -> None:
        self.task.cancel()
        await asyncio.wait({self.task})
        assert self.task.cancelled()

    async def up(self) -> None:
        await until(lambda: self.supervisor.state == "up", "the link is up")

    async def away(self) -> None:
        await until(lambda: self.supervisor.state in {"lost", "missing"}, "the link is lost")


@pytest.mark.parametrize("kind", WIRES)
def test_a_device_that_goes_comes_back_by_itself(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bluetooth, "FIND_S", 0.3)

    async def work() -> None:
        async with wire(kind, tmp_path, monkeypatch) as one:
            one.unplug()
            watched = Watched(one.url)
            await watched.away()
            expected = b""
            for number in range(4):
                one.plug()
                await watched.up()
                line = b"%d ST,GS,+00412.5kg\r\n" % number
                one.write(line)
                expected += line
                await until(lambda: len(watched.got) >= len(expected), "the line")  # noqa: B023
                one.unplug()
                await watched.away()
            assert bytes(watched.got) == expected
            assert watched.states == ["missing", *["up", "lost"] * 4]
            await watched.close()

    run(work())


def test_a_device_that_comes_back_under_another_name_is_found(tmp_path: Path) -> None:
    async def work() -> None:
        name = tmp_path / "by-id"
        watched = Watched(f"serial:{name}")
        for number in range(5):
            with PtyEnd(tmp_path / f"ttyUSB{number % 2}") as end:
                name.symlink_to(end.path)
                await watched.up()
                end.write(b"%d\r\n" % number)
                want = 3 * (number + 1)
                await until(lambda: len(watched.got) >= want, "the line")  # noqa: B023
                name.unlink()
            await watched.away()
        assert bytes(watched.got) == b"0\r\n1\r\n2\r\n3\r\n4\r\n"
        await watched.close()

    run(work())


def test_a_babbling_device_harms_no_other(tmp_path: Path) -> None:
    """Three megabytes of noise as fast as a wire takes them, beside a scale that speaks as usual."""
    noise = random.Random(1).randbytes(64 * 1024)
    readings = 0

    async def work() -> int:
        nonlocal readings
        scale, babbler = PtyEnd(tmp_path / "scale"), await TcpEnd.open()
        decoders = {"scale": scale_decoder(), "babbler": scale_decoder()}
        writer = CaptureWriter(tmp_path / "ring", site="larkmoor", started=datetime.now(UTC), part_bytes=1e6, parts=3)
        recording = asyncio.ensure_future(writer.run())
        largest = 0

        def take(name: str, data: bytes) -> None:
            nonlocal readings, largest
            largest = max(largest, len(data))
            writer.data(time.monotonic(), name, data)
            outcomes = decoders[name].feed(data)
            if name == "scale":
                readings += sum(isinstance(outcome, WeightReading) for outcome in outcomes)

        supervisors = []
        for name, url in (("scale", f"serial:{scale.path}"), ("babbler", babbler.url)):
            table = LinkTable(url=url)
            supervisors.append(
                Supervisor(
                    name,
                    partial(make_link, table.address, table),
                    on_bytes=take,
                    on_state=lambda *_: None,
                )
            )
        tasks = [asyncio.ensure_future(one.run()) for one in supervisors]
        await until(lambda: all(one.state == "up" for one in supervisors), "both up")
        await babbler.met()
        sent = 0
        scale.write(b"\r\n")
        while supervisors[1].counters.bytes < 3_000_000:
            babbler.write(noise)
            if sent < 100:
                scale.write(b"ST,GS,+00412.5kg\r\n")
                sent += 1
            await asyncio.sleep(0.001)
        await until(lambda: readings >= sent, "every frame of the scale")
        for task in (*tasks, recording):
            task.cancel()
        await asyncio.wait({*tasks, recording})
        scale.unplug()
        await babbler.close()
        assert largest <= max(descriptor.CHUNK, tcp.CHUNK)
        return sent

    assert run(work()) == readings
    size = sum(path.stat().st_size for path in (tmp_path / "ring").iterdir())
    assert size < 3 * 8e6  # a part may be over by what is kept for a slow disk
    capture = read_capture(tmp_path / "ring")
    assert len(list(capture)) > 0


def test_a_peer_that_dies_without_a_word_is_looked_after_by_the_kernel() -> None:
    async def work() -> None:
        async with await TcpEnd.open() as end:
            listener = await opened(end.url)
            connection = listener.link._transport.get_extra_info("socket")  # type: ignore[attr-defined]
            for level, option, value in tcp.KEEPALIVE:
                assert connection.getsockopt(level, option) == value
            keys = {option for _, option, _ in tcp.KEEPALIVE}
            assert {socket.SO_KEEPALIVE, socket.TCP_USER_TIMEOUT} <= keys
            await listener.link.close()

    run(work())
