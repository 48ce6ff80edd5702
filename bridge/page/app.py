"""The page as one server inside the daemon: its parts put together, started and stopped."""

import asyncio
import contextlib
import hashlib
import mimetypes
import re
import socket
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from functools import partial
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import cast

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from neckyoke.bridge.asking.places import Places, share
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.journal.journal import JournalError
from neckyoke.bridge.page.access import Access
from neckyoke.bridge.page.animals.growing import Growing
from neckyoke.bridge.page.animals.herd import Herd
from neckyoke.bridge.page.animals.rows import Rows
from neckyoke.bridge.page.asking import Asking
from neckyoke.bridge.page.connection import Connection
from neckyoke.bridge.page.doors import Ask, AskStatus, InTurn, Memory
from neckyoke.bridge.page.guard import Allowance, Front, Gate, own_names, refuse
from neckyoke.bridge.page.look import Looking, brief
from neckyoke.bridge.page.papers import Papers
from neckyoke.bridge.page.stream import Broadcast, Phone
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.fanout import Hub
from neckyoke.bridge.telling.keep import keep

PHONES_MAX = 200
"""Streams at once; beyond, a phone is asked to try later."""
CONNECTIONS_MAX, FROM_ONE = 400, 100
"""Connections in all (or a quarter of the descriptors, which are for the daemon's work) and from one address."""
ACCEPTED_AT_ONCE = 64
"""Connections that are let in before the first of them is looked at: so many more descriptors, for a moment.

With a quarter of the descriptors in places, and some thirty of the daemon's own, half are never in use.
"""
BACKLOG = 128
OPEN = {"/now", "/health", "/metrics"}
"""What may be looked at without the code: what stands at the crush now, and what monitors ask."""
POSITION_MAX = 2**63 - 1


class PageError(Exception):
    """The page cannot be served; the text says why and what to do."""


def _here() -> datetime:
    return datetime.now(UTC).astimezone()


class Page:
    """The page.  `start` begins to serve, `stop` ends at once, open streams or not.

    `listen` is host:port; `code_file` holds the access code's hash (`neckyoke page code` makes it); `hosts` are further
    names this box goes by, `book` is the herd book, `place` the property's name on papers (else the site's).  `now` is
    the box's clock, aware, in its own zone; `monotonic` counts seconds for limits.
    """

    def __init__(
        self,
        listen: str,
        *,
        hub: Hub,
        journal: Memory,
        ask: Ask,
        status: AskStatus,
        code_file: Path,
        book: Book | None = None,
        place: str | None = None,
        hosts: Iterable[str] = (),
        now: Callable[[], datetime] = _here,
        monotonic: Callable[[], float] = time.monotonic,
        say: Say = unheard,
    ) -> None:
        host, _, port = listen.rpartition(":")
        self._host, self._port = host.strip("[]"), int(port)
        journal = InTurn(journal)
        self._troubles = Troubles(say, monotonic)
        self._broadcast = Broadcast(hub, journal, lambda: brief(status()), self._troubles)
        gate = Gate(Access(code_file), monotonic)
        asking, looking = Asking(gate, ask), Looking(journal, status, now)
        herd = Herd(Book() if book is None else book, journal, now)
        shown = [*looking.routes(), *herd.routes(), *Rows(looking, journal).routes()]
        shown += Papers(looking, status, now, Growing(journal), place).routes()
        shown = [one if one.path in OPEN else gate.behind(one) for one in shown]
        routes = [*shown, *asking.routes(), Route("/events", _Streams(self._broadcast)), *_files()]
        app = Starlette(routes=routes, exception_handlers={JournalError: _journal_away})
        self._app: ASGIApp = Front(app, own_names(self._host, hosts), Allowance(200, 50.0, monotonic))
        self.places = Places(share(CONNECTIONS_MAX), FROM_ONE)
        self._server: _Server | None = None
        self._serving: asyncio.Task[None] | None = None

    @property
    def port(self) -> int:
        """Where it listens."""
        return self._port

    @property
    def phones(self) -> int:
        """How many phones listen now."""
        return len(self._broadcast.phones)

    async def start(self) -> int:
        """Begin to serve; gives the port.  Raises PageError when the address cannot be had."""
        self._listener = self._listen()
        self._port = self._listener.getsockname()[1]
        self._config = uvicorn.Config(
            self._app,
            log_config=None,
            access_log=False,
            lifespan="off",
            ws="none",
            http=cast("type[asyncio.Protocol]", partial(Connection, self.places)),
            loop="none",
            server_header=False,
            proxy_headers=False,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=1,
            backlog=ACCEPTED_AT_ONCE,
            h11_max_incomplete_event_size=16384,
        )
        self._broadcast.start()
        self._serving = asyncio.create_task(keep("page", self._serve, self._troubles), name="keep page")
        return self._port

    async def _serve(self) -> None:
        """Serve until told to stop.  Begun again after a mistake, it listens where it listened."""
        if self._listener.fileno() < 0:
            self._listener = self._listen()
        self._server = server = _Server(self._config)
        try:
            await server.serve(sockets=[self._listener])
        finally:
            for one in getattr(server, "servers", ()):
                one.close()
            self._listener.close()

    def _listen(self) -> socket.socket:
        family = socket.AF_INET6 if ":" in self._host else socket.AF_INET
        listener = socket.socket(family, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((self._host, self._port))
        except OSError as error:
            listener.close()
            text = f"the page cannot listen on {self._host}:{self._port}: {error.strerror}. Change listen under [page]."
            raise PageError(text) from error
        listener.listen(BACKLOG)  # at once: who comes before the server does is let wait
        listener.settimeout(0)
        return listener

    async def stop(self) -> None:
        """Stop serving: every stream ends first, so that nothing waits for a phone."""
        if self._serving is None:
            return
        await self._broadcast.stop()
        if self._server is not None:
            self._server.should_exit = True
            await self._serving
        self._serving.cancel()
        self._server = self._serving = None


class _Server(uvicorn.Server):
    """uvicorn, but for its signal handlers: those are the daemon's."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class _Streams:
    """The stream of events, as a plain ASGI application: it must notice at once when a phone has gone."""

    def __init__(self, broadcast: Broadcast) -> None:
        self._broadcast = broadcast

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        position = _position(Request(scope))
        if position is None or len(self._broadcast.phones) >= PHONES_MAX:
            answer = refuse(400, "after is the sequence of an event.") if position is None else refuse(429, "Full.")
            await answer(scope, receive, send)
            return
        phone = Phone(position)
        headers = [(b"content-type", b"text/event-stream; charset=utf-8"), (b"x-accel-buffering", b"no")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        hangs_up = asyncio.create_task(_hung_up(receive, phone))
        try:
            async with contextlib.aclosing(self._broadcast.follow(phone)) as chunks:
                async for chunk in chunks:
                    await send({"type": "http.response.body", "body": chunk, "more_body": True})
            await send({"type": "http.response.body", "body": b""})
        finally:
            hangs_up.cancel()


async def _hung_up(receive: Receive, phone: Phone) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
    phone.leave()


def _position(request: Request) -> int | None:
    """Where a phone stopped: Last-Event-ID when the browser dials again, else `after`."""
    said = request.headers.get("last-event-id") or request.query_params.get("after", "0")
    return int(said) if re.fullmatch(r"[0-9]{1,19}", said) and int(said) <= POSITION_MAX else None


async def _journal_away(_: Request, error: Exception) -> Response:
    return refuse(503, f"{error}")


def _files() -> list[Route]:
    """Read the page's files once; each is known by a digest, so that a phone that has it is not sent it again."""
    folder = resources.files("neckyoke.bridge.page") / "static"
    return [_file(name, entry.read_bytes()) for name, entry in _below(folder)]


def _below(folder: Traversable, under: str = "") -> Iterator[tuple[str, Traversable]]:
    """Walk all files in a folder and those in it, each with its path."""
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from _below(entry, f"{under}{entry.name}/")
        else:
            yield f"{under}{entry.name}", entry


def _file(name: str, body: bytes) -> Route:
    kind = "application/manifest+json" if name.endswith(".webmanifest") else mimetypes.guess_type(name)[0]
    tag = f'"{hashlib.sha256(body).hexdigest()[:16]}"'
    headers = {"etag": tag, "cache-control": "no-cache"}

    async def answer(request: Request) -> Response:
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers=headers)
        return Response(body, media_type=kind, headers=headers)

    return Route("/" if name == "index.html" else f"/{name}", answer)
