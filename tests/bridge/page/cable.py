"""The network between phone and box: a relay that can be cut, mended, or made to swallow everything in silence."""

import asyncio
import contextlib


class Cable:
    """Relays TCP to a port of this machine.  Lives on the loop of the yard it leads to."""

    def __init__(self, target: int) -> None:
        self._target = target
        self._server: asyncio.Server | None = None
        self._lines: set[asyncio.StreamWriter] = set()
        self._open = asyncio.Event()
        self._open.set()
        self.port = 0

    async def lay(self) -> int:
        """Begin to relay; gives the near port, the same one after a cut."""
        self._server = await asyncio.start_server(self._relay, "127.0.0.1", self.port)
        self.port = int(self._server.sockets[0].getsockname()[1])
        return self.port

    async def cut(self) -> None:
        """Hang up on everybody and refuse whoever dials."""
        assert self._server
        self._server.close()
        for line in self._lines:
            line.transport.abort()
        self._lines.clear()

    async def freeze(self) -> None:
        """Swallow everything, as a phone out of reach: nobody is told that the line is dead."""
        self._open.clear()

    async def thaw(self) -> None:
        """Pass everything on again, to the lines there are and to new ones."""
        self._open.set()

    async def _relay(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self._target)
        except OSError:
            writer.transport.abort()
            return
        self._lines |= {writer, far_writer}
        await asyncio.gather(self._pass(reader, far_writer), self._pass(far_reader, writer))
        self._lines -= {writer, far_writer}

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(65536):
                await self._open.wait()
                writer.write(data)
                await writer.drain()
        with contextlib.suppress(OSError):
            writer.close()
