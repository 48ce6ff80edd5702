"""No task of the daemon dies of anything: each is killed once in the midst of its work, and each step once."""

import asyncio
import re
import urllib.request
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon import service as service_module
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Weighing, read_event
from neckyoke.bridge.journal import journal
from neckyoke.bridge.outlets.mqtt import outlet as mqtt
from neckyoke.bridge.page import app, stream
from neckyoke.bridge.telling import keep as keeping
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker, free_port
from tests.support.daemon import CONFIG, ROOT
from tests.support.running import run, until
from tests.support.yard_clock import YardClock

SPEED = 8.0
DIES_AFTER_S = 0.2
KEPT = {
    *("time", "clock", "capture", "watchdog", "link indicator", "link panel", "outlet events", "outlet farm"),
    *("outlet farm live", "outlet farm requests", "outlet farm status"),
    *("outlet farm unsafe", "outlet farm live crush"),
    *("page", "page events", "page beat", "journal checkup"),
}
ON_THEIR_OWN = {  # tasks that are awaited by whoever begins them, so that what they raise is raised there
    "asking/socket.py": 2,  # a talk's two halves; the talk itself answers for what goes wrong in it
    "commands/demo.py": 2,
    "commands/demo_page.py": 2,
    "commands/run.py": 1,  # a request at SIGHUP: the desk answers for it
    "daemon/check_devices.py": 1,
    "journal/writer.py": 1,
    "links/bluetooth/bluez.py": 2,
    "links/bluetooth/radio.py": 1,
    "links/listen.py": 1,
    "links/supervise.py": 3,
    "links/wires/link.py": 2,
    "outlets/follow.py": 1,
    "outlets/mqtt/connection.py": 2,
    "outlets/follower.py": 2,  # what either raises ends the attempt, and another is made
    "page/app.py": 1,
    "telling/keep.py": 2,
    "telling/progress.py": 1,
}


class KilledError(Exception):
    """What each is killed by."""


def killing(killed: set[str]) -> Callable[..., Coroutine[Any, Any, None]]:
    """Make a `keep` whose work dies once in its midst."""

    async def keep(name: str, work: Callable[[], Coroutine[Any, Any, None]], *more: Any) -> None:
        async def dies_once() -> None:
            if name in killed:
                return await work()
            working = asyncio.create_task(work())
            try:
                await asyncio.wait({working}, timeout=DIES_AFTER_S)
            finally:
                working.cancel()
                await asyncio.gather(working, return_exceptions=True)
            killed.add(name)
            raise KilledError(name)

        await keeping.keep(name, dies_once, *more)

    return keep


async def built(folder: Path, broker: Broker, port: int) -> tuple[Service, YardClock]:
    config = CONFIG.format(**{name: f"serial:{folder / name}?baud=9600" for name in ("indicator", "panel")})
    config += f'[outlets.farm]\nmqtt = "{broker.url}"\n[page]\nlisten = "127.0.0.1:{port}"\n'
    (folder / "neckyoke.toml").write_text(config)
    fast = YardClock(SPEED)
    clock = WallClock(monotonic=fast, realtime=fast.wall, probe=lambda: True)
    return await build(load_config(folder / "neckyoke.toml"), clock), fast


async def running(service: Service, during: Callable[[], Coroutine[Any, Any, None]]) -> None:
    stop, ready = asyncio.Event(), asyncio.Event()
    serving = asyncio.create_task(service.run(stop, ready.set))
    await asyncio.wait({serving, asyncio.create_task(ready.wait())}, return_when=asyncio.FIRST_COMPLETED)
    try:
        await during()
    finally:
        stop.set()
        await serving


def abouts(service: Service) -> set[str]:
    return {trouble.about for trouble in service.status().troubles}


async def health(port: int) -> int:
    with await asyncio.to_thread(urllib.request.urlopen, f"http://127.0.0.1:{port}/health", timeout=10) as answer:
        return int(answer.status)


async def weighs(service: Service, folder: Path, fast: YardClock) -> None:
    """See that two animals are weighed, and come out everywhere."""
    yard, before = Yard.named("calm", seed=4, animals=2), service.journal.last
    with PtyEnd(folder / "indicator") as indicator, PtyEnd(folder / "panel") as panel:
        await until(lambda: {link.state for link in service.status().links.values()} == {"up"} or _wake(panel), "both")
        await fast.play(yard.items(), {"indicator": indicator, "panel": panel})
    await until(lambda: _weighed(folder) >= 2 and service.journal.last > before, "both are weighed")
    await until(lambda: all(not outlet.health().backlog for outlet in service.outlets.values()), "and given")


def _wake(panel: PtyEnd) -> bool:
    panel.write(b"\r\n")
    return False


def latest_weighing(folder: Path) -> Weighing:
    lines = [line for line in (folder / "events.jsonl").read_text().splitlines() if '"neckyoke.weighing"' in line]
    found = read_event(lines[-1]).data
    assert isinstance(found, Weighing)
    return found


def _weighed(folder: Path) -> int:
    return (folder / "events.jsonl").read_text().count('"neckyoke.weighing"')


def test_each_task_is_killed_once_and_the_day_goes_on(
    tmp_path: Path, broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed, port = set[str](), free_port()
    for module in (service_module, mqtt, stream, app, journal):
        monkeypatch.setattr(module, "keep", killing(killed))
    monkeypatch.setattr(keeping, "FIRST_S", 0.1)
    monkeypatch.setattr(keeping, "STEADY_S", 1.5)
    monkeypatch.setenv("WATCHDOG_USEC", "1000000")

    async def day() -> None:
        service, fast = await built(tmp_path, broker, port)

        async def during() -> None:
            await until(lambda: killed == KEPT, f"all are killed: {KEPT ^ killed}")
            names = {f"task-{name.replace(' ', '-')}" for name in KEPT}
            await until(lambda: not names & abouts(service), "all are well again")
            await weighs(service, tmp_path, fast)
            assert await health(port) == 200
            asked = {"kind": "note", "number": 1, "text": "quiet"}
            assert (await service.desk.ask(asked))["done"]

        await running(service, during)

    run(day())
    lines = (tmp_path / "troubles.jsonl").read_text()
    for name in KEPT:
        assert f"{name}: neckyoke made a mistake here and tries again; please report it: KilledError({name!r})" in lines
        assert f"{name} works again." in lines


def once(act: Callable[..., Any]) -> Callable[..., Any]:
    """Make a step fail the first time."""
    left = [1]

    def fails_once(*arguments: Any, **more: Any) -> Any:
        if left:
            raise KilledError(str(left.pop()))
        return act(*arguments, **more)

    return fails_once


def test_each_step_fails_once_and_the_day_goes_on(
    tmp_path: Path, broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping, "FIRST_S", 0.05)
    monkeypatch.setattr(keeping, "STEADY_S", 0.5)
    port = free_port()

    async def day() -> None:
        service, fast = await built(tmp_path, broker, port)
        for part, name in (
            (service.pipeline.site, "data"),
            (service.pipeline.site, "link"),
            (service.pipeline.site, "advance"),
            (service.pipeline.site, "request"),
            (service.pipeline.clock, "sample"),
            (service.pipeline.journal, "weighings"),
            (service.outlets["farm"].taker, "_online"),
            (service.outlets["farm"].taker, "_answer_topic"),
        ):
            monkeypatch.setattr(part, name, once(getattr(part, name)))

        async def during() -> None:
            answers = [await service.desk.ask({"kind": "zero"}) for _ in range(2)]
            assert ["please report it" in answer["text"] for answer in answers] == [True, False]
            await weighs(service, tmp_path, fast)
            one = latest_weighing(tmp_path)
            service.pipeline.site.keeper.adopt(one)  # the first tag was nobody's as it was heard, and looked up then
            service.pipeline.lookup.heard(one.tag.id if one.tag else "")
            await until(lambda: "task-looking-animals-up" not in abouts(service), "looked up")
            assert await health(port) == 200
            await until(lambda: not any(about.startswith("task-") for about in abouts(service)), "all is well again")

        await running(service, during)

    run(day())
    lines = (tmp_path / "troubles.jsonl").read_text()
    for name in ("time", "clock", "reading [a-z]+", "minding [a-z]+", "looking animals up", "a request"):
        assert re.search(f"{name}: neckyoke made a mistake", lines)


def test_every_task_begins_under_the_rule_or_is_awaited_where_it_begins() -> None:
    begins = re.compile(r"create_task\(|ensure_future\(")
    found = {
        str(path.relative_to(ROOT / "bridge")): sum(
            bool(begins.search(line)) and "keep(" not in line for line in path.read_text().splitlines()
        )
        for path in (ROOT / "bridge").rglob("*.py")
    }
    assert {name: count for name, count in found.items() if count} == ON_THEIR_OWN
