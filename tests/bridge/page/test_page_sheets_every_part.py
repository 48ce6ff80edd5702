"""Every part and dialog of the view *job*, at every size and in every colour scheme: axe-core and the screen's edge."""

from collections.abc import Iterator

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.judging import axe, complaints
from tests.bridge.page.shed import Shed
from tests.bridge.page.test_page_every_view import CLOSE, FITS, OPEN, SCHEMES, SIZES
from tests.bridge.page.test_page_sheets import YARD, roster_in
from tests.bridge.page.touching import Finger, make_sheet
from tests.bridge.page.yard import CODE

__all__ = ["axe"]  # the fixture

WHICH = {"sheet": "#job/sheet/sheets%2Fweaning.toml", "sheets": "#job/sheets", "edit": "#job/edit", "job": "#job"}
THERE = {
    "sheet": "document.querySelector('.doses')?.checkVisibility()",
    "sheets": "document.querySelector('#jobpart .sheets a')?.checkVisibility()",
    "edit": "document.querySelector('#sheetform')?.checkVisibility()",
    "job": "document.querySelector('#tally .figures')?.checkVisibility()",
}
TABLES = ("treatments", "findings", "draft", "dam_ages")


@pytest.fixture(scope="module")
def made(window: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A page with something in every part, made once: it takes a quarter of a minute of touches."""
    folder = tmp_path_factory.mktemp("shed")
    with Shed(folder) as shed:
        finger = Finger(window)
        window.resize()
        window.go(f"{shed.url}#code={CODE}")
        window.until("document.querySelector('#openjob') !== null || location.hash !== '#code'")
        make_sheet(finger, roster=roster_in(folder))
        finger.tap("Begin")
        finger.seen("Job 1", "#openjob")
        shed.weigh(YARD, 3)
        window.run("location.hash = arguments[0]", WHICH["sheet"])
        window.until(THERE["sheet"])
        finger.tap("Change")
        window.until(THERE["edit"])
        finger.fill("Mob", "south")
        yield window
        window.go("about:blank")
        assert window.complaints() == []


@pytest.fixture
def full(made: Browser) -> Iterator[Browser]:
    """The page, put back into its first shape after each test."""
    yield made
    made.run(CLOSE)
    made.cdp("Emulation.setEmulatedMedia", features=[])
    made.resize()


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
