"""A whole day by touch: sheet, job, twenty animals and what happens with them, figures and papers, and the truck.

A real browser of a phone's size, touch events only; the daemon as a process of its own, its indicator on a serial line
and its panel on a port; no file is written by the test but the daemon's configuration and the roster that is uploaded.
The yard plays eight times as fast as ours, and while the finger is at work its clock stands, and the animal with it.
Every figure is compared with the journal's.  `-s` prints the touches.
"""

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.events import Weighing
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.journal.journal import Journal
from tests.bridge.page.browser import Browser
from tests.bridge.page.day_told import figures_are_the_journals, papers_are_the_journals
from tests.bridge.page.touching import Finger, make_sheet
from tests.bridge.page.whole_day import (
    HERE,
    LOST,
    MARKED,
    OLD_TAG,
    PATIENT,
    PERSON,
    TAGS,
    TRUTH,
    UNTAGGED,
    UNTREATED,
    Box,
    Day,
    roster,
    visual,
)


@pytest.fixture
def day(tmp_path: Path, browser: Browser) -> Iterator[Day]:
    (tmp_path / "box").mkdir()
    with Box(tmp_path / "box") as box:
        browser.resize()
        browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=PATIENT)
        browser.go(box.link)
        browser.until("document.querySelector('#site').innerText === 'larkmoor'")
        browser.run("localStorage.removeItem('draft'); localStorage.removeItem('phrases')")
        yield Day(box, Finger(browser))
        browser.go("about:blank")


@pytest.mark.long
@pytest.mark.timeout(1500)
def test_a_whole_day_from_the_kitchen_table_to_the_truck(day: Day, tmp_path: Path) -> None:
    finger, browser = day.finger, day.browser
    since = finger.touches
    make_sheet(finger, roster=roster(tmp_path))
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
    day.off(0)
    finger.step("a usual animal", since)

    for at in (1, 2):
        day.on(at)
        day.condition(at + 1)
        day.off(at)

    day.on(3)  # a note
    day.condition(2)
    since = finger.touches
    finger.tap("Note", ".dock button")
    finger.tap("lame", "dialog button")
    finger.step("a note", since)
    finger.seen("Noted", "#toast")
    day.off(3)

    day.on(4)  # not given, and taken back
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
    day.condition(3)
    since = finger.touches
    finger.tap("Ear number", ".dock button")
    finger.fill("The number you can read on the ear", visual(UNTAGGED))
    finger.tap("Send", "dialog button")
    finger.step("an untagged one named by its ear", since)
    browser.until("document.querySelector('#who').innerText === arguments[0]", f"Ear {visual(UNTAGGED)}")
    day.off(UNTAGGED)

    day.on(LOST)  # a lost tag: the box asks, one touch replies
    day.condition(3)
    since = finger.touches
    finger.tap("Ear number", ".dock button")
    finger.fill("The number you can read on the ear", visual(LOST))
    finger.tap("Send", "dialog button")
    finger.seen("Is", "#toast")
    day.until("!document.querySelector('#which').hidden")
    finger.tap("yes", "#which button")
    finger.step("a lost tag replaced", since)
    finger.seen("wears", "#toast")
    day.until("document.querySelector('#which').hidden")
    day.off(LOST)

    day.on(7)  # struck out, and taken back
    day.condition(1)
    since = finger.touches
    finger.tap("Strike out", ".dock button")
    finger.tap("It was given", "dialog button")
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
    finger.tap("Now", "nav a")
    day.on(PERSON, dosed=False)
    day.off(PERSON)
    since = finger.touches
    finger.tap("Go on", "#paused button")
    finger.step("going on", since)
    browser.until("document.querySelector('#paused').hidden")

    finger.tap("Job", "nav a")
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

    day.told("its end", lambda event: event["type"] == "neckyoke.job" and event["data"]["state"] == "ended")

    _as_it_was_said(day)
    figures_are_the_journals(day)
    papers_are_the_journals(day)
    _the_truck(day)

    for step, touches in finger.steps.items():
        print(f"{touches:4}  {step}")
    assert finger.steps["begin a prepared job"] <= 3
    assert finger.steps["a finding"] == 1
    assert finger.steps["a usual animal"] == 0
    assert day.box.daemon.stop() == 0
    assert asyncio.run(_journalled(day.box.daemon.folder)) == day.weighings(), "what it wrote is what the journal has"


async def _journalled(folder: Path) -> dict[str, Any]:
    journal = await Journal.open(folder / "neckyoke.db")
    try:
        stays = [event.data for event in await journal.weighings()]
    finally:
        await journal.close()
    return {one.weighing: one.model_dump(mode="json") for one in stays if isinstance(one, Weighing)}


def _book(day: Day) -> Book:
    book = Book()
    for event in day.box.daemon.events():
        if event["type"] == "neckyoke.animal":
            book.fold(Animal.model_validate(event["data"]))
    return book


def _as_it_was_said(day: Day) -> None:
    stays = day.stays()
    assert sorted(stays) == list(range(1, 21)), "twenty animals; a person on the platform is none"
    for at, one in zip(HERE, stays.values(), strict=True):
        assert one["weight"]["kg"] == pytest.approx(TRUTH[at].kg, rel=0.02), "the yard's own truth"
    found = {number: one["findings"][0]["value"] for number, one in stays.items()}
    assert [found[number] for number in range(1, 9)] == [3, 2, 3, 2, 4, 3, 3, 1]
    assert [found[number] for number in range(9, 21)] == [1 + at % 5 for at in range(9, 21)]
    assert stays[4]["notes"] == ["lame"]
    assert not any(given["skipped"] for one in stays.values() for given in one["treatments"]), "it was taken back"
    assert not any("voided" in one["flags"] for one in stays.values()), "it was taken back"
    assert (stays[6]["tag"], stays[6]["animal"]["visual"]) == (None, visual(UNTAGGED))
    book = _book(day)
    (retagged,) = book.by_visual(visual(LOST))
    assert (retagged.tag, [worn.id for worn in retagged.tags]) == (TAGS[LOST], [OLD_TAG, TAGS[LOST]])
    assert book.by_tag(OLD_TAG) == retagged
    assert [one["treatments"][0]["batch"] for one in stays.values()] == ["D14"] * 8 + ["D15"] * 12


def _the_truck(day: Day) -> None:
    """Another sheet, of animals that leave: the marked one, given a drench this morning, is held; another is let go."""
    finger, browser = day.finger, day.browser
    finger.tap("New sheet")
    finger.fill("Title", "Truck")
    finger.tap("for meat", "label")
    finger.tap("Look it over")
    finger.seen("What it would do", "#looked")
    finger.tap("Save", "#save")
    finger.tap("Begin", "#jobpart button")
    finger.tap("Now", "nav a")
    morning = day.stays()
    first = len(TRUTH)
    day.on(first, "Hold it", dosed=False)
    browser.until("document.querySelector('#give .mark')?.innerText.includes('keep back')")
    assert "oral drench" in browser.text("#give")
    day.off(first)
    day.on(first + 1, dosed=False)
    assert browser.run("return document.querySelectorAll('#give .until, #give .mark').length") == 0
    day.off(first + 1)
    held, free = (one for one in day.weighings().values() if one["sheet"] == "Truck")
    assert (held["animal"]["visual"], held["marks"]) == (visual(MARKED), ["keep back"])
    (told,) = (one for one in held["withheld"] if one["kind"] == "meat")
    drench = morning[MARKED + 1]["treatments"][0]
    assert (told["product"], told["until"]) == ("oral drench", drench["withheld_until"])
    assert (free["tag"]["id"], free["withheld"]) == (TAGS[UNTREATED], [])

    finger.tap("Job", "nav a")
    since = finger.touches
    finger.tap("For meat", "#may button")
    browser.until("document.querySelectorAll('#held li').length > 0")
    finger.step("who may not go", since)
    numbers = browser.run("return [...document.querySelectorAll('#held b')].map((one) => one.innerText)")
    drenched = {one["animal"]["visual"] for one in morning.values() if one["treatments"]}
    assert sorted(numbers) == sorted(f"Ear {number}" for number in drenched)
