"""The day by touch once more, shorter, with nothing of the daemon's insides at hand: a process of its own, real ports.

The yard plays on two terminals, eight times as fast as ours; while the finger is at work, the yard's clock stands, and
the animal with it.  Every figure is compared with what the daemon wrote into its events file.
"""

import csv
import io
import socket
import statistics
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.page import access
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import SAVES, Browser
from tests.bridge.page.touching import Finger, make_sheet
from tests.bridge.page.whole_day import PATIENT
from tests.bridge.page.yard import CODE
from tests.support.broker import free_port
from tests.support.daemon import CONFIG, Daemon, until

SPEED = 8.0
YARD = Yard.named("calm", seed=5, animals=7)
UNTAGGED, PERSON = 3, 4
"""Stays, from 0: one wears no tag; at another the job is paused, and a person stands there."""


SETTLED = (
    "document.querySelector('#verdict').textContent === 'Let it go'"
    " && document.querySelector('#give').innerText.includes('copper')"
    " && document.querySelectorAll('#see button').length === 5"
)
"""The sign says so, of an animal with its doses and findings."""


class Gate:
    """What the yard sends, as far as it is let: where it stands, its clock stands too."""

    def __init__(self) -> None:
        self._until = 0.0
        self._moved = threading.Condition()
        self._unheard = [(YARD.truth[at].on_t - 6, YARD.truth[at].off_t + 4) for at in (UNTAGGED, PERSON)]
        self.at = 0.0

    def items(self) -> Iterator[tuple[float, str, bytes]]:
        """Yield what comes over the wires."""
        for t, link, data in YARD.items():
            with self._moved:
                while t > self._until:
                    self._moved.wait()
            self.at = t
            if link != "panel" or not any(begin < t < end for begin, end in self._unheard):
                yield t, link, data

    def wait(self, t: float) -> None:
        """Wait until it has come so far."""
        until(lambda: self.at > t, "the yard to come so far")

    def to(self, t: float) -> None:
        """Let it go on up to a moment."""
        with self._moved:
            self._until = t
            self._moved.notify_all()


class RealDay:
    """The daemon, its yard, and the phone."""

    def __init__(self, daemon: Daemon, gate: Gate, browser: Browser) -> None:
        self.daemon, self.gate, self.browser, self.finger = daemon, gate, browser, Finger(browser)

    def on(self, at: int) -> None:
        """Let an animal step on and settle; it stands until it is let go."""
        stay = YARD.truth[at]
        t = stay.all_on_t
        while not self.browser.run(f"return {SETTLED}"):
            t = min(t + 0.5, stay.leave_t - 0.2)
            self.gate.to(t)
            self.gate.wait(t - 0.5)

    def off(self, at: int) -> None:
        """Let it go, and wait until it is recorded."""
        last = at + 1 == len(YARD.truth)
        self.gate.to(YARD.truth[at].off_t + 9.0 if last else YARD.truth[at + 1].on_t - 0.3)
        until(lambda: len(self.daemon.weighings()) == at + 1, f"weighing {at + 1}")
        self.browser.until("document.querySelectorAll('#rows li').length > arguments[0]", at)
        self.browser.until("document.querySelector('#verdict').textContent !== 'Let it go'")

    def stays(self) -> dict[int, dict[str, Any]]:
        """Return what the daemon wrote, by the number in the job."""
        return {one["job_number"]: one for one in self.daemon.weighings().values() if one["job_number"]}


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture
def day(tmp_path: Path, browser: Browser) -> Iterator[RealDay]:
    with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
        port = free_port()
        config = CONFIG.format(**{name: f"serial:{tmp_path / name}?baud=9600" for name in ("indicator", "panel")})
        daemon = Daemon(tmp_path, f'timezone = "UTC"\n{config}[page]\nlisten = "127.0.0.1:{port}"\n', SPEED)
        access.keep(tmp_path / "page.code", CODE)
        daemon.start()
        until(lambda: _answers(port), "the page")
        gate = Gate()
        ends = {"indicator": indicator, "panel": panel}
        playing = threading.Thread(target=lambda: daemon.play(gate.items(), ends), daemon=True)
        playing.start()
        browser.resize()
        browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=PATIENT)
        browser.go(f"http://127.0.0.1:{port}/#code={CODE}")
        browser.until("document.querySelector('#site').innerText === 'larkmoor'")
        browser.run("localStorage.removeItem('draft'); localStorage.removeItem('phrases')")
        try:
            yield RealDay(daemon, gate, browser)
        finally:
            browser.go("about:blank")
            gate.to(1e9)
            playing.join(60)
            daemon.close()


@pytest.mark.long
def test_a_day_by_touch_against_the_daemon_as_it_runs(day: RealDay) -> None:
    finger, browser, daemon = day.finger, day.browser, day.daemon
    make_sheet(finger)
    finger.seen("What it would do", "#jobpart")  # all of it is drawn: nothing moves under the finger
    finger.tap("Begin", "#jobpart button")
    finger.seen("Job 1", "#openjob")
    finger.tap("Now", "nav a")

    day.on(0)  # a finding
    finger.tap("4", "#see button")
    finger.seen("condition", "#toast")
    day.off(0)
    day.on(1)  # a note
    finger.tap("Note", ".dock button")
    finger.tap("lame", "dialog button")
    finger.seen("Noted", "#toast")
    day.off(1)
    day.on(2)  # not given, and taken back
    finger.tap("Not given", ".dock button")
    finger.tap("oral drench", "dialog button")
    browser.until("document.querySelector('#give').innerText.includes('not given')")
    finger.tap("Undo", "#toast button")
    browser.until("!document.querySelector('#give').innerText.includes('not given')")
    day.off(2)
    day.on(UNTAGGED)
    finger.tap("Ear number", ".dock button")
    finger.fill("The number you can read on the ear", "203")
    finger.tap("Send", "dialog button")
    browser.until("document.querySelector('#who').innerText === 'Ear 203'")
    day.off(UNTAGGED)

    finger.tap("Job", "nav a")
    finger.tap("Pause", "#openjob button")
    finger.tap("a person on the platform", "dialog button")
    finger.seen("paused", "#openjob")
    finger.tap("Now", "nav a")
    day.gate.to(YARD.truth[PERSON].leave_t)
    day.off(PERSON)
    finger.tap("Go on", "#paused button")
    browser.until("document.querySelector('#paused').hidden")
    for at in (5, 6):
        day.on(at)
        day.off(at)

    finger.tap("Job", "nav a")
    finger.tap("End the job", "#openjob button")
    finger.tap("End it", "dialog button")
    finger.seen("No job is open", "#openjob")
    until(
        lambda: any(e["type"] == "neckyoke.job" and e["data"]["state"] == "ended" for e in daemon.events()), "its end"
    )

    stays = day.stays()
    assert sorted(stays) == [1, 2, 3, 4, 5, 6], "a person on the platform is none"
    assert [stays[number]["findings"][0]["value"] for number in stays] == [4, 3, 3, 3, 3, 3]
    assert stays[2]["notes"] == ["lame"]
    assert (stays[4]["tag"], stays[4]["animal"]["visual"]) == (None, "203")
    assert not any(dose["skipped"] for one in stays.values() for dose in one["treatments"])
    for number, stay in zip(stays, (stay for at, stay in enumerate(YARD.truth) if at != PERSON), strict=True):
        assert stays[number]["weight"]["kg"] == pytest.approx(stay.kg, rel=0.02), "the yard's own truth"

    browser.until("document.querySelector('#tally .figures dd')?.innerText === '6'")
    figures = dict(
        browser.run(
            "return [...document.querySelectorAll('#tally .figures div')]"
            ".map((one) => [one.querySelector('dt').innerText, one.querySelector('dd').innerText])"
        )
    )
    weights = [one["weight"]["kg"] for one in stays.values() if one["weight"]["grade"] in {"good", "fair"}]
    assert float(figures["mean kg"]) == pytest.approx(statistics.fmean(weights), abs=0.06)
    browser.run(SAVES)
    finger.tap(None, "#csv")
    rows = list(csv.DictReader(io.StringIO(str(browser.until("window.saved")))))
    assert [float(row["kg"]) for row in rows] == pytest.approx(
        [one["weight"]["kg"] for one in stays.values()], abs=0.06
    )
    assert daemon.stop() == 0
