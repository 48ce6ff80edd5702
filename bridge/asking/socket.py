"""The local socket: one JSON object a line in, one a line out.

    {"kind":"status"}                      -> one answer, the connection stays open for the next line
    {"kind":"note","station":"crush",...}  -> likewise
    {"kind":"watch"}                       -> each link's newest event, then every event, a line each, until hung up

Who may ask is who may open the socket: its mode is set from the configuration.  A line that is too long, no JSON, or no
object is answered by what is wrong; too long also ends the connection, since where the next line begins is unknown.
"""

import asyncio
import contextlib
import json
import os
import socket
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any, TypeAlias

from pydantic import ValidationError

from neckyoke.bridge.asking.places import Place, Places
from neckyoke.bridge.telling.status import Status

LINE_MAX = 3_000_000
"""Bytes of one request."""
PATH_MAX = 107
"""Bytes of a socket's path that Linux takes: sun_path less its final zero (unix(7))."""
TURNS = 4
"""Turns of the event loop from a connection's being accepted to its talk's beginning, and one to spare."""
CONNECTIONS_MAX = 64
"""Connections at once; of those that have asked for nothing yet, the one that waits longest gives way to a newcomer."""
BACKLOG = 16
"""Connections let in before the first of them is looked at."""
WATCHERS_BEHIND = 1_000_000
"""Unsent bytes at which a watcher that does not read is hung up on."""

Answer: TypeAlias = Callable[[dict[str, Any]], Awaitable[dict[str, Any]]]
Watch: TypeAlias = Callable[[], AsyncIterator[str]]


class ControlError(Exception):
    """The socket cannot be had or gives no answer; the text says why and what to do."""


class NobodyThereError(ControlError):
    """No daemon listens on the socket."""


class Control:
    """The daemon's end.  `answer` takes a request and gives its answer; `watch` gives lines until it is closed."""

    def __init__(self, path: Path, *, mode: int, answer: Answer, watch: Watch) -> None:
        self.path = path
        self._mode = mode
        self._answer = answer
        self._watch = watch
        self._server: asyncio.Server | None = None
        self._talks: set[asyncio.Task[None]] = set()
        self.places = Places(CONNECTIONS_MAX, CONNECTIONS_MAX)

    async def start(self) -> None:
        """Begin to listen.  Raises ControlError when another daemon listens there or the path will not do."""
        if await asyncio.to_thread(_answers, self.path):
            raise ControlError(f"another neckyoke listens on {self.path}; stop that one first")
        try:
            self.path.unlink(missing_ok=True)
            before = os.umask(0o777)  # nobody gets in between making the socket and setting its mode
            try:
                with _short(self.path) as path:
                    self._server = await asyncio.start_unix_server(self._accept, path, limit=LINE_MAX, backlog=BACKLOG)
            finally:
                os.umask(before)
            self.path.chmod(self._mode)
        except OSError as error:
            raise ControlError(f"cannot listen on {self.path}: {error.strerror}; set control.socket") from error

    async def stop(self) -> None:
        """Stop listening, hang up on everybody, and take the socket away."""
        if self._server is None:
            return
        for _ in range(TURNS):  # who was just let in must begin to talk: closed meanwhile, the server forgets them
            await asyncio.sleep(0)
        self._server.close()
        for talk in self._talks:
            talk.cancel()
        await asyncio.gather(*self._talks, return_exceptions=True)
        await self._server.wait_closed()
        self._server = None
        self.path.unlink(missing_ok=True)

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        talk = asyncio.current_task()
        assert talk is not None
        self._talks.add(talk)
        place = self.places.enter("here", writer.transport.abort)
        try:
            if place is None:
                await _send(writer, _refusal("too many ask at once; close a program that watches"))
            else:
                await self._talk(reader, writer, place)
        except ConnectionError:
            pass  # they hung up
        except asyncio.CancelledError:
            writer.transport.abort()  # we stop; whoever reads no more is not waited for
        finally:
            self._talks.discard(talk)
            if place is not None:
                self.places.leave(place)
            writer.close()

    async def _talk(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, place: Place) -> None:
        while True:
            place.waiting = True
            try:
                line = await reader.readuntil(b"\n")
            except asyncio.IncompleteReadError as end:
                line = end.partial
            except asyncio.LimitOverrunError:
                await _send(writer, _refusal(f"a request is one line of at most {LINE_MAX} bytes"))
                return
            if not line:
                return
            place.waiting = False
            request = _parse(line)
            if isinstance(request, str):
                await _send(writer, _refusal(request))
            elif request.get("kind") == "watch":
                await self._show(reader, writer)
                return
            else:
                await _send(writer, json.dumps(await self._answer(request)))

    async def _show(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Send what is watched until they hang up."""

        async def lines() -> None:
            stream = self._watch()
            try:
                async for line in stream:
                    writer.write(line.encode() + b"\n")
                    if writer.transport.get_write_buffer_size() > WATCHERS_BEHIND:
                        writer.transport.abort()
                        return
            finally:
                if (close := getattr(stream, "aclose", None)) is not None:
                    await close()

        sending = asyncio.create_task(lines())
        hung_up = asyncio.create_task(reader.read())
        try:
            await asyncio.wait({sending, hung_up}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            sending.cancel()
            hung_up.cancel()
            await asyncio.gather(sending, hung_up, return_exceptions=True)


def _parse(line: bytes) -> dict[str, Any] | str:
    """Read a request; text says what is wrong with it."""
    try:
        request = json.loads(line)
    except (ValueError, RecursionError):
        return 'a request is one line of JSON, such as {"kind":"status"}'
    if not isinstance(request, dict):
        return 'a request is a JSON object, such as {"kind":"status"}'
    return request


def _refusal(text: str) -> str:
    return json.dumps({"done": False, "text": text})


async def _send(writer: asyncio.StreamWriter, line: str) -> None:
    writer.write(line.encode() + b"\n")
    await writer.drain()


@contextlib.contextmanager
def _short(path: Path) -> Iterator[str]:
    """Yield a path that a socket takes: where it is too long, the folder goes by a descriptor of it."""
    if len(os.fsencode(path)) <= PATH_MAX:
        yield os.fspath(path)
        return
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{folder}/{path.name}"
    finally:
        os.close(folder)


def _answers(path: Path) -> bool:
    """Return whether somebody listens on a socket; a file left by a daemon that was killed answers nobody."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(2.0)
        try:
            with _short(path) as near:
                probe.connect(near)
        except OSError:
            return False
    return True


async def ask(path: Path, request: dict[str, Any], timeout_s: float = 10.0) -> dict[str, Any]:
    """Ask the running daemon something.  Raises ControlError when none runs or none answers."""
    reader, writer = await _dial(path)
    try:
        async with asyncio.timeout(timeout_s):
            await _send(writer, json.dumps(request))
            line = await reader.readline()
        answer: dict[str, Any] = json.loads(line)
    except (TimeoutError, ConnectionError, ValueError) as error:
        raise ControlError(f"the daemon behind {path} gave no answer within {timeout_s:.0f} s") from error
    finally:
        writer.close()
    return answer


async def ask_status(path: Path) -> Status:
    """Ask the running daemon how it is.  Raises ControlError, also when it is of another version than we are."""
    answer = await ask(path, {"kind": "status"})
    try:
        return Status.model_validate(answer.get("status"))
    except ValidationError as error:
        text = f"the daemon behind {path} is another version; restart it: sudo systemctl restart neckyoke"
        raise ControlError(text) from error


async def watch(path: Path) -> AsyncIterator[str]:
    """Yield what the running daemon shows, a line at a time, until it stops.  Raises ControlError when none runs."""
    reader, writer = await _dial(path)
    try:
        await _send(writer, json.dumps({"kind": "watch"}))
        while line := await reader.readline():
            yield line.decode().rstrip("\n")
    except ConnectionError:
        return
    finally:
        writer.close()


async def _dial(path: Path) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    try:
        with _short(path) as near:
            return await asyncio.open_unix_connection(near, limit=16 * LINE_MAX)
    except (FileNotFoundError, ConnectionRefusedError):
        raise NobodyThereError(f"no daemon listens on {path}; start it with: neckyoke run") from None
    except PermissionError:
        raise ControlError(f"this user may not open {path}; join its group, or ask as the daemon's user") from None
    except OSError as error:
        raise ControlError(f"{path} cannot be opened: {error.strerror}") from None
