"""Sheets and jobs by touch, in a real browser, with the daemon's own insides behind the page."""

import csv
import io
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import Browser
from tests.bridge.page.shed import Shed
from tests.bridge.page.touching import Finger, make_sheet
from tests.bridge.page.yard import CODE

YARD = Yard.named("calm", seed=5, animals=12)
TAGS = [stay.tag for stay in YARD.truth]
OWN = "sheets/weaning.toml"
NASTY = "<img src=x onerror=alert(1)>\"'&"


@pytest.fixture
def shed(tmp_path: Path) -> Iterator[Shed]:
    with Shed(tmp_path) as made:
        yield made


@pytest.fixture
def finger(shed: Shed, browser: Browser) -> Iterator[Finger]:
    browser.resize()
    browser.go(f"{shed.url}#code={CODE}")
    browser.until("document.querySelector('#openjob') !== null || location.hash !== '#code'")
    browser.run("localStorage.removeItem('draft')")
    yield Finger(browser)
    assert [one for one in browser.complaints() if "409 (Conflict)" not in one] == []  # not done, and said why


def roster_in(folder: Path) -> Path:
    rows = [f"{tag},{200 + at},{300 + at * 10},2026-10-01" for at, tag in enumerate(TAGS)]
    path = folder / "mob.csv"
    path.write_text("\n".join(["tag,visual,last_kg,last_date", *rows, "12,999,,"]) + "\n")
    return path


def test_a_sheet_is_made_by_touch_and_the_job_begun_in_three(shed: Shed, finger: Finger, tmp_path: Path) -> None:
    said = make_sheet(finger, roster=roster_in(tmp_path))

    lies = tomllib.loads((shed.folder / OWN).read_text())
    assert lies == said | {"roster": "weaning.csv"}
    finger.browser.go(f"{shed.url}#now")
    before = finger.touches
    finger.tap("Job", "nav a")
    finger.tap("Weaning", ".sheets a")
    finger.tap("Begin")
    finger.seen("Job 1", "#openjob")
    finger.step("begin a prepared job", before)
    assert finger.steps["begin a prepared job"] == 3
    assert shed.box.service.status().stations["crush"].sheet == "Weaning"


def test_before_it_is_saved_it_says_what_it_would_do_and_doubts_of_the_roster_by_row(
    shed: Shed, finger: Finger, tmp_path: Path
) -> None:
    finger.tap("Job", "nav a")
    finger.tap("New sheet")
    finger.fill("Title", "Weaning")
    finger.tap("Add a pen")
    finger.fill("Pen", "heavy")
    finger.fill("From kg", "350")
    finger.tap("Done")
    finger.upload("#rosterfile", roster_in(tmp_path))
    finger.seen("What it would do", "#looked")

    told = finger.browser.text("#looked")

    assert "row 14, column tag: '12' has 2 digits" in told
    assert "no pen for animals below 350 kg" in told
    assert "13 animals expected; 12 with a last weight" in told
    assert "heavy\t7" in told  # 350, 360 … 410: by hand
    assert "no pen\t5" in told
    assert not (shed.folder / OWN).exists()


def test_what_is_wrong_is_said_in_checks_words_and_opens_the_table_that_it_is_about(shed: Shed, finger: Finger) -> None:
    finger.tap("Job", "nav a")
    finger.tap("New sheet")
    finger.fill("Title", "Weaning")
    finger.tap("Add a treatment")
    finger.fill("Name", "drench")
    finger.fill("Amount", "much")
    finger.tap("Done")
    finger.tap("Look it over")
    finger.seen("Not yet good to use", "#looked")

    finger.tap("Treatment 1", within="#looked")
    finger.fill("Amount", "2")
    finger.tap("Done")
    finger.tap("Look it over")

    finger.seen("What it would do", "#looked")
    assert not (shed.folder / OWN).exists()


def change_by_hand(shed: Shed, finger: Finger) -> Path:
    """Make a sheet, change it by touch and meanwhile by hand, and look it over; return the file."""
    make_sheet(finger)
    finger.tap("Change")
    finger.fill("Mob", "south")
    path = shed.folder / OWN
    path.write_text(path.read_text() + "# by hand\n")
    finger.tap("Look it over")
    finger.seen("was changed meanwhile", "#looked")
    return path


def test_a_sheet_changed_by_hand_meanwhile_is_not_overwritten(shed: Shed, finger: Finger) -> None:
    path = change_by_hand(shed, finger)
    assert path.read_text().endswith("# by hand\n")
    finger.tap("Open it as it is now")
    finger.fill("Mob", "south")
    finger.tap("Look it over")
    finger.tap("Save", "#save")

    finger.seen("Begin", "#jobpart")
    assert path.read_text().endswith("# by hand\n")
    assert tomllib.loads(path.read_text())["mob"] == "south"


LATE = """
const real = window.fetch;
window.late = [];
window.fetch = async (path, options) => {
  const answer = await real(path, options);
  if (/sheet-try|sheet-open/.test(options?.body)) await new Promise((come) => late.push(come));
  return answer;
};
"""


def test_nothing_can_be_typed_into_a_sheet_while_it_is_opened_again(shed: Shed, finger: Finger) -> None:
    """It would be lost as the answer comes."""
    change_by_hand(shed, finger)
    browser = finger.browser
    browser.run(LATE)
    finger.tap("Open it as it is now")
    browser.until("late.length === 1")
    assert browser.run("return document.querySelector('#sheetform').inert") is True

    browser.run("late.splice(0).forEach((come) => come())")
    finger.fill("Mob", "south")
    assert browser.run("return document.querySelector('#sheetform').inert") is False


def test_what_the_box_found_of_a_sheet_that_was_left_is_not_shown_under_the_next(shed: Shed, finger: Finger) -> None:
    """Or it could be saved without having been looked over."""
    make_sheet(finger)
    browser = finger.browser
    finger.tap("Change")
    browser.run(LATE)
    finger.tap("Look it over")
    browser.until("late.length === 1")
    finger.tap("Leave without saving")
    finger.tap("New sheet")
    finger.fill("Title", "Yards")

    browser.run("late.splice(0).forEach((come) => come()); return fetch('now')")  # which comes after it

    assert browser.text("#looked") == ""


def test_what_was_saved_is_undone_by_a_touch(shed: Shed, finger: Finger) -> None:
    make_sheet(finger)
    path = shed.folder / OWN
    before = path.read_bytes()
    finger.tap("Change")
    finger.tap("oral drench", ".row")
    finger.tap("Take out")
    finger.tap("Look it over")
    finger.tap("Save", "#save")
    finger.browser.until("document.querySelector('#toast').innerText.startsWith('Saved')")
    assert path.read_bytes() != before

    finger.tap("Undo", within="#toast")

    finger.seen("Taken back", "#toast")
    assert path.read_bytes() == before


def test_what_was_typed_once_is_offered_again(shed: Shed, finger: Finger) -> None:
    make_sheet(finger)
    finger.tap("Back")
    finger.tap("New sheet")
    finger.fill("Title", "Yards")
    finger.tap("+ copper")
    finger.tap("Look it over")
    finger.tap("Save", "#save")
    finger.seen("Begin", "#jobpart")

    copper = {"name": "copper", "amount": 1, "unit": "bolus", "withhold_days": 0}
    assert tomllib.loads((shed.folder / "sheets/yards.toml").read_text()) == {"title": "Yards", "treatments": [copper]}


def test_a_job_is_paused_gone_on_with_given_another_batch_and_ended_and_its_figures_are_the_journals(
    shed: Shed, finger: Finger
) -> None:
    make_sheet(finger)
    finger.tap("Begin")
    finger.seen("Job 1", "#openjob")
    shed.weigh(YARD, 4)
    finger.tap("Pause")
    finger.tap("a person on the platform")
    finger.seen("paused", "#openjob")
    shed.weigh(YARD, 1, 4)
    finger.tap("Go on")
    finger.seen("Pause", "#openjob")
    finger.tap("Another batch")
    finger.tap("oral drench", "label")
    finger.fill("Batch", "D15")
    finger.tap("Use it")
    finger.seen("holds from the next animal on", "#toast")
    shed.weigh(YARD, 3, 5)
    finger.tap("End the job")
    finger.tap("End it")
    finger.seen("No job is open", "#openjob")

    rows = [one for one in shed.weighings().values() if one.job is not None]
    assert len(rows) == 7
    batches = [next(each.batch for each in one.treatments if each.name == "oral drench") for one in rows]
    assert batches == ["D14"] * 4 + ["D15"] * 3
    paused = shed.weighings()[5]
    assert (paused.job, "paused" in paused.flags) == (None, True)
    finger.browser.until("document.querySelector('#tally .figures dd')?.innerText === '7'")
    mean = sum(one.weight.kg or 0 for one in rows) / 7
    assert f"mean kg\n{mean:.1f}" in finger.browser.text("#tally")
    whys = [event.data.why for event in _jobs(shed)]
    assert "a person paused it: a person on the platform" in whys
    register = list(csv.DictReader(io.StringIO(finger.browser.saved("#register"))))
    given = sorted((row["product"], row["batch"]) for row in register)
    assert given == sorted([("copper", "")] * 7 + [("oral drench", batch) for batch in batches])
    weighed = list(csv.DictReader(io.StringIO(finger.browser.saved("#csv"))))
    assert len(weighed) == 7
    assert "Weaning" in finger.browser.saved("#report")
    assert "Register of doses" in finger.browser.saved("#registerpage")


def _jobs(shed: Shed) -> list:  # type: ignore[type-arg]
    async def read() -> list:  # type: ignore[type-arg]
        rows = await shed.box.service.journal.read(0, 1000)
        from neckyoke.bridge.events import JobState, read_event

        events = (read_event(body) for _, body in rows)
        return [event for event in events if isinstance(event.data, JobState)]

    return shed.wait(read())


def test_another_sheet_holds_from_the_next_animal_on_and_one_is_taken_off_the_list(shed: Shed, finger: Finger) -> None:
    make_sheet(finger)
    finger.tap("Copy")
    finger.tap("Look it over")
    finger.tap("Save", "#save")
    finger.seen("Weaning (copy)", "#jobpart")
    shed.say("begin", bare=True)
    finger.browser.until("document.querySelector('#jobpart a[href=\"#job/sheets\"]')")  # the page has heard of the job
    finger.tap("Back")
    finger.tap("Weaning (copy)", ".sheets a")
    finger.tap("Use it from the next animal on")
    finger.seen("Weaning (copy)", "#openjob")
    finger.tap("Sheets", "#openjob a")
    finger.tap("Weaning (copy)", ".sheets a")
    finger.tap("Off the list")
    finger.browser.until("document.querySelectorAll('.sheets li').length === 1")

    shed.weigh(YARD, 1)
    assert shed.weighings()[1].sheet == "Weaning (copy)"


def test_a_draft_outlives_a_reload_of_the_page(shed: Shed, finger: Finger) -> None:
    finger.tap("Job", "nav a")
    finger.tap("New sheet")
    finger.fill("Title", "Half done")
    finger.browser.go(f"{shed.url}?again#job")

    finger.tap("Go on with Half done")

    assert finger.browser.until("document.querySelector('#sheetform [name=title]')?.value") == "Half done"


def test_no_text_of_a_sheet_or_roster_is_ever_markup(shed: Shed, finger: Finger, tmp_path: Path) -> None:
    form = {
        "title": NASTY, "mob": NASTY, "details": {NASTY: NASTY},
        "treatments": [{"name": NASTY, "ml": 1, "batch": NASTY, "reason": NASTY, "route": NASTY}],
        "findings": [{"name": NASTY, "choices": [NASTY, "b"]}], "draft": [{"pen": NASTY, "match": {NASTY: [NASTY]}}],
    }  # fmt: skip
    answer = shed.say("sheet-save", form=form)
    assert answer["done"], answer["text"]
    roster = tmp_path / "mob.csv"
    roster.write_text(f"tag,visual,sex\n{NASTY.replace(chr(34), '')},1,{NASTY.replace(chr(34), '')}\n{TAGS[0]},2,\n")
    finger.tap("Job", "nav a")
    finger.seen(NASTY, "#sheetlist")
    finger.tap(NASTY, ".sheets a")
    finger.seen(NASTY, "#jobpart")
    finger.tap("Change")
    finger.tap(NASTY, "#tables-treatments .row")
    finger.tap("Done")
    finger.upload("#rosterfile", roster)
    finger.seen("What it would do", "#looked")
    assert "<img src=x" in finger.browser.text("#looked")
    finger.tap("Save", "#save")
    finger.tap("Begin")
    finger.seen(NASTY, "#openjob")
    shed.weigh(YARD, 1)
    finger.browser.until("document.querySelector('#tally .figures dd')?.innerText === '1'")
    finger.tap("Another batch")
    finger.seen(NASTY, "dialog[open]")
    finger.tap("Back")

    assert finger.browser.run("return document.querySelectorAll('img, main script').length") == 0


def test_by_the_keyboard_alone_a_job_is_begun_and_ended(shed: Shed, finger: Finger) -> None:
    assert shed.say("sheet-save", form={"title": "Weaning"})["done"]
    browser = finger.browser
    finger.tap("Job", "nav a")
    browser.until("document.querySelector('.sheets a')")
    for text, sign in (
        ("Weaning", "Begin"),
        ("Begin", "Job 1"),
        ("End the job", "End it"),
        ("End it", "No job is open"),
    ):
        _press(browser, text)
        finger.seen(sign)


def _press(browser: Browser, text: str) -> None:
    """Walk to the control that begins with a text by the tabulator, and press it by Enter."""
    end = time.monotonic() + 20
    while time.monotonic() < end:
        browser.cdp("Input.dispatchKeyEvent", type="rawKeyDown", key="Tab", code="Tab", windowsVirtualKeyCode=9)
        browser.cdp("Input.dispatchKeyEvent", type="keyUp", key="Tab", code="Tab", windowsVirtualKeyCode=9)
        if str(browser.run("return document.activeElement.innerText ?? ''")).startswith(text):
            browser.cdp(
                "Input.dispatchKeyEvent", type="keyDown", key="Enter", code="Enter", windowsVirtualKeyCode=13, text="\r"
            )
            browser.cdp("Input.dispatchKeyEvent", type="keyUp", key="Enter", code="Enter", windowsVirtualKeyCode=13)
            return
    raise AssertionError(f"the tabulator never comes to {text!r}")
