"""Two mobs on one day, the same mob three weeks later, a job over midnight: view, lists and papers of each are right.

Which stay belongs to which job or day is our own (README, "In the yards"); the reference is the journal, read here by
the plainest means: the job's id, and the date in the farm's zone.
"""

import csv
import io
import statistics
from collections.abc import Iterator
from datetime import date

import pytest

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import SAVES, Browser
from tests.bridge.page.shed import Shed
from tests.bridge.page.touching import Finger
from tests.bridge.page.whole_day import PATIENT

DOSED = 'title = "{}"\n[[treatments]]\nname = "drench"\nml_per_kg = 0.1\nround_to_ml = 1\nwithhold_days = 28\n'
MOB, OTHERS = Yard.named("calm", seed=5, animals=8), Yard.named("calm", seed=8, animals=5)
LATER_H = 21 * 24.0
BEFORE_MIDNIGHT_H = 23 * 24.0 - 2.0 - 11.0 / 60.0 - 30.0 / 3600.0
"""From 02:11, when the first day begins, to half a minute before a midnight."""
SHOWN = """
return [...document.querySelectorAll('#tally .figures div')].map((one) =>
  [one.querySelector('dt').innerText, one.querySelector('dd').innerText]);
"""
MOB_SAID = (
    "[...document.querySelectorAll('#tally figure')].find((one) => one.innerText.includes('over its jobs'))"
    "?.querySelector('desc')?.textContent"
)
SCROLLED = (
    "(document.querySelector('#mob').scrollIntoView({ block: 'end' }),"
    " document.querySelectorAll('#mob .no').length) === arguments[0]"
)
LISTED = "return [...document.querySelectorAll('#mob .no')].map((one) => Number(one.textContent)).sort((a, b) => a - b)"


def _job(shed: Shed, title: str, yard: Yard, count: int, first: int = 0) -> None:
    shed.say("begin", text=DOSED.format(title))
    shed.weigh(yard, count, first)
    shed.say("end")


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shed]:
    folder = tmp_path_factory.mktemp("days")
    with Shed(folder) as day:
        _job(day, "Steers", MOB, 4)
        _job(day, "Lambs", MOB, 4, first=4)
    with Shed(folder, later_h=LATER_H) as day:
        _job(day, "Steers", MOB, 4)
    with Shed(folder, later_h=BEFORE_MIDNIGHT_H) as day:
        _job(day, "Night", OTHERS, 5)
        yield day


class Look:
    """The view of jobs, on the phone."""

    def __init__(self, shed: Shed, browser: Browser) -> None:
        self.shed, self.browser, self.finger = shed, browser, Finger(browser)
        browser.resize()
        browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=PATIENT)
        browser.go(f"{shed.url}#job")
        browser.until("document.querySelectorAll('#whichjob option').length === 5")
        browser.run(SAVES)

    def pick(self, value: str) -> None:
        """Choose a job by its id, or `day`."""
        self.browser.run("document.querySelector('#tally').replaceChildren()")
        self.finger.pick("Which job", value)

    def of(self, day: date) -> None:
        """Choose a day."""
        self.pick("day")
        self.browser.until("document.querySelector('#tally .figures, #tally p')")
        self.browser.run("document.querySelector('#tally').replaceChildren()")
        self.browser.run(
            "const one = document.querySelector('#date'); one.value = arguments[0];"
            "one.dispatchEvent(new Event('change'))",
            day.isoformat(),
        )

    def saved(self, button: str) -> list[dict[str, str]]:
        """Save a file with rows, and read it."""
        self.browser.run("window.saved = null")
        self.finger.tap(None, button)
        return list(csv.DictReader(io.StringIO(str(self.browser.until("window.saved")))))

    def shows(self, stays: list[Weighing]) -> None:
        """Hold figures, list, files and report to the journal's stays."""
        self.browser.until("document.querySelector('#tally .figures dd')?.innerText === arguments[0]", str(len(stays)))
        self.browser.until(SCROLLED, len(stays))
        figures = dict(self.browser.run(SHOWN))
        weights = [one.weight.kg for one in stays if one.weight.kg is not None and one.weight.grade in {"good", "fair"}]
        assert float(figures["mean kg"]) == pytest.approx(statistics.fmean(weights), abs=0.06)
        assert float(figures["heaviest kg"]) == pytest.approx(max(weights), abs=0.06)
        assert self.browser.run(LISTED) == sorted(one.job_number or 0 for one in stays)
        rows = self.saved("#csv")
        assert [(row["number"], row["date"], row["sheet"]) for row in rows] == [
            (str(one.job_number), one.on.date().isoformat(), one.sheet) for one in stays
        ]
        doses = self.saved("#register")
        given = [(dose.name, dose.amount) for one in stays for dose in one.treatments if not dose.skipped]
        assert [(row["product"], float(row["amount"])) for row in doses] == given
        total = sum(amount or 0 for _, amount in given)
        self.finger.seen(f"{total:g} mL", "#tally")
        self.browser.run("window.saved = null")
        self.finger.tap(None, "#report")
        report = str(self.browser.until("window.saved"))
        assert all(str(one.sheet) in report for one in stays)
        assert all(
            (one.tag.id[-6:] if one.tag else "") in report.replace(" ", "").replace("\u202f", "") for one in stays
        )


@pytest.fixture
def look(shed: Shed, browser: Browser) -> Iterator[Look]:
    yield Look(shed, browser)
    browser.go("about:blank")


def _by_job(shed: Shed) -> dict[str, list[Weighing]]:
    found: dict[str, list[Weighing]] = {}
    for _, one in sorted(shed.weighings().items()):
        assert one.job is not None
        found.setdefault(one.job, []).append(one)
    return found


def test_each_job_by_itself(shed: Shed, look: Look) -> None:
    jobs = _by_job(shed)
    assert [(stays[0].sheet, len(stays)) for stays in jobs.values()] == [
        ("Steers", 4), ("Lambs", 4), ("Steers", 4), ("Night", 5),
    ]  # fmt: skip
    last = [*jobs][-1]
    assert look.browser.run("return document.querySelector('#whichjob').value") == last, "unless one is chosen"
    look.shows(jobs[last])
    for name in [*jobs][:-1]:
        look.pick(name)
        look.shows(jobs[name])
    first, again = [jobs[name] for name in jobs if jobs[name][0].sheet == "Steers"]
    assert [one.tag and one.tag.id for one in again] == [one.tag and one.tag.id for one in first]
    assert all(one.flags == (Flag.WITHHELD,) for one in again), "nobody is weighed again, nor given twice"
    assert all(dose.withheld_until and not dose.skipped for one in again for dose in one.treatments)


def test_each_day_by_itself(shed: Shed, look: Look) -> None:
    days: dict[date, list[Weighing]] = {}
    for _, one in sorted(shed.weighings().items()):
        days.setdefault(one.on.date(), []).append(one)
    assert [len(stays) for stays in days.values()] == [8, 4, 3, 2], (
        "two mobs; three weeks later; before and after midnight"
    )
    for day, stays in days.items():
        look.of(day)
        look.shows(stays)


def test_a_mob_of_two_jobs_has_its_growth_and_each_animal_its_line(shed: Shed, look: Look) -> None:
    jobs = _by_job(shed)
    steers = [name for name, stays in jobs.items() if stays[0].sheet == "Steers"]
    others = [name for name in jobs if name not in steers]
    for name in steers:
        look.pick(name)
        look.browser.until(f"document.querySelector('#tally svg desc')?.parentNode && {MOB_SAID}")
        told = str(look.browser.run(f"return {MOB_SAID}"))
        for stays in (jobs[one] for one in steers):
            mean = statistics.fmean(one.weight.kg or 0 for one in stays)
            assert f"{stays[0].on.date()}: mean {mean:.1f} kg over 4" in told
    for name in others:
        look.pick(name)
        mean = statistics.fmean(one.weight.kg or 0 for one in jobs[name])
        look.browser.until(
            "document.querySelector('#tally .figures ~ .figures dd')?.innerText === arguments[0]", f"{mean:.1f}"
        )
        assert look.browser.run("return document.querySelectorAll('#tally svg').length > 0")
        assert not look.browser.run(f"return {MOB_SAID}"), "a mob of one job has not grown yet"

    first = jobs[steers[0]][0]
    assert first.tag is not None
    look.browser.run("location.hash = arguments[0]", f"#animals/{(first.animal or {})['id']}")
    look.browser.until("document.querySelector('#story svg desc')")
    line = str(look.browser.run("return document.querySelector('#story svg desc').textContent"))
    mine = [one for stays in jobs.values() for one in stays if one.tag and one.tag.id == first.tag.id]
    assert len(mine) == 2
    assert all(f"{one.on.date()} {one.weight.kg:g} kg" in line for one in mine)
