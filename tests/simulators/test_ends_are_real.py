"""Ends: a pty that can be pulled out and put back, a TCP port that hangs up, a player that keeps time."""

import asyncio
import contextlib
import os
import select
import socket
from pathlib import Path

import serial

from neckyoke.simulators.wires.ends import BACKLOG_BYTES, PtyEnd, TcpEnd, play

LINE = b"ST,GS,+00318.5kg\r\n"


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def read_for(port: serial.Serial, length: int) -> bytes:
    port.timeout = 10.0
    return port.read(length)


def test_pyserial_reads_what_is_written(tmp_path: Path) -> None:
    with PtyEnd(tmp_path / "indicator") as end, serial.Serial(str(tmp_path / "indicator"), 9600) as port:
        end.write(LINE)
        assert read_for(port, len(LINE)) == LINE
        every = bytes(range(256))  # no byte is eaten or changed: the line is raw
        end.write(every)
        assert read_for(port, 256) == every
        port.write(b"Z\r\n")
        assert end._master is not None
        assert select.select([end._master], [], [], 10.0)[0]
        assert end.read() == b"Z\r\n"


def test_unplugging_is_seen_and_plugging_in_again_works(tmp_path: Path) -> None:
    path = tmp_path / "indicator"
    with PtyEnd(path) as end:
        before = descriptors()
        for _ in range(20):
            port = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
            end.write(LINE)
            assert select.select([port], [], [], 10.0)[0]
            assert os.read(port, 100) == LINE
            end.unplug()
            end.unplug()  # harmless
            assert not path.is_symlink()
            assert select.select([port], [], [], 10.0)[0]
            try:
                assert os.read(port, 100) == b""
            except OSError as error:
                assert error.errno == 5  # a hung-up terminal may say EIO as well  # noqa: PT017
            os.close(port)
            end.plug()
            end.plug()
        assert descriptors() == before


def test_an_adapter_in_another_socket_has_another_number(tmp_path: Path) -> None:
    with PtyEnd(tmp_path / "indicator") as end:
        before, old = descriptors(), end.path.readlink()
        with serial.Serial(str(end.path), timeout=10.0) as port:
            end.renumber()
            assert end.path.readlink() != old
            assert select.select([port.fileno()], [], [], 10.0)[0]  # the old one hung up
        with serial.Serial(str(end.path)) as port:
            end.write(LINE)
            assert read_for(port, len(LINE)) == LINE
        assert descriptors() == before


def test_nobody_listening_never_blocks_and_old_bytes_make_room(tmp_path: Path) -> None:
    with PtyEnd(tmp_path / "indicator") as end:
        for _ in range(20_000):  # on a busy machine the kernel held all of 4,000, which are 72 kB
            end.write(LINE)
        assert 0 < end.lost < 20_000 * len(LINE)
        with serial.Serial(str(tmp_path / "indicator"), timeout=0.2) as port:
            while port.read(65536):
                pass
            end.write(b"fresh\r\n")
            assert read_for(port, 7) == b"fresh\r\n"
        end.unplug()
        end.write(LINE)  # lost, and no error
        assert end.read() == b""


def test_every_tcp_client_gets_the_same() -> None:
    async def check() -> None:
        async with await TcpEnd.open() as end:
            assert end.url == f"tcp://127.0.0.1:{end.port}"
            end.write(LINE)
            assert end.lost == len(LINE)
            wires = [await asyncio.open_connection("127.0.0.1", end.port) for _ in range(2)]
            async with asyncio.timeout(10):
                while end.clients < 2:  # noqa: ASYNC110  # the server's own tasks take them in
                    await asyncio.sleep(0)
            end.write(LINE)
            async with asyncio.timeout(10):
                assert [await reader.readexactly(len(LINE)) for reader, _ in wires] == [LINE, LINE]
            for _, writer in wires:
                writer.close()
            async with asyncio.timeout(10):
                while end.clients:  # noqa: ASYNC110
                    await asyncio.sleep(0)

    asyncio.run(check())


def test_tcp_hangs_up_and_comes_back_on_its_port() -> None:
    async def check() -> None:
        async with await TcpEnd.open() as end:
            for _ in range(3):
                reader, writer = await asyncio.open_connection("127.0.0.1", end.port)
                async with asyncio.timeout(10):
                    await end.met()
                    end.unplug()
                    with contextlib.suppress(ConnectionResetError):  # a reset is how the power going looks
                        assert await reader.read() == b""
                writer.close()
                assert not end.clients
                await end.replug()
            with socket.create_connection(("127.0.0.1", end.port), 10):
                async with asyncio.timeout(10):
                    await end.met()
                end.hang_up()
                assert end.clients == 0

    asyncio.run(check())


def test_a_tcp_client_that_does_not_read_costs_bounded_memory() -> None:
    async def check() -> None:
        async with await TcpEnd.open() as end:
            _, writer = await asyncio.open_connection("127.0.0.1", end.port)
            async with asyncio.timeout(10):
                await end.met()
            writer.transport.pause_reading()  # type: ignore[attr-defined]
            for _ in range(400):
                end.write(bytes(65536))
                await asyncio.sleep(0)
            assert end.lost > 0
            (client,) = end._clients
            assert client.transport.get_write_buffer_size() <= BACKLOG_BYTES + 65536
            writer.transport.abort()

    asyncio.run(check())


class Tape:
    """An end that keeps what happens to it."""

    def __init__(self) -> None:
        self.lost = 0
        self.kept: list[bytes | str] = []

    def write(self, data: bytes) -> None:
        self.kept.append(data)

    def unplug(self) -> None:
        self.kept.append("unplugged")

    def plug(self) -> None:
        self.kept.append("plugged in")


def test_playing_keeps_time_and_pulls_plugs() -> None:
    items = [
        (1.0, "a", b"1"),
        (2.0, "b", b"x"),
        (3.0, "a", b""),
        (5.0, "a", b""),
        (6.0, "nobody", b"!"),
        (7.0, "a", b"2"),
    ]
    now = 100.0
    slept = []

    async def sleep(seconds: float) -> None:
        nonlocal now
        slept.append(seconds)
        now += seconds

    a, b = Tape(), Tape()
    asyncio.run(play(items, {"a": a, "b": b}, speed=2.0, clock=lambda: now, sleep=sleep))
    assert a.kept == [b"1", "unplugged", "plugged in", b"2"]
    assert b.kept == [b"x"]
    assert slept == [0.5, 0.5, 0.5, 1.0, 1.0]
    assert now == 103.5
