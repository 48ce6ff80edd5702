"""A wire that is a file descriptor: a serial port, a Bluetooth serial socket.  The event loop reads it.

A hung-up tty reads as empty rather than as an error, a socket's end too; either way the descriptor stays readable for
ever, so it is taken from the loop at once.  It is always taken from the loop before it is closed, since its number may
be another's the moment after.
"""

import asyncio
import os
from abc import abstractmethod

from neckyoke.bridge.links.wires.link import Link, LinkTrouble, OnBytes, OnLost

CHUNK = 4096
"""Bytes read in one turn of the loop: a babbling device gets its turn like everybody else."""
WRITE_S = 2.0


class DescriptorLink(Link):
    """A link that reads and writes a non-blocking descriptor.  Kinds call `_attach` when they have one."""

    def __init__(self, on_bytes: OnBytes, on_lost: OnLost) -> None:
        super().__init__(on_bytes, on_lost)
        self._fd: int | None = None
        self._room: asyncio.Future[None] | None = None

    @abstractmethod
    def _gone(self, why: str) -> LinkTrouble:
        """Return in words that the far end hung up; `why` is what the system says, or empty."""

    def _attach(self, fd: int) -> None:
        self._fd = fd
        asyncio.get_running_loop().add_reader(fd, self._readable, fd)

    def _detach(self) -> None:
        """Take the descriptor from the loop; whoever waits to write is told."""
        fd, self._fd = self._fd, None
        if fd is not None:
            loop = asyncio.get_running_loop()
            loop.remove_reader(fd)
            loop.remove_writer(fd)
        if self._room is not None and not self._room.done():
            self._room.set_exception(LinkTrouble("the link was closed"))

    def _readable(self, fd: int) -> None:
        try:
            data, why = os.read(fd, CHUNK), ""
        except (BlockingIOError, InterruptedError):
            return
        except OSError as error:
            data, why = b"", error.strerror or str(error)
        if data:
            self._deliver(data)
            return
        asyncio.get_running_loop().remove_reader(fd)
        self._lose(self._gone(why))

    async def _send(self, data: bytes) -> None:
        rest = memoryview(data)
        try:
            async with asyncio.timeout(WRITE_S):
                while rest:
                    rest = rest[await self._write_some(rest) :]
        except TimeoutError:
            raise LinkTrouble("the device takes no bytes: flow control, or nobody listens") from None

    async def _write_some(self, data: memoryview) -> int:
        if self._fd is None:
            raise LinkTrouble("the link is not open")
        try:
            return os.write(self._fd, data)
        except BlockingIOError:
            await self._writable(self._fd)
            return 0
        except OSError as error:
            raise LinkTrouble(f"the device takes no bytes ({error.strerror})") from error

    async def _writable(self, fd: int) -> None:
        loop = asyncio.get_running_loop()
        self._room = room = loop.create_future()
        loop.add_writer(fd, _settle, room)
        try:
            await room
        finally:
            if self._fd == fd:
                loop.remove_writer(fd)


def _settle(room: asyncio.Future[None]) -> None:
    if not room.done():
        room.set_result(None)
