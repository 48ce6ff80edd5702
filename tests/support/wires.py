"""Five real wires for one suite of laws: pty, TCP, RFC 2217 (a real ser2net), Bluetooth LE and RFCOMM.

A wire has a URL and a far end: `write` sends to the link, `read` gives what the link has sent, `hang_up` ends the
connection, `unplug` takes the device away, `plug` brings it back.
"""

import asyncio
import contextlib
import os
import shutil
import socket
import subprocess
from abc import ABC, abstractmethod
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.config.model import LinkTable
from neckyoke.bridge.links.bluetooth.radio import forget
from neckyoke.bridge.links.make import make_link
from neckyoke.bridge.links.wires.link import Link, LinkTrouble
from neckyoke.simulators.bluetooth.bluez import BlueZ, PrivateBus
from neckyoke.simulators.bluetooth.ends import BleEnd, RfcommEnd
from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.broker import free_port
from tests.support.running import until

WIRES = ("pty", "tcp", "rfc2217", "ble", "rfcomm")
SER2NET = "ser2net is needed: apt-get install ser2net (Debian's package)"
PIECE = 512
"""Bytes written at once: less than any wire here holds."""


class Wire(ABC):
    """One wire; see the module."""

    url: str

    @abstractmethod
    def write(self, data: bytes) -> None:
        """Send to the link."""

    @abstractmethod
    def read(self) -> bytes:
        """Return what the link has sent since."""

    @abstractmethod
    def hang_up(self) -> None:
        """End the connection; the device stays."""

    @abstractmethod
    def unplug(self) -> None:
        """Take the device away."""

    @abstractmethod
    def plug(self) -> None:
        """Bring it back."""


class PtyWire(Wire):
    def __init__(self, path: Path) -> None:
        self.end = PtyEnd(path)
        self.url = f"serial:{path}?baud=9600"

    def write(self, data: bytes) -> None:
        self.end.write(data)

    def read(self) -> bytes:
        return self.end.read()

    def hang_up(self) -> None:
        self.end.unplug()
        self.end.plug()

    def unplug(self) -> None:
        self.end.unplug()

    def plug(self) -> None:
        self.end.plug()


class TcpWire(Wire):
    """A listening socket and the one connection it has accepted, without an event loop of its own."""

    def __init__(self) -> None:
        self._listener: socket.socket | None = None
        self._client: socket.socket | None = None
        self._port = free_port()
        self.url = f"tcp://127.0.0.1:{self._port}"
        self.plug()

    def _accepted(self) -> socket.socket | None:
        """Take the newest connection; those before it were given up."""
        with contextlib.suppress(BlockingIOError):
            while self._listener is not None:
                newest, _ = self._listener.accept()
                if self._client is not None:
                    self._client.close()
                self._client = newest
                self._client.settimeout(0)
        return self._client

    def write(self, data: bytes) -> None:
        client = self._accepted()
        assert client is not None
        client.sendall(data)

    def read(self) -> bytes:
        with contextlib.suppress(BlockingIOError):
            if client := self._accepted():
                return client.recv(4096)
        return b""

    def hang_up(self) -> None:
        if client := self._accepted():
            client.close()
        self._client = None

    def unplug(self) -> None:
        self.hang_up()
        if self._listener is not None:
            self._listener.close()
        self._listener = None

    def plug(self) -> None:
        if self._listener is None:
            self._listener = socket.create_server(("127.0.0.1", self._port))
            self._listener.settimeout(0)


class Rfc2217Wire(PtyWire):
    """ser2net in front of a pty."""

    CONFIGURATION = """%YAML 1.1
---
connection: &wire
  accepter: telnet(rfc2217),tcp,127.0.0.1,{port}
  connector: serialdev,{path},9600n81,local
  options:
    kickolduser: true
"""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        program = shutil.which("ser2net", path=os.environ.get("PATH", "") + ":/usr/sbin")
        if program is None:
            pytest.fail(SER2NET)
        self.port = free_port()
        file = path.with_suffix(".yaml")
        file.write_text(self.CONFIGURATION.format(port=self.port, path=path))
        self.url = f"rfc2217://127.0.0.1:{self.port}?baud=9600"
        self._command = [program, "-n", "-u", "-c", str(file)]
        self._server = self._start()

    def _start(self) -> "subprocess.Popen[bytes]":
        return subprocess.Popen(self._command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def kill(self) -> None:
        self._server.kill()
        self._server.wait()
        self.end.let_go()  # newer ones have the port to themselves

    def hang_up(self) -> None:
        self.kill()
        self._server = self._start()

    def unplug(self) -> None:
        self.kill()

    def plug(self) -> None:
        self._server = self._start()

    def close(self) -> None:
        self.kill()
        self.end.unplug()


class RadioWire(Wire):
    """A Bluetooth end on the stand-in for BlueZ."""

    def __init__(self, end: BleEnd | RfcommEnd, kind: str, bluez: BlueZ, bus: PrivateBus) -> None:
        self.end = end
        self.bluez = bluez
        self.bus = bus
        self.url = f"{kind}:{end.address}"
        self._read = 0

    def write(self, data: bytes) -> None:
        self.end.write(data)

    def read(self) -> bytes:
        if isinstance(self.end, RfcommEnd):
            return self.end.read()
        new = bytes(self.end.written[self._read :])
        self._read += len(new)
        return new

    def hang_up(self) -> None:
        self.end.hang_up()

    def unplug(self) -> None:
        self.end.unplug()

    def plug(self) -> None:
        self.end.plug()


@contextlib.asynccontextmanager
async def radio_bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[tuple[BlueZ, PrivateBus]]:
    """A private bus with a stand-in for BlueZ on it; what is meant for the system bus goes there."""
    with PrivateBus(tmp_path) as bus:
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus.address)
        async with BlueZ(bus.address) as bluez:
            yield bluez, bus
            await forget()  # bleak keeps its connection for the life of the loop
            await asyncio.sleep(0.05)


@contextlib.asynccontextmanager
async def wire(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Wire]:
    """One of WIRES, ready to be opened."""
    match kind:
        case "pty":
            pty = PtyWire(tmp_path / "port")
            yield pty
            pty.unplug()
        case "tcp":
            tcp = TcpWire()
            yield tcp
            tcp.unplug()
        case "rfc2217":
            server = Rfc2217Wire(tmp_path / "port")
            try:
                await until(server.listens, "ser2net listens")
                yield server
            finally:
                server.close()
        case _:
            async with radio_bench(tmp_path, monkeypatch) as (bluez, bus):
                end = (
                    BleEnd(bluez, "AA:BB:CC:DD:EE:01", "scale")
                    if kind == "ble"
                    else RfcommEnd(bluez, "AA:BB:CC:DD:EE:02", "panel")
                )
                yield RadioWire(end, kind, bluez, bus)


class Listener:
    """A link and what it told: `got` the bytes, `lost` the reasons."""

    def __init__(self, url: str, **table: Any) -> None:
        self.got = bytearray()
        self.lost: list[LinkTrouble] = []
        self.fds_at_loss: list[dict[int, str]] = []
        settings = LinkTable(url=url, **table)
        self.link: Link = make_link(settings.address, settings, self.got.extend, self._lost)

    def _lost(self, trouble: LinkTrouble) -> None:
        self.fds_at_loss.append(descriptors())
        self.lost.append(trouble)

    async def has(self, data: bytes) -> None:
        """Wait until exactly these bytes have come."""
        await until(lambda: len(self.got) >= len(data), f"{len(data)} bytes of {data[:40]!r}")
        assert bytes(self.got) == data

    async def is_lost(self) -> None:
        """Wait until the loss is told."""
        await until(lambda: bool(self.lost), "the loss is told")


async def opened(url: str, **table: Any) -> Listener:
    """Open a link, trying again while a far end is still coming back."""
    for attempt in range(200):
        listener = Listener(url, **table)
        try:
            await listener.link.open()
        except LinkTrouble:
            if attempt == 199:
                raise
            await asyncio.sleep(0.05)
        else:
            return listener
    raise AssertionError(url)


async def drop(one: Wire, times: int) -> None:
    """Open, receive one line, lose; `times` times."""
    for number in range(times):
        listener = await opened(one.url)
        line = b"%06d ST,GS,+00412.5kg,999 000000112233\r\n" % number
        one.write(line)
        await listener.has(line)
        one.hang_up()
        await listener.is_lost()
        await listener.link.close()
        assert len(listener.lost) == 1


async def send(wire: Wire, listener: Listener, data: bytes) -> None:
    """Send much, at the pace at which it is taken."""
    had = len(listener.got)
    for start in range(0, len(data), PIECE):
        piece = data[start : start + PIECE]
        wire.write(piece)
        had += len(piece)
        want = had
        await until(lambda: len(listener.got) >= want, "the bytes sent")  # noqa: B023  # awaited before it changes


def descriptors() -> dict[int, str]:
    """Return the open descriptors and what they are."""
    found = {}
    for name in os.listdir("/proc/self/fd"):  # noqa: PTH208
        with contextlib.suppress(FileNotFoundError):
            found[int(name)] = os.readlink(f"/proc/self/fd/{name}")  # noqa: PTH115
    return found
