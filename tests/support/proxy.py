"""A wire to a broker that can be cut, stalled and slowed."""

import asyncio
import contextlib
from typing import Self


class Wire:
    """A TCP proxy on a free port: `delay_s` each way; `cut` breaks every connection, `stalled` lets nothing through."""

    def __init__(self, to_port: int, delay_s: float = 0.0) -> None:
        self._to_port = to_port
        self._delay_s = delay_s
        self._talks: set[asyncio.Task[None]] = set()
        self._server: asyncio.Server
        self.port = 0
        self.flowing = asyncio.Event()
        self.flowing.set()

    async def __aenter__(self) -> Self:
        self._server = await asyncio.start_server(self._accept, "127.0.0.1", 0)
        self.port = self._server.sockets[0].getsockname()[1]
        return self

    async def __aexit__(self, *_: object) -> None:
        self._server.close()
        await self.cut()

    @property
    def url(self) -> str:
        return f"mqtt://127.0.0.1:{self.port}"

    async def cut(self) -> None:
        talks = list(self._talks)
        for talk in talks:
            talk.cancel()
        await asyncio.gather(*talks, return_exceptions=True)

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        talk = asyncio.current_task()
        assert talk is not None
        self._talks.add(talk)
        try:
            far_reader, far_writer = await asyncio.open_connection("127.0.0.1", self._to_port)
            with contextlib.closing(far_writer):
                both = [
                    asyncio.create_task(self._pass_on(reader, far_writer)),
                    asyncio.create_task(self._pass_on(far_reader, writer)),
                ]
                try:
                    await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
                finally:
                    for one in both:
                        one.cancel()
                    await asyncio.gather(*both, return_exceptions=True)
        except (OSError, asyncio.CancelledError):
            pass  # the far end is not there, or the wire is cut
        finally:
            writer.transport.abort()
            self._talks.discard(talk)

    async def _pass_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while data := await reader.read(65536):
            await asyncio.sleep(self._delay_s)
            await self.flowing.wait()
            writer.write(data)
            await writer.drain()
