"""The page before the real daemon: a simulated yard on real terminals, a note, the network gone for five seconds."""

import asyncio
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.events import Settled, Weighing
from neckyoke.bridge.page import access
from neckyoke.bridge.telling.fanout import Live
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import Browser
from tests.bridge.page.cable import Cable
from tests.bridge.page.yard import CODE
from tests.support.daemon import CONFIG, until
from tests.support.yard_clock import YardClock

SPEED = 7.0
BEFORE = 5
"""Animals that come before the network is gone."""
WATCH = """
window.seen = [];
const sign = document.querySelector('#sign');
const note = () => seen.push([Date.now(), sign.dataset.verdict, document.querySelector('#kg').innerText]);
new MutationObserver(note).observe(sign, {subtree: true, childList: true, characterData: true, attributes: true});
"""
KEPT = """
return [...document.querySelectorAll('#rows li')].map(
  (row) => [row.dataset.key, row.querySelector('.kilos').firstChild.data]);
"""


class Day:
    """The daemon in a thread of its own with its clock sped up, its page, and a cable to it."""

    def __init__(self, folder: Path) -> None:
        self.ends = {name: PtyEnd(folder / name) for name in ("indicator", "panel")}
        config = folder / "neckyoke.toml"
        urls = {name: f"serial:{folder / name}?baud=9600" for name in self.ends}
        with socket.create_server(("127.0.0.1", 0)) as free:
            self._port: int = free.getsockname()[1]
        page = f'[page]\nlisten = "127.0.0.1:{self._port}"\n'
        config.write_text(CONFIG.format(**urls) + page, encoding="utf-8")
        access.keep(folder / "page.code", CODE)
        self._config = load_config(config)
        self.settled: list[tuple[float, Settled]] = []
        self.cable: Cable
        self.fast = YardClock(SPEED)
        self.loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._stop: asyncio.Event
        self._thread = threading.Thread(target=lambda: self.loop.run_until_complete(self._run()))
        self._thread.start()
        assert self._ready.wait(30)

    async def _run(self) -> None:
        clock = WallClock(monotonic=self.fast, realtime=self.fast.wall, probe=lambda: True)
        self._stop = asyncio.Event()
        up = asyncio.Event()
        self.service = await build(self._config, clock)
        running = asyncio.create_task(self.service.run(self._stop, up.set))
        await up.wait()
        self.cable = Cable(self._port)
        await self.cable.lay()
        noting = asyncio.create_task(self._note())
        self._ready.set()
        await self._stop.wait()
        await self.cable.cut()
        await running
        await noting

    async def _note(self) -> None:
        """Keep when each settled event was published."""
        with self.service.hub.watch() as watcher:
            async for item in watcher.items():
                if not isinstance(item, Live) and isinstance(data := getattr(item, "data", None), Settled):
                    self.settled.append((time.time() * 1000, data))

    def do(self, work: Any) -> Any:
        """Run something on the daemon's loop and wait for it."""
        return asyncio.run_coroutine_threadsafe(work, self.loop).result(60)

    def weighings(self) -> list[Weighing]:
        """Return what is in the journal, the latest revision of each."""
        rows = self.do(self.service.journal.weighings())
        return [row.data for row in rows]

    def end(self) -> None:
        """Stop it all."""
        self.loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(60)
        assert not self._thread.is_alive()
        self.loop.close()
        for end in self.ends.values():
            end.unplug()


@pytest.fixture
def day(tmp_path: Path) -> Iterator[Day]:
    made = Day(tmp_path)
    yield made
    made.end()


def test_a_yard_is_followed_noted_on_and_caught_up_with(day: Day, browser: Browser) -> None:
    yard = Yard.named("larkmoor", seed=11, animals=14)
    browser.go(f"http://127.0.0.1:{day.cable.port}/")
    browser.run("localStorage.setItem('code', JSON.stringify(arguments[0]))", CODE)
    browser.until("document.querySelector('#verdict').innerText !== 'Looking for the box'")
    browser.run(WATCH)
    gone = threading.Event()
    playing = asyncio.run_coroutine_threadsafe(_play(day, yard, gone), day.loop)

    # a note while the yard runs
    browser.until("document.querySelectorAll('#rows li').length >= 2", within_s=240)
    browser.run("document.querySelector('#rows li:last-child button').click()")
    browser.click("#cardacts button")
    browser.type("dialog[open] textarea", "lame, near hind")
    browser.click("dialog[open] [type=submit]")
    browser.until("document.querySelector('#rows').innerText.includes('lame, near hind')")
    browser.run("document.querySelectorAll('dialog[open]').forEach((one) => one.close())")
    assert any("lame, near hind" in one.notes for one in day.weighings())

    # the network is gone for five seconds and longer: half a minute of this yard
    browser.until("document.querySelectorAll('#rows li').length === arguments[0]", BEFORE, within_s=240)
    cut = time.time() * 1000
    day.do(day.cable.cut())
    browser.until("document.querySelector('#verdict').innerText === 'No word from the box'")
    assert browser.text("#kg") == "—"
    gone.set()
    until(lambda: len(day.settled) >= BEFORE + 3, "three come meanwhile")
    threading.Event().wait(5.0)
    day.do(day.cable.lay())
    browser.until("document.querySelector('#verdict').innerText !== 'No word from the box'")
    mended = time.time() * 1000

    playing.result(400)
    browser.until("document.querySelectorAll('#rows li').length === arguments[0]", len(yard.truth), within_s=240)
    truth = {one.number: one for one in day.weighings()}
    kept = browser.run(KEPT)
    assert sorted(key for key, _ in kept) == sorted(f"{one.weighing} {one.revision}" for one in truth.values())
    for key, shown in kept:
        one = next(row for row in truth.values() if key.startswith(row.weighing))
        assert _same(shown, one.weight.kg)

    # while the line was whole, each settled weight was on the sign before the next one settled
    seen = browser.run("return seen")
    times = [*(at for at, _ in day.settled), float("inf")]
    whole = [n for n, (at, _) in enumerate(day.settled) if not cut - 500 < at < mended and times[n + 1] > at + 1]
    assert len(whole) >= 3
    assert all(_delay(seen, *day.settled[n]) < times[n + 1] - times[n] for n in whole)
    # and of those missed, none was shown late as if it still stood there
    *missed, last = [settled for at, settled in day.settled if cut < at < mended]
    assert missed
    later = [last, *(settled for at, settled in day.settled if at >= mended)]  # two animals may weigh the same
    late = [shown for t, verdict, shown in seen if t > mended and verdict in {"go", "hold"}]
    assert all(any(_same(shown, settled.weight.kg) for settled in later) for shown in late)


async def _play(day: Day, yard: Yard, gone: threading.Event) -> None:
    """Play a yard; after the first animals nobody comes until the network is gone."""
    items = [*yard.items()]
    first, second = yard.truth[BEFORE - 1 : BEFORE + 1]
    pause = (first.off_t + second.on_t) / 2
    empty = [one for one in items if one[0] < yard.truth[0].on_t - 1.0]
    await day.fast.play([one for one in items if one[0] < pause], day.ends)
    while not gone.is_set():
        await day.fast.play(empty, day.ends)
    await day.fast.play([(t - pause, end, data) for t, end, data in items if t >= pause], day.ends)


def _delay(seen: list[tuple[float, str, str]], at: float, settled: Settled) -> float:
    """Milliseconds until the sign showed a settled weight; below 0 when the live view came before the journal."""
    shown = [
        t for t, verdict, kg in seen if verdict in {"go", "hold"} and _same(kg, settled.weight.kg) and t > at - 3000
    ]
    assert shown, (settled.number, settled.weight.kg, seen)
    return shown[0] - at


def _same(shown: str, kg: float | None) -> bool:
    """Return whether a weight is shown, to a tenth of a kilogram."""
    return shown == "—" if kg is None else shown != "—" and float(shown) == pytest.approx(kg, abs=0.051)
