"""The figures for a monitor on a port of their own: GET /metrics, without the page and its extra.

HTTP/1.1 by h11, one request a connection.  Nobody is asked who he is, and nothing can be done here: listen on this box,
or where only the monitor comes.  A port that cannot be had is said once and tried again.
"""

import asyncio
import contextlib
from collections.abc import Callable

import h11

from neckyoke.bridge.telling import openmetrics
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.status import Status

ABOUT = "metrics"
AGAIN_S = 30.0
PATIENCE_S = 10.0
MOST = 16
"""Monitors at once; more are hung up on."""


class Scrape:
    """Serves until cancelled.  `listen` is address:port."""

    def __init__(self, listen: str, status: Callable[[], Status], troubles: Troubles) -> None:
        self._host, _, port = listen.rpartition(":")
        self._port = int(port)
        self._status, self._troubles = status, troubles
        self._asking = 0

    async def run(self) -> None:
        """Serve."""
        while True:
            try:
                server = await asyncio.start_server(self._answer, self._host.strip("[]"), self._port)
            except OSError as error:
                where = f"[metrics] listen {self._host}:{self._port}"
                self._troubles.begin(ABOUT, f"{where} cannot be had: {error.strerror}; choose another port")
                await asyncio.sleep(AGAIN_S)
                continue
            self._troubles.end(ABOUT, "The figures can be asked for again.")
            async with server:
                await server.serve_forever()

    async def _answer(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._asking += 1
        try:
            if self._asking <= MOST:
                with contextlib.suppress(h11.ProtocolError, OSError, TimeoutError):
                    async with asyncio.timeout(PATIENCE_S):
                        await self._talk(reader, writer)
        finally:
            self._asking -= 1
            writer.transport.abort() if self._asking >= MOST else writer.close()

    async def _talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        http = h11.Connection(h11.SERVER)
        while (event := http.next_event()) is h11.NEED_DATA:
            http.receive_data(await reader.read(4096))
        if not isinstance(event, h11.Request):
            return
        accept = next((value.decode("latin-1") for name, value in event.headers if name == b"accept"), "")
        known = event.target.split(b"?")[0] == b"/metrics"
        good = known and event.method in {b"GET", b"HEAD"}
        text, kind = openmetrics.told(self._status(), accept) if good else ("GET /metrics\n", "text/plain")
        body = text.encode()
        headers = [("Content-Type", kind), ("Content-Length", str(len(body))), ("Connection", "close")]
        status = 200 if good else 405 if known else 404
        parts = [http.send(h11.Response(status_code=status, headers=headers))]
        if event.method != b"HEAD":
            parts.append(http.send(h11.Data(data=body)))
        writer.write(b"".join(part or b"" for part in parts))
        await writer.drain()
