"""A sheet made, changed and begun with by keys alone: everything is reached, and does what it says.

That all functions are to be operable by a keyboard: WCAG 2.2, 2.1.1; that the focus is where one goes on: 2.4.3.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.keys import Keys
from tests.bridge.page.shed import Shed
from tests.bridge.page.whole_day import PATIENT
from tests.bridge.page.yard import CODE

DIALOG = "document.querySelector('dialog[open]')"


@pytest.fixture
def shed(tmp_path: Path, browser: Browser) -> Iterator[Shed]:
    with Shed(tmp_path) as made:
        browser.resize(1280, 800)
        browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=PATIENT)
        browser.go(f"{made.url}#code={CODE}")
        browser.until("document.querySelector('#site').innerText === 'larkmoor'")
        browser.run("localStorage.removeItem('draft')")
        yield made
        browser.go("about:blank")
        browser.resize()


def _left(keys: Keys) -> None:
    keys.browser.until(f"!{DIALOG} && document.activeElement.matches('.add, .row')")  # one goes on where one was


def _done(keys: Keys) -> None:
    keys.press("Enter")  # in a field: as everywhere, that sends it
    _left(keys)


def _opened(keys: Keys, button: str) -> None:
    keys.enter(button)
    keys.browser.until(DIALOG)
    assert keys.unreached() == [], button


def test_a_sheet_is_made_changed_and_begun_by_keys_alone(shed: Shed, browser: Browser) -> None:
    keys = Keys(browser)
    keys.enter("Job")
    keys.enter("New sheet")
    browser.until("document.querySelector('#sheetform')")
    assert keys.unreached() == []
    keys.fill("Title", "Weaning")
    keys.fill("Mob", "north")
    keys.to("Where these animals go from here")
    keys.press("ArrowRight")  # they stay, for meat, for export: one stop, and the arrows choose

    _opened(keys, "Add a treatment")
    keys.fill("Name", "oral drench")
    keys.to("How much")
    keys.press("ArrowRight")
    keys.fill("Amount", "0.1")
    keys.fill("Withheld for meat, days", "14")
    _done(keys)
    assert browser.run("return document.activeElement.innerText") == "Add a treatment", "and nowhere else"
    _opened(keys, "Add a treatment")
    keys.fill("Name", "copper")
    keys.fill("Amount", "1")
    keys.to("Unit")
    browser.cdp("Input.insertText", text="")
    for _ in range(40):
        if browser.run("return document.activeElement.value") == "bolus":
            break
        keys.press("ArrowDown")
    keys.fill("Withheld for meat, days", "0")
    _done(keys)

    _opened(keys, "Add a finding")
    keys.fill("Name", "condition")
    keys.fill("Choices", "1\n2\n3")
    keys.fill("Usual", "3")
    _done(keys)
    for pen, low in (("light", ""), ("heavy", "450")):
        _opened(keys, "Add a pen")
        keys.fill("Pen", pen)
        if low:
            keys.fill("From kg", low)
        _done(keys)

    _opened(keys, "heavy")
    keys.enter("Move up")
    _left(keys)
    keys.enter("copper")
    keys.enter("Take out")
    _left(keys)
    browser.until("document.querySelector('#toast button')")
    keys.enter("Undo")
    browser.until("document.querySelectorAll('#tables-treatments li').length === 2")
    keys.enter("copper")
    keys.press("Escape")
    _left(keys)
    assert "copper" in browser.run("return document.activeElement.innerText")

    keys.to("How far a weight may be from the last")
    keys.press(" ")  # folded: opened by a key too
    keys.fill("kg a day", "2.5")
    assert keys.unreached() == []
    keys.enter("Look it over")
    browser.until("document.querySelector('#save')")
    assert browser.run("return document.activeElement.innerText") == "What it would do", "and what it says is read next"
    keys.enter("Save")
    browser.until("[...document.querySelectorAll('#jobpart button')].some((one) => one.innerText === 'Begin')")
    assert keys.unreached() == []

    (listed,) = shed.say("sheets")["sheet"]["sheets"]
    form = shed.say("sheet-open", file=listed["file"])["sheet"]["form"]
    for table in ("treatments", "findings", "draft"):
        assert [one.pop("was") for one in form[table]] == [*range(len(form[table]))]
    assert form == {
        "title": "Weaning",
        "mob": "north",
        "leaving": "meat",
        "treatments": [
            {"name": "oral drench", "ml_per_kg": 0.1, "withhold_days": 14},
            {"name": "copper", "amount": 1, "unit": "bolus", "withhold_days": 0},
        ],
        "findings": [{"name": "condition", "choices": [1, 2, 3], "usual": 3}],
        "draft": [{"pen": "heavy", "at_least_kg": 450}, {"pen": "light"}],
        "limits": {"kg_per_day": 2.5},
    }

    keys.enter("Begin")
    browser.until("location.hash === '#now' || document.querySelector('#openjob')?.innerText.includes('Weaning')")
    (job,) = shed.box.service.status().stations["crush"].jobs
    assert (job.sheet, job.state) == ("Weaning", "open")
