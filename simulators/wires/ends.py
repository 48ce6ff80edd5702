"""The far ends of real wires: a pty that can be unplugged, a TCP port that can hang up, and a player of items.

An end is written to without waiting: what nobody takes is lost, as on a serial line, and counted in `lost`.
"""

import asyncio
import contextlib
import fcntl
import os
import struct
import termios
import time
import tty
from collections.abc import Awaitable, Callable, Iterable, Mapping
from pathlib import Path
from typing import Protocol, Self

BACKLOG_BYTES = 65536
"""What a TCP client may leave unread before its bytes are dropped."""


class End(Protocol):
    """One wire's far end."""

    lost: int
    """Bytes that nobody took."""

    def write(self, data: bytes) -> None:
        """Send now, or lose it.  Never blocks."""

    def unplug(self) -> None:
        """Hang up: whoever listens sees the line die, and the path or port is gone.  Harmless when unplugged."""

    def plug(self) -> None:
        """Offer the same path or port again.  Harmless when plugged in."""


class PtyEnd:
    """A pseudo terminal behind a stable symbolic link: a USB adapter that can be pulled and put back.

    The pty's own name may differ after each `plug`, as a real adapter's does; the link is what to configure.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.lost = 0
        self._master: int | None = None
        self._slave = -1  # held open: a pty forgets raw mode when its last slave closes
        self.plug()

    def plug(self) -> None:
        """Make a new pty, set it raw and move the link onto it."""
        if self._master is not None:
            return
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        fresh = self.path.with_name(f".{self.path.name}.new")
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(os.ttyname(self._slave))
        fresh.replace(self.path)

    def renumber(self) -> None:
        """Hang up and come back at once under another number, as an adapter does that was put into another socket."""
        old_master, old_slave, self._master = self._master, self._slave, None
        self.plug()  # while the old one is open, its number cannot be had
        if old_master is not None:
            os.close(old_master)
            os.close(old_slave)

    def write(self, data: bytes) -> None:
        """Send; when the line is full (the kernel holds some 20 kB), the oldest that waits unread is thrown away."""
        if self._master is None:
            self.lost += len(data)
            return
        taken = self._try(data)
        if taken < len(data):
            self.lost += len(data) - taken + self._drop()
            self.lost -= self._try(data[taken:])

    def _drop(self) -> int:
        """Throw away what waits unread; return how many bytes."""
        (waiting,) = struct.unpack("i", fcntl.ioctl(self._slave, termios.FIONREAD, bytes(4)))
        termios.tcflush(self._slave, termios.TCIFLUSH)
        return int(waiting)

    def _try(self, data: bytes) -> int:
        assert self._master is not None
        try:
            return os.write(self._master, data)
        except BlockingIOError:
            return 0

    def read(self) -> bytes:
        """Return what the other side has sent, b"" when nothing."""
        if self._master is None:
            return b""
        try:
            return os.read(self._master, 4096)
        except BlockingIOError:
            return b""

    def let_go(self) -> None:
        """Forget that somebody had the port to himself (TIOCEXCL), when that one was killed.

        A real port forgets it with its last user: the kernel keeps it with the open terminal.  This end has it open
        too, so that nothing is ever forgotten, and an ordinary user could not open it again.
        """
        if self._master is not None:
            fcntl.ioctl(self._slave, termios.TIOCNXCL)

    def unplug(self) -> None:
        """Hang up and take the link away."""
        if self._master is None:
            return
        self.path.unlink(missing_ok=True)
        os.close(self._master)
        os.close(self._slave)
        self._master = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.unplug()


class TcpEnd:
    """A TCP port that sends the same bytes to every client: a network adapter, or an indicator with a socket.

    Made by `await TcpEnd.open()`.  After `unplug` the same port is taken again by `await replug()`; `plug` does it in
    the background.
    """

    def __init__(self, host: str, port: int) -> None:
        self.host, self.port = host, port
        self.lost = 0
        self._server: asyncio.Server | None = None
        self._clients: set[asyncio.StreamWriter] = set()
        self._met = asyncio.Event()
        self._plugging: asyncio.Task[None] | None = None

    @classmethod
    async def open(cls, host: str = "127.0.0.1", port: int = 0) -> "TcpEnd":
        """Listen on a port; 0 takes a free one, told in `port`."""
        end = cls(host, port)
        await end.replug()
        return end

    async def replug(self) -> None:
        """Listen again on the same port."""
        if self._server is None:
            self._server = await asyncio.start_server(self._serve, self.host, self.port)
            self.port = self._server.sockets[0].getsockname()[1]

    def plug(self) -> None:
        """Listen again, soon."""
        self._plugging = asyncio.get_running_loop().create_task(self.replug())

    @property
    def url(self) -> str:
        """The address to configure."""
        return f"tcp://{self.host}:{self.port}"

    @property
    def clients(self) -> int:
        """How many listen now."""
        return len(self._clients)

    async def met(self) -> None:
        """Wait until somebody listens."""
        await self._met.wait()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._clients.add(writer)
        self._met.set()
        with contextlib.suppress(OSError):
            while await reader.read(4096):
                pass
        self._forget(writer)

    def _forget(self, writer: asyncio.StreamWriter) -> None:
        self._clients.discard(writer)
        writer.close()
        if not self._clients:
            self._met.clear()

    def write(self, data: bytes) -> None:
        """Send to every client that keeps up."""
        if not self._clients:
            self.lost += len(data)
        for writer in self._clients:
            if writer.transport.get_write_buffer_size() > BACKLOG_BYTES:
                self.lost += len(data)
            else:
                writer.write(data)

    def hang_up(self) -> None:
        """End every connection at once (a reset, as when the power goes), and go on listening."""
        for writer in list(self._clients):
            writer.transport.abort()
            self._forget(writer)

    def unplug(self) -> None:
        """Stop listening and end every connection."""
        if self._server is not None:
            self._server.close()
            self._server = None
        self.hang_up()

    async def close(self) -> None:
        """Unplug for good, and wait until the last connection is gone."""
        server = self._server
        self.unplug()
        if server is not None:
            await server.wait_closed()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.close()


async def play(
    items: Iterable[tuple[float, str, bytes]],
    ends: Mapping[str, End],
    speed: float = 1.0,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
) -> None:
    """Play items on real ends in real time, or `speed` times as fast.

    Items for a link that has no end are passed over.  Empty data unplugs the link's end, or plugs it in again.
    """
    began = clock()
    unplugged: set[str] = set()
    for t, link, data in items:
        if (end := ends.get(link)) is None:
            continue
        if (ahead := t / speed - (clock() - began)) > 0:
            await sleep(ahead)
        if data:
            end.write(data)
            continue
        unplugged ^= {link}
        if link in unplugged:
            end.unplug()
        else:
            end.plug()
