"""What a whole day by touch is made of: mob and roster, the yard on its wires, and the crush led through the day."""

import asyncio
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Self

from neckyoke.simulators.scenario import Gaps, Scenario
from neckyoke.simulators.scenarios import CALM
from neckyoke.simulators.wires.ends import PtyEnd, TcpEnd
from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import SAVES
from tests.bridge.page.touching import Finger
from tests.support.broker import free_port
from tests.support.daemon import CONFIG, ROOT, Daemon, until

SPEED = 8.0
BRISK = Scenario(
    "brisk",
    manner=replace(CALM, stay_median_s=8.0, stay_spread=0.05, stay_s=(7.5, 8.5)),
    gaps=Gaps(median_s=2.5, spread=0.1, s=(2.2, 3.0)),
)
"""Animals that stand seconds longer than it takes to weigh them, however late a busy machine gives the readings."""
YARD = Yard(BRISK, seed=5, animals=21)
TRUTH = YARD.truth
TAGS = [stay.tag or "" for stay in TRUTH]
UNTAGGED, LOST, PERSON = 5, 6, 8
"""Stays, from 0: one wears no tag, one another tag than the roster says, one is a person while the job is paused."""
HERE = [at for at in range(len(TRUTH)) if at != PERSON]
"""The twenty animals, by their stays."""
MARKED, UNTREATED = 3, PERSON
"""Who comes again for the truck: one that a mark was set on, and one that was never there: the beast of that tag."""
PATIENT = "AbortSignal.timeout = () => new AbortController().signal"
"""A busy machine may take longer to answer than a phone waits."""
FINGER_S = 600
"""While the finger is at work the yard stands still, and so does the wire: that is no dead scale."""
OLD_TAG = "999000000000042"


def visual(at: int) -> str:
    """Return the number on an animal's ear."""
    return str(200 + at)


def roster(folder: Path) -> Path:
    """Write the mob's roster: the file that is uploaded.  All were weighed forty-five days ago."""
    then = (datetime.now(UTC) - timedelta(days=45)).date()
    here = [at for at in range(len(TAGS)) if at != PERSON]
    tags = {at: OLD_TAG if at == LOST else "" if at == UNTAGGED else TAGS[at] for at in here}
    rows = [f"{tags[at]},{visual(at)},{TRUTH[at].kg - 40:.1f},{then}" for at in here]
    path = folder / "mob.csv"
    path.write_text("\n".join(["tag,visual,last_kg,last_date", *rows]) + "\n")
    return path


class Gate:
    """What comes over the wires, as far as it is let: where that stands, its clock stands too.

    The mob goes through once; then come, for the truck, those two again.
    """

    def __init__(self) -> None:
        self._until = 0.0
        self._over = False
        self._moved = threading.Condition()
        self._unheard = [(TRUTH[at].on_t - 6, TRUTH[at].off_t + 4) for at in (UNTAGGED, PERSON)]
        self.at = 0.0
        self.stays = [(stay.all_on_t, stay.leave_t, stay.off_t) for stay in TRUTH]
        self._again: list[tuple[float, float, float]] = []  # from and to in the mob's own time, and when it begins
        begin = YARD.end_t
        for at in (MARKED, UNTREATED):
            stay = TRUTH[at]
            first, last = stay.on_t - 1.5, stay.off_t + 1.5
            self._again.append((first, last, begin))
            self.stays.append((stay.all_on_t - first + begin, stay.leave_t - first + begin, stay.off_t - first + begin))
            begin += last - first
        self.ends = begin

    def _round(self) -> Iterator[tuple[float, str, bytes]]:
        for t, link, data in YARD.items():
            if link != "panel" or not any(begin < t < end for begin, end in self._unheard):
                yield t, link, data
        for first, last, begin in self._again:
            yield from ((t - first + begin, link, data) for t, link, data in YARD.items() if first <= t < last)

    def items(self) -> Iterator[tuple[float, str, bytes]]:
        """Yield what comes over the wires."""
        for t, link, data in self._round():
            with self._moved:
                while t > self._until and not self._over:
                    self._moved.wait()
                if self._over:
                    return
            self.at = t
            yield t, link, data

    def to(self, t: float) -> None:
        """Let it go on up to a moment."""
        with self._moved:
            self._until = max(t, self._until)
            self._moved.notify_all()

    def shut(self) -> None:
        """Let nothing more come."""
        with self._moved:
            self._over = True
            self._moved.notify_all()

    def wait(self, t: float) -> None:
        """Wait until it has come so far."""
        until(lambda: self.at > t, "the yard to come so far")


class Box:
    """The daemon as a process of its own, its indicator on a serial line and its panel on a port; its page's link."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.gate = folder, Gate()
        panel, page = free_port(), free_port()
        config = CONFIG.format(indicator=f"serial:{folder / 'indicator'}?baud=9600", panel=f"tcp://127.0.0.1:{panel}")
        config = config.replace("[links.panel]", f"silent_s = {FINGER_S}\n[links.panel]")
        listen = f"127.0.0.1:{page}"
        self.daemon = Daemon(folder, f'timezone = "UTC"\n{config}[page]\nlisten = "{listen}"\n', SPEED)
        self._panel, self._page = panel, page
        self._playing = threading.Thread(target=lambda: asyncio.run(self._play()), daemon=True)
        self.link = f"http://{listen}/"

    async def _play(self) -> None:
        with PtyEnd(self.folder / "indicator") as indicator:
            async with await TcpEnd.open(port=self._panel) as panel:
                self._plugged.set()
                await self.daemon.clock.play(self.gate.items(), {"indicator": indicator, "panel": panel})
            serving = asyncio.all_tasks() - {asyncio.current_task()}
            await asyncio.gather(*serving, return_exceptions=True)

    def __enter__(self) -> Self:
        self._plugged = threading.Event()
        self._playing.start()
        self._plugged.wait()
        command = [sys.executable, "-m", "neckyoke.bridge.cli", "page", "code", "--config", str(self.daemon.config)]
        told = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
        code = re.search(r"Access code: ([0-9 ]+)\n", told)
        assert code is not None, told
        self.link += f"#code={code[1].replace(' ', '')}"
        self.daemon.start()
        until(self._serves, "the page")
        return self

    def _serves(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self._page)) == 0

    def __exit__(self, *_: object) -> None:
        self.gate.shut()
        self._playing.join(60)
        self.daemon.close()


class Day:
    """The crush during the day."""

    def __init__(self, box: Box, finger: Finger) -> None:
        self.box, self.finger, self.browser, self.gate = box, finger, finger.browser, box.gate
        self.gone = 0
        self.t = 0.0

    def _to(self, t: float) -> None:
        self.t = t
        self.gate.to(t)
        self.gate.wait(t - 0.5)

    def until(self, condition: str) -> None:
        """Let moments pass until the platform as it is shown says so; the animal stays where it is.

        A platform is shown anew every 0.2 s, and of a moment the box may have had a part before: one may be too few.
        """
        for _ in range(4):
            self._to(self.t + 0.3)
            end = time.monotonic() + 30.0
            while time.monotonic() < end:
                if self.browser.run(f"return {condition}"):
                    return
        raise AssertionError(f"still not true: {condition}\n{self.browser.text('#now')}")

    def on(self, at: int, verdict: str = "Let it go", *, dosed: bool = True) -> None:
        """Let one step on, and stand until the sign says so of it, with its doses: what is below moves no more."""
        all_on_t, leave_t, _ = self.gate.stays[at]
        self._to(all_on_t)
        end = time.monotonic() + 120.0
        while not self.browser.run(
            "return document.querySelector('#verdict').textContent === arguments[0]"
            " && document.querySelector('#sure').textContent.startsWith('settled')"
            " && (!arguments[1] || document.querySelector('#give').innerText.includes('copper'))",
            verdict,
            dosed,
        ):
            assert time.monotonic() < end, f"stay {at} does not settle: {self.browser.text('#now')}"
            self._to(min(self.t + 0.4, leave_t - 0.3))

    def off(self, at: int) -> None:
        """Let it go, and see it recorded."""
        leave_t, off_t = self.gate.stays[at][1:]
        after = self.gate.stays[at + 1][0] - 2.2 if at + 1 < len(self.gate.stays) else self.gate.ends
        self._to(leave_t)
        self.gone += 1
        while len(self.weighings()) < self.gone:
            self._to(min(self.t + 0.5, max(after, off_t + 0.5)))
        self.browser.until("document.querySelectorAll('#rows li').length >= arguments[0]", min(self.gone, 30))

    def condition(self, value: int) -> None:
        """Touch a finding; see that the box has it."""
        since = self.finger.touches
        self.finger.tap(str(value), "#see button")
        self.finger.step("a finding", since)
        self.browser.until("document.querySelector('#toast')?.innerText.includes('condition')")

    def saved(self, button: str) -> str:
        """Touch a button that saves a file, and give what is in it."""
        self.browser.run(SAVES)
        self.finger.tap(None, button)
        return str(self.browser.until("window.saved"))

    def weighings(self) -> dict[str, dict[str, Any]]:
        """Return the newest revision of each weighing by its id, as the daemon has written them."""
        return self.box.daemon.weighings()

    def stays(self) -> dict[int, dict[str, Any]]:
        """Return those of the first job by their number in it."""
        found = (one for one in self.weighings().values() if one["job_number"] and one["sheet"] == "Weaning")
        return {one["job_number"]: one for one in sorted(found, key=lambda one: one["number"])}

    def told(self, what: str, holds: Callable[[dict[str, Any]], bool]) -> None:
        """Wait until the daemon has written an event of which this holds."""
        until(lambda: any(holds(event) for event in self.box.daemon.events()), what)
