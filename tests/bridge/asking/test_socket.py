"""The local socket, with real ones: requests, watching, rubbish, who may, and what a killed daemon leaves."""

import asyncio
import json
import socket
import stat
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any, Self

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.asking.socket import LINE_MAX, Control, ControlError, ask, watch
from tests.support.running import run, until


class Daemon:
    """A socket whose answers repeat the request; `put` shows something to those who watch."""

    def __init__(self, path: Path, mode: int = 0o660) -> None:
        self.asked: list[dict[str, Any]] = []
        self.watching: list[asyncio.Queue[str]] = []
        self.control = Control(path, mode=mode, answer=self._answer, watch=self._watch)

    async def _answer(self, request: dict[str, Any]) -> dict[str, Any]:
        self.asked.append(request)
        return {"done": True, "request": request}

    async def _watch(self) -> AsyncIterator[str]:
        queue: asyncio.Queue[str] = asyncio.Queue()
        self.watching.append(queue)
        try:
            while True:
                yield await queue.get()
        finally:
            self.watching.remove(queue)

    async def __aenter__(self) -> Self:
        await self.control.start()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.control.stop()


def test_a_request_is_answered(tmp_path: Path, no_leaks: None) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s") as daemon:
            request = {"kind": "note", "station": "crush", "text": "lame, near hind — vet"}
            assert await ask(tmp_path / "s", request) == {"done": True, "request": request}
            assert daemon.asked == [request]
        assert not (tmp_path / "s").exists()

    run(talk())


def test_one_connection_takes_many_requests(tmp_path: Path) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s"):
            reader, writer = await asyncio.open_unix_connection(tmp_path / "s")
            writer.write(b'{"kind":"status"}\n{"kind":"zero"}\n{"kind":"last"}')
            writer.write_eof()
            kinds = [json.loads(await reader.readline())["request"]["kind"] for _ in range(3)]
            assert kinds == ["status", "zero", "last"]
            assert await reader.read() == b""
            writer.close()

    run(talk())


def test_watching_gives_lines_until_either_side_hangs_up(tmp_path: Path, no_leaks: None) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s") as daemon:
            seen: list[str] = []

            async def look() -> None:
                async for line in watch(tmp_path / "s"):
                    seen.append(line)  # noqa: PERF401  # looked at while it grows

            first, second = asyncio.create_task(look()), asyncio.create_task(look())
            await until(lambda: len(daemon.watching) == 2, "both watch")
            for queue in daemon.watching:
                queue.put_nowait('{"weighing":1}')
            await until(lambda: len(seen) == 2, "both see")
            first.cancel()
            await until(lambda: len(daemon.watching) == 1, "it is noticed that one hung up")
        await second
        assert seen == ['{"weighing":1}'] * 2

    run(talk())


def test_a_watcher_that_does_not_read_is_hung_up_on(tmp_path: Path) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s") as daemon:
            with socket.socket(socket.AF_UNIX) as idle:
                idle.connect(str(tmp_path / "s"))
                idle.sendall(b'{"kind":"watch"}\n')
                await until(lambda: bool(daemon.watching), "it watches")
                for _ in range(3000):
                    daemon.watching[0].put_nowait("x" * 1000)
                await until(lambda: not daemon.watching, "it is let go")

    run(talk())


def test_who_says_nothing_or_has_been_answered_keeps_nobody_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the socket too the one that waits longest gives way; while all watch, a newcomer is told so."""
    monkeypatch.setattr("neckyoke.bridge.asking.socket.CONNECTIONS_MAX", 2)

    async def work() -> None:
        path, lines = tmp_path / "s", list[asyncio.StreamWriter]()

        async def come() -> asyncio.StreamReader:
            reader, line = await asyncio.open_unix_connection(str(path))
            lines.append(line)
            return reader

        async with Daemon(path) as daemon:
            silent = [await come(), await come()]
            assert (await ask(path, {"kind": "status"}))["done"]
            assert await asyncio.wait_for(silent[0].read(), 20) == b"", "the first that came was hung up on"
            for _ in range(2):
                await come()
                lines[-1].write(b'{"kind": "watch"}\n')
            await until(lambda: len(daemon.watching) == 2, "both watch")
            assert "too many ask at once" in (await (await come()).readline()).decode()
            for line in lines:
                line.close()
            await asyncio.gather(*(line.wait_closed() for line in lines), return_exceptions=True)

    run(work())


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (b"\n", "one line of JSON"),
        (b"zero\n", "one line of JSON"),
        (b"\xff\xfe\x00\n", "one line of JSON"),
        (b"[1]\n", "a JSON object"),
        (b"[" * 60_000 + b"\n", "one line of JSON"),
        (b'"' + b"x" * LINE_MAX + b'"\n', "at most 3000000 bytes"),
        (b"x" * (LINE_MAX + 1), "at most 3000000 bytes"),
    ],
)
def test_rubbish_is_answered_by_what_is_wrong(tmp_path: Path, line: bytes, said: str) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s") as daemon:
            reader, writer = await asyncio.open_unix_connection(tmp_path / "s", limit=2**20)
            writer.write(line)
            answer = json.loads(await reader.readline())
            assert answer["done"] is False
            assert said in answer["text"]
            writer.close()
            assert daemon.asked == []
            assert (await ask(tmp_path / "s", {"kind": "status"}))["done"]

    run(talk())


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30, deadline=None)
@given(noise=st.binary(max_size=300))
def test_no_bytes_stop_it(tmp_path: Path, noise: bytes) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s"):
            _, writer = await asyncio.open_unix_connection(tmp_path / "s")
            writer.write(noise)
            writer.close()
            assert (await ask(tmp_path / "s", {"kind": "status"}))["done"]

    run(talk())


@pytest.mark.parametrize("mode", [0o600, 0o660, 0o666])
def test_who_may_ask_is_in_the_sockets_mode(tmp_path: Path, mode: int) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s", mode):
            assert stat.S_IMODE((tmp_path / "s").stat().st_mode) == mode

    run(talk())


def test_what_a_killed_daemon_left_is_taken_away(tmp_path: Path) -> None:
    left = socket.socket(socket.AF_UNIX)
    left.bind(str(tmp_path / "s"))
    left.close()
    with pytest.raises(ControlError, match="no daemon listens"):
        run(ask(tmp_path / "s", {"kind": "status"}))

    async def talk() -> None:
        async with Daemon(tmp_path / "s"):
            assert (await ask(tmp_path / "s", {"kind": "status"}))["done"]

    run(talk())


def test_a_running_daemon_keeps_its_socket(tmp_path: Path) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s"):
            with pytest.raises(ControlError, match="another neckyoke listens"):
                await Daemon(tmp_path / "s").control.start()
            assert (await ask(tmp_path / "s", {"kind": "status"}))["done"]

    run(talk())


def test_a_path_that_will_not_do_says_so(tmp_path: Path) -> None:
    with pytest.raises(ControlError, match=r"No such file.*set control\.socket"):
        run(Daemon(tmp_path / "none" / "s").control.start())


def test_a_folder_too_deep_for_a_socket_will_do_all_the_same(tmp_path: Path) -> None:
    deep = tmp_path / ("deep" * 30)
    deep.mkdir()

    async def talk() -> None:
        async with Daemon(deep / "neckyoke.sock"):
            assert (await ask(deep / "neckyoke.sock", {"kind": "status"}))["done"]
            with pytest.raises(ControlError, match="another neckyoke"):
                await Daemon(deep / "neckyoke.sock").control.start()
        assert not (deep / "neckyoke.sock").exists()

    run(talk())


def test_asking_without_a_daemon_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ControlError, match="start it with: neckyoke run"):
        run(ask(tmp_path / "s", {"kind": "status"}))


def test_a_daemon_that_does_not_answer_is_not_waited_for(tmp_path: Path) -> None:
    async def talk() -> None:
        async with Daemon(tmp_path / "s") as daemon:
            never = asyncio.Event()

            async def mute(_request: dict[str, Any]) -> dict[str, Any]:
                await never.wait()
                return {}

            daemon.control._answer = mute
            with pytest.raises(ControlError, match="gave no answer"):
                await ask(tmp_path / "s", {"kind": "status"}, timeout_s=0.05)

    run(talk())
