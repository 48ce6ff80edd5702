"""A TCP connection to a serial server or a networked device.

A peer that loses power sends nothing, not even an end: keepalive and TCP_USER_TIMEOUT make the kernel notice within
about half a minute.
"""

import asyncio
import contextlib
import errno
import socket

from neckyoke.bridge.config.address import Address
from neckyoke.bridge.links.wires.link import Link, LinkTrouble, OnBytes, OnLost

CHUNK = 4096
CONNECT_S = 10.0
WRITE_S = 5.0
KEEPALIVE = (
    (socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1),
    (socket.IPPROTO_TCP, socket.TCP_NODELAY, 1),
    (socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, 10),  # s of silence before the first probe
    (socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, 5),  # s between probes
    (socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 3),  # probes unanswered
    (socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, 20_000),  # ms that sent bytes may stay unacknowledged
)


class _Reader(asyncio.BufferedProtocol):
    """Hands on what arrives, at most one buffer in a turn of the loop."""

    def __init__(self, link: "TcpLink") -> None:
        self._link = link
        self._buffer = memoryview(bytearray(CHUNK))
        self._room = asyncio.Event()
        self._room.set()
        self.ended = asyncio.get_running_loop().create_future()

    def get_buffer(self, sizehint: int) -> memoryview:
        """Lend the one buffer; `sizehint` is advice."""
        del sizehint
        return self._buffer

    def buffer_updated(self, nbytes: int) -> None:
        """Hand on what was read into it."""
        self._link.arrived(bytes(self._buffer[:nbytes]))

    def pause_writing(self) -> None:
        """Note that the kernel takes no more for now."""
        self._room.clear()

    def resume_writing(self) -> None:
        """Note that it does again."""
        self._room.set()

    async def room(self) -> None:
        """Wait until more may be written."""
        await self._room.wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Pass the end on; the transport closes its socket right after this returns."""
        self._room.set()
        asyncio.get_running_loop().call_soon(self._over, exc)

    def _over(self, exc: Exception | None) -> None:
        if not self.ended.done():
            self.ended.set_result(None)
        self._link.ended(exc)


class TcpLink(Link):
    """A TCP connection; see the module."""

    def __init__(self, address: Address, on_bytes: OnBytes, on_lost: OnLost) -> None:
        super().__init__(on_bytes, on_lost)
        self._host, self._port = address.target, address.port
        self._where = f"{address.target}:{address.port}"
        self._transport: asyncio.Transport | None = None
        self._reader: _Reader | None = None

    async def _connect(self) -> None:
        loop = asyncio.get_running_loop()
        try:
            async with asyncio.timeout(CONNECT_S):
                self._transport, self._reader = await loop.create_connection(
                    lambda: _Reader(self), self._host, self._port
                )
        except TimeoutError:
            raise LinkTrouble(f"{self._where} does not answer: is it on, and in this network?", missing=True) from None
        except OSError as error:
            raise self._explain(error) from error
        connection = self._transport.get_extra_info("socket")
        for level, option, value in KEEPALIVE:
            with contextlib.suppress(OSError):
                connection.setsockopt(level, option, value)

    def _explain(self, error: OSError) -> LinkTrouble:
        if isinstance(error, socket.gaierror):
            return LinkTrouble(f"the name {self._host!r} is not known here: write its address in numbers", missing=True)
        if error.errno == errno.ECONNREFUSED:
            return LinkTrouble(f"nothing listens at {self._where}: is the port number right?", missing=True)
        if error.errno in {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ETIMEDOUT}:
            return LinkTrouble(f"{self._where} cannot be reached: is it on, and in this network?", missing=True)
        return LinkTrouble(f"{self._where} cannot be opened: {error.strerror or error}")

    def arrived(self, data: bytes) -> None:
        """Take bytes from the connection."""
        self._deliver(data)

    def ended(self, error: Exception | None) -> None:
        """Take note of its end."""
        why = getattr(error, "strerror", None) or error
        self._lose(LinkTrouble(f"{self._where} ended the connection" + (f" ({why})" if why else "")))

    async def _send(self, data: bytes) -> None:
        if self._transport is None or self._reader is None or self._transport.is_closing():
            raise LinkTrouble("the link is not open")
        self._transport.write(data)
        try:
            async with asyncio.timeout(WRITE_S):
                await self._reader.room()
        except TimeoutError:
            raise LinkTrouble(f"{self._where} takes no bytes") from None

    async def _release(self) -> None:
        transport, self._transport = self._transport, None
        if transport is None or self._reader is None:
            return
        transport.abort()  # nothing we send is worth waiting for
        await self._reader.ended
