"""One connection of HTTP/1.1, one request after the other: what the outlets by HTTP need of the web, and no more.

The protocol is h11's (without I/O, pure Python, what uvicorn stands on), the wire asyncio's.  A whole client library
would follow redirects, keep cookies, pool connections and try again by itself: each of them is wrong here, where order
and what is known to be taken matter.
"""

import asyncio
import base64
import contextlib
import ssl
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import h11

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.outlets.follow import OutletError
from neckyoke.bridge.outlets.secure import certificate_fault, client_context, read_secret

CONNECT_S = 10.0
ANSWER_S = 30.0
"""A far side that is silent for so long is taken for gone."""
SAID_MOST = 200
"""Characters of an answer's body that are told to a person."""
BODY_MOST = 65536
FULL = 507
"""It has no room to keep what it is given (RFC 4918, 11.5)."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A request's answer, its body cut off at `BODY_MOST` bytes."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def said(self) -> str:
        """Its body in a line, for a person."""
        return " ".join(self.body.decode("utf-8", "replace").split())[:SAID_MOST]


class Client:
    """A connection to the address of a table's `http` or `influx`; made when it is needed, again after `close`."""

    def __init__(self, table: OutletTable, url: str, folder: Path, scheme: str) -> None:
        self.url = url
        self._table, self._folder, self._scheme = table, folder, scheme
        parts = urlsplit(url)
        self._tls = parts.scheme == "https"
        self._host = parts.hostname or ""
        self._port = parts.port or (443 if self._tls else 80)
        self.where = f"{parts.scheme}://{parts.netloc}"
        self.target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        self._authority = parts.netloc
        self._wire: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        self._http = h11.Connection(h11.CLIENT)
        self._login: tuple[tuple[str, str], ...] = ()

    async def post(self, body: bytes, headers: Mapping[str, str], target: str | None = None) -> Answer:
        """Send a request and wait for its answer.  Raises OutletError when there is none."""
        try:
            if self._wire is None:
                await self._connect()
            async with asyncio.timeout(ANSWER_S):
                return await self._exchange(body, headers, target or self.target)
        except TimeoutError:
            raise OutletError(f"{self.where} does not answer") from None
        except (OSError, EOFError, h11.ProtocolError) as error:
            raise self._explain(error) from error

    async def _connect(self) -> None:
        context = await asyncio.to_thread(client_context, self._table, self._folder, self.where) if self._tls else None
        self._login = await asyncio.to_thread(self._logins)
        async with asyncio.timeout(CONNECT_S):
            self._wire = await asyncio.open_connection(
                self._host, self._port, ssl=context, server_hostname=self._host if context else None
            )
        self._http = h11.Connection(h11.CLIENT)

    def _logins(self) -> tuple[tuple[str, str], ...]:
        """Read the secrets anew at each connection: they may have been put right."""
        if (token := read_secret(self._table, "token", self._folder)) is not None:
            return (("Authorization", f"{self._scheme} {token.get_secret_value()}"),)
        password = read_secret(self._table, "password", self._folder)
        if self._table.username is None:
            return ()
        pair = f"{self._table.username}:{password.get_secret_value() if password else ''}"
        return (("Authorization", f"Basic {base64.b64encode(pair.encode()).decode()}"),)

    async def _exchange(self, body: bytes, headers: Mapping[str, str], target: str) -> Answer:
        assert self._wire is not None
        reader, writer = self._wire
        every = [("Host", self._authority), ("Content-Length", str(len(body))), *self._login, *headers.items()]
        request = h11.Request(method="POST", target=target, headers=every)
        for part in (request, h11.Data(data=body), h11.EndOfMessage()):
            writer.write(self._http.send(part) or b"")
        await writer.drain()
        status, found, got = 0, dict[str, str](), bytearray()
        while True:
            event = self._http.next_event()
            if event is h11.NEED_DATA:
                data = await reader.read(BODY_MOST)
                if not data and self._http.their_state is h11.SEND_RESPONSE:
                    raise EOFError("it hung up")
                self._http.receive_data(data)
            elif isinstance(event, h11.Response):
                status = event.status_code
                found = {name.decode().lower(): value.decode("latin-1") for name, value in event.headers}
            elif isinstance(event, h11.Data):
                got += event.data[: BODY_MOST - len(got)]
            elif isinstance(event, h11.EndOfMessage):
                break
        if self._http.our_state is h11.DONE and self._http.their_state is h11.DONE:
            self._http.start_next_cycle()
        else:
            await self.close()
        return Answer(status, found, bytes(got))

    def _explain(self, error: Exception) -> OutletError:
        said = str(error) or type(error).__name__
        if isinstance(error, ssl.SSLError) and (fault := certificate_fault(said)):
            return OutletError(f"{self.where}: {fault}", slow=True)
        return OutletError(f"{self.where} is out of reach: {said}")

    async def close(self) -> None:
        """Hang up.  Does nothing when there is no connection."""
        if self._wire is not None:
            _, writer = self._wire
            self._wire = None
            writer.transport.abort()
            with contextlib.suppress(OSError, TimeoutError):
                async with asyncio.timeout(1.0):
                    await writer.wait_closed()


def judge(answer: Answer, where: str) -> None:
    """Raise OutletError unless the request was done; what is wrong with one event alone is the caller's to see."""
    status, said = answer.status, f" ({answer.said})" if answer.said else ""
    if 200 <= status < 300:
        return
    if status in {401, 403, 407}:
        raise OutletError(
            f"{where} does not let us in: check token_file, or username and password_file{said}", slow=True
        )
    if status in {404, 405, 410}:
        raise OutletError(f"{where} takes nothing at this path (HTTP {status}): check the address{said}", slow=True)
    if 300 <= status < 400:
        raise OutletError(
            f"{where} is elsewhere now: write {answer.headers.get('location', 'that address')}", slow=True
        )
    if status == FULL or (status >= 500 and b"no space left" in answer.body.lower()):
        raise OutletError(f"{where} has a full disk (HTTP {status}); make room on it{said}")
    if status in {408, 425, 429} or status >= 500:
        raise OutletError(f"{where} takes nothing just now (HTTP {status}){said}")
    raise OutletError(f"{where} refuses what we send (HTTP {status}){said}", slow=True)
