"""A whole day by touch: sheet, job, twenty animals and what happens with them, figures and papers, and the truck.

A real browser of a phone's size, touch events only, the daemon's own insides behind the page; no file is written by
the test but the roster that is uploaded.  Every figure is compared with the journal's.  `-s` prints the touches.
"""

import csv
import io
import statistics
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.events import Flag
from tests.bridge.page.browser import Browser
from tests.bridge.page.shed import Shed
from tests.bridge.page.touching import Finger, make_sheet
from tests.bridge.page.whole_day import LOST, OLD_TAG, PATIENT, PERSON, TAGS, UNTAGGED, Day, Mob, roster, visual
from tests.bridge.page.yard import CODE


@pytest.fixture
def day(tmp_path: Path, browser: Browser) -> Iterator[Day]:
    with Shed(tmp_path) as shed:
        browser.resize()
        browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=PATIENT)
        browser.go(f"{shed.url}#code={CODE}")
        browser.until("document.querySelector('#site').innerText === 'larkmoor'")
        browser.run("localStorage.removeItem('draft'); localStorage.removeItem('phrases')")
        yield Day(shed, Finger(browser))
        browser.go("about:blank")


@pytest.mark.long
@pytest.mark.timeout(1500)
def test_a_whole_day_from_the_kitchen_table_to_the_truck(day: Day, tmp_path: Path) -> None:
    finger, browser = day.finger, day.browser
    (tmp_path / "kitchen").mkdir()

    since = finger.touches
    make_sheet(finger, roster=roster(tmp_path / "kitchen"))
    finger.step("make a sheet: two treatments, a finding, three pens, a roster", since)
    finger.tap("Now", "nav a")

    since = finger.touches
    finger.tap("Job", "nav a")
    finger.tap("Weaning", ".sheets a")
    finger.tap("Begin")
    finger.seen("Job 1", "#openjob")
    finger.step("begin a prepared job", since)
    finger.tap("Now", "nav a")

    since = finger.touches
    day.on(0)
    day.settled()
    day.off(0)
    finger.step("a usual animal", since)

    for at in (1, 2):
        day.on(at)
        day.settled()
        day.condition(at + 1)
        day.off(at)

    day.on(3)  # a note
    day.settled()
    day.condition(2)
    since = finger.touches
    finger.tap("Note", ".dock button")
    finger.tap("lame", "dialog button")
    finger.step("a note", since)
    finger.seen("Noted", "#toast")
    day.off(3)

    day.on(4)  # not given, and taken back
    day.settled()
    day.condition(4)
    since = finger.touches
    finger.tap("Not given", ".dock button")
    finger.tap("oral drench", "dialog button")
    finger.step("a treatment not given", since)
    browser.until("document.querySelector('#give').innerText.includes('not given')")
    since = finger.touches
    finger.tap("Undo", "#toast button")
    finger.step("taken back", since)
    browser.until("!document.querySelector('#give').innerText.includes('not given')")
    day.off(4)

    day.on(UNTAGGED)  # no tag, named by its ear
    day.settled()
    day.condition(3)
    since = finger.touches
    finger.tap("Ear number", ".dock button")
    finger.fill("The number you can read on the ear", visual(UNTAGGED))
    finger.tap("Send", "dialog button")
    finger.step("an untagged one named by its ear", since)
    browser.until("document.querySelector('#who').innerText === arguments[0]", f"Ear {visual(UNTAGGED)}")
    day.off(UNTAGGED)

    day.on(LOST)  # a lost tag: the box asks, one touch replies
    day.settled()
    day.condition(3)
    since = finger.touches
    finger.tap("Ear number", ".dock button")
    finger.fill("The number you can read on the ear", visual(LOST))
    finger.tap("Send", "dialog button")
    finger.seen("Is", "#toast")
    day.tick()
    finger.tap("yes", "#which button")
    finger.step("a lost tag replaced", since)
    finger.seen("wears", "#toast")
    day.tick()
    browser.until("document.querySelector('#which').hidden")
    day.off(LOST)

    day.on(7)  # struck out, and taken back
    day.settled()
    day.condition(1)
    since = finger.touches
    finger.tap("Strike out", ".dock button")
    finger.tap("Strike it out", "dialog button")
    finger.step("a weighing struck out", since)
    finger.tap("Undo", "#toast button")
    finger.seen("Taken back", "#toast")
    day.off(7)

    finger.tap("Job", "nav a")  # a person on the platform
    since = finger.touches
    finger.tap("Pause", "#openjob button")
    finger.tap("a person on the platform", "dialog button")
    finger.step("a pause", since)
    finger.seen("paused", "#openjob")
    day.on(PERSON)
    day.off(PERSON)
    since = finger.touches
    finger.tap("Go on", "#openjob button")
    finger.step("going on", since)
    finger.seen("Pause", "#openjob")

    since = finger.touches
    finger.tap("Another batch", "#openjob button")
    finger.tap("oral drench", "dialog label")
    finger.fill("Batch", "D15")
    finger.tap("Use it", "dialog button")
    finger.step("another batch", since)
    finger.seen("oral drench", "#toast")
    finger.tap("Now", "nav a")

    for at in range(9, 21):
        day.on(at)
        day.settled()
        day.condition(1 + at % 5)
        day.off(at)

    finger.tap("Animals", "nav a")  # a mark
    since = finger.touches
    finger.fill("Find by ear, tag or own number", visual(3))
    finger.seen("1 to 1 of 1", "#herdcount")
    finger.tap(f"Ear {visual(3)}", "#herd a")
    finger.tap("Mark", "#story button")
    finger.tap("keep back", "dialog button")
    finger.step("a mark", since)
    browser.until("document.querySelector('#marks')?.innerText.includes('keep back')")

    finger.tap("Job", "nav a")
    since = finger.touches
    finger.tap("End the job", "#openjob button")
    finger.tap("End it", "dialog button")
    finger.step("end", since)
    finger.seen("No job is open", "#openjob")

    _as_it_was_said(day)
    _figures_are_the_journals(day)
    _papers_are_the_journals(day)
    _the_truck(day)

    for step, touches in finger.steps.items():
        print(f"{touches:4}  {step}")
    assert finger.steps["begin a prepared job"] <= 3
    assert finger.steps["a finding"] == 1
    assert finger.steps["a usual animal"] == 0


def _as_it_was_said(day: Day) -> None:
    stays = day.stays()
    assert sorted(stays) == list(range(1, 21)), "twenty animals; a person on the platform is none"
    found = {number: one.findings[0].value for number, one in stays.items()}
    assert [found[number] for number in range(1, 9)] == [3, 2, 3, 2, 4, 3, 3, 1]
    assert [found[number] for number in range(9, 21)] == [1 + at % 5 for at in range(9, 21)]
    assert stays[4].notes == ("lame",)
    assert not any(given.skipped for one in stays.values() for given in one.treatments), "it was taken back"
    assert not any(Flag.VOIDED in one.flags for one in stays.values()), "it was taken back"
    assert (stays[6].tag, (stays[6].animal or {})["visual"]) == (None, visual(UNTAGGED))
    book = day.shed.box.service.pipeline.site.keeper.book
    (retagged,) = book.by_visual(visual(LOST))
    assert (retagged.tag, [worn.id for worn in retagged.tags]) == (TAGS[LOST], [OLD_TAG, TAGS[LOST]])
    assert book.by_tag(OLD_TAG) == retagged
    batches = [one.treatments[0].batch for _, one in sorted(stays.items())]
    assert batches == ["D14"] * 8 + ["D15"] * 12


def _figures_are_the_journals(day: Day) -> None:
    stays, browser = day.stays(), day.browser
    browser.until("document.querySelector('#tally .figures dd')?.innerText === '20'")
    shown = browser.run(
        "return Object.fromEntries([...document.querySelectorAll('#tally .figures div')]"
        ".map((one) => [one.querySelector('dt').innerText, one.querySelector('dd').innerText]))"
    )
    good = [
        one.weight.kg for one in stays.values() if one.weight.kg is not None and one.weight.grade in {"good", "fair"}
    ]
    assert float(shown["mean kg"]) == pytest.approx(statistics.fmean(good), abs=0.06)
    assert float(shown["heaviest kg"]) == pytest.approx(max(good), abs=0.06)
    assert float(shown["lightest kg"]) == pytest.approx(min(good), abs=0.06)
    drench = sum(given.amount or 0 for one in stays.values() for given in one.treatments if given.name == "oral drench")
    text = browser.text("#tally")
    assert f"{drench:g} mL" in text
    listed = browser.run("return [...document.querySelectorAll('#mob .no')].map((one) => Number(one.textContent))")
    assert sorted(listed) == sorted(stays)


def _papers_are_the_journals(day: Day) -> None:
    stays = day.stays()
    rows = list(csv.DictReader(io.StringIO(day.saved("#csv"))))
    weights = {one.number: one.weight.kg for one in stays.values()}
    assert {int(row["number"]): float(row["kg"]) for row in rows} == pytest.approx(weights, abs=0.06)
    doses = list(csv.DictReader(io.StringIO(day.saved("#register"))))
    given = [(dose.name, dose.amount) for one in stays.values() for dose in one.treatments if not dose.skipped]
    assert sorted((row["product"], float(row["amount"])) for row in doses) == sorted(given)
    report = day.saved("#report")
    assert "Weaning" in report
    assert visual(3) in report


def _the_truck(day: Day) -> None:
    """Another sheet, of animals that leave: the marked one, given a drench this morning, is held."""
    finger, browser = day.finger, day.browser
    finger.tap("New sheet")
    finger.fill("Title", "Truck")
    finger.tap("for meat", "label")
    finger.tap("Look it over")
    finger.seen("What it would do", "#looked")
    finger.tap("Save", "#save")
    finger.tap("Begin", "#jobpart button")
    finger.tap("Now", "nav a")
    day.mob = Mob()
    day.shed.box.began = -(day.shed.box.t + 10)
    for at in range(3):
        day.on(at)
        day.off(at)

    day.on(3)
    day.settled("Hold it")
    browser.until("document.querySelector('#give .mark')?.innerText.includes('keep back')")
    assert "oral drench" in browser.text("#give .until")
    day.off(3)

    finger.tap("Job", "nav a")
    since = finger.touches
    finger.tap("For meat", "#may button")
    browser.until("document.querySelectorAll('#held li').length > 0")
    finger.step("who may not go", since)
    numbers = browser.run("return [...document.querySelectorAll('#held b')].map((one) => one.innerText)")
    drenched = {(one.animal or {}).get("visual") for one in day.stays().values() if one.treatments}
    assert sorted(numbers) == sorted(f"Ear {number}" for number in drenched)
