"""Every part and dialog of the view *job*, at every size and in every colour scheme: axe-core and the screen's edge."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.judging import axe, complaints
from tests.bridge.page.shed import Shed
from tests.bridge.page.test_page_every_view import CLOSE, FITS, OPEN, SCHEMES, SIZES
from tests.bridge.page.test_page_sheets import YARD, finger, roster_in, shed
from tests.bridge.page.touching import Finger, make_sheet

__all__ = ["axe", "finger", "shed"]  # the fixtures

WHICH = {"sheet": "#job/sheet/sheets%2Fweaning.toml", "sheets": "#job/sheets", "edit": "#job/edit", "job": "#job"}
THERE = {
    "sheet": "document.querySelector('.doses')?.checkVisibility()",
    "sheets": "document.querySelector('#jobpart .sheets a')?.checkVisibility()",
    "edit": "document.querySelector('#sheetform')?.checkVisibility()",
    "job": "document.querySelector('#tally .figures')?.checkVisibility()",
}
TABLES = ("treatments", "findings", "draft", "dam_ages")


@pytest.fixture
def full(shed: Shed, finger: Finger, tmp_path: Path) -> Iterator[Browser]:
    """A page with something in every part."""
    make_sheet(finger, roster=roster_in(tmp_path))
    finger.tap("Begin")
    finger.seen("Job 1", "#openjob")
    shed.weigh(YARD, 3)
    finger.browser.run("location.hash = arguments[0]", WHICH["sheet"])
    finger.browser.until(THERE["sheet"])
    finger.tap("Change")
    finger.browser.until(THERE["edit"])
    finger.fill("Mob", "south")
    yield finger.browser
    finger.browser.run(CLOSE)
    finger.browser.cdp("Emulation.setEmulatedMedia", features=[])
    finger.browser.resize()


def _show(browser: Browser, part: str) -> None:
    browser.run("location.hash = arguments[0]", WHICH[part])
    browser.until(THERE[part])


def _parts(browser: Browser) -> Iterator[str]:
    """Show every part and open every dialog, one after the other."""
    for part in WHICH:
        _show(browser, part)
        yield part
        if part == "edit":
            browser.run("document.querySelectorAll('#sheetform details').forEach((one) => (one.open = true))")
            for table in TABLES:
                browser.run("document.querySelector(`#tables-${arguments[0]} .add`).click()", table)
                browser.until(OPEN)
                yield f"{table}, a new one"
                browser.run(CLOSE)
                browser.until(f"!{OPEN}")
            browser.run("document.querySelector('#sheetform').requestSubmit()")
            browser.until("document.querySelector('#save')")
            yield "looked over"
    for text in ("Pause", "Another batch", "End the job"):
        browser.press(text, "#openjob")
        browser.until(OPEN)
        yield text
        browser.run(CLOSE)
        browser.until(f"!{OPEN}")


def _wide(browser: Browser) -> bool:
    return bool(browser.run("return document.documentElement.scrollWidth > innerWidth"))


@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_held_against_any_part_or_dialog(full: Browser, axe: str, size: tuple[int, int]) -> None:
    full.resize(*size)
    for name in _parts(full):
        assert complaints(full, axe) == [], name
        assert not _wide(full), name
        assert not full.run(f"return {OPEN} !== null") or full.run(FITS), name


@pytest.mark.parametrize("scheme", ["dark", "forced"])
def test_nothing_is_held_against_any_part_in_other_schemes(full: Browser, axe: str, scheme: str) -> None:
    full.cdp("Emulation.setEmulatedMedia", features=SCHEMES[scheme])
    for name in _parts(full):
        assert complaints(full, axe) == [], name
