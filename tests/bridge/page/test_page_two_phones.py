"""Two phones at one sheet at once: neither loses silently what it typed."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.shed import Shed
from tests.bridge.page.touching import Finger, make_sheet
from tests.bridge.page.yard import CODE

OWN = "sheets/weaning.toml"


@pytest.fixture
def shed(tmp_path: Path) -> Iterator[Shed]:
    (tmp_path / "box").mkdir()
    with Shed(tmp_path / "box") as made:
        yield made


@pytest.fixture
def phones(shed: Shed, browser: Browser, tmp_path: Path) -> Iterator[tuple[Finger, Finger]]:
    """Two phones that know the code; what one keeps the other never sees."""
    (tmp_path / "second").mkdir()
    with Browser(tmp_path / "second") as second:
        for one in (browser, second):
            one.resize()
            one.go(f"{shed.url}#code={CODE}")
            one.until("document.querySelector('#openjob') !== null || location.hash !== '#code'")
            one.run("localStorage.removeItem('draft')")
        yield Finger(browser), Finger(second)
        for one in (browser, second):
            assert [said for said in one.complaints() if "409 (Conflict)" not in said] == []


def test_a_sheet_that_two_phones_change_at_once_keeps_both_changes(shed: Shed, phones: tuple[Finger, Finger]) -> None:
    """Whoever saves second is told, sees what the first one saved, and types its own into that."""
    hers, his = phones
    make_sheet(hers)
    his.tap("Job", "nav a")
    his.tap("Weaning", ".sheets a")
    for finger in phones:
        finger.tap("Change")
    hers.fill("Mob", "south")
    his.fill("Title", "Weaning, second half")
    hers.tap("Look it over")
    hers.tap("Save", "#save")
    hers.seen("Begin", "#jobpart")

    his.tap("Look it over")
    his.seen("was changed meanwhile, by hand or from another phone", "#looked")
    assert tomllib.loads((shed.folder / OWN).read_text())["mob"] == "south"
    his.tap("Open it as it is now")
    his.browser.until("document.querySelector('#sheetform [name=mob]').value === 'south'")
    his.fill("Title", "Weaning, second half")
    his.tap("Look it over")
    his.tap("Save", "#save")
    his.seen("Begin", "#jobpart")

    saved = tomllib.loads((shed.folder / OWN).read_text())
    assert (saved["title"], saved["mob"]) == ("Weaning, second half", "south")
    assert [one["name"] for one in saved["treatments"]] == ["oral drench", "copper"]


def test_a_sheet_that_was_looked_over_before_the_other_phone_saved_is_not_saved_over_it(
    shed: Shed, phones: tuple[Finger, Finger]
) -> None:
    hers, his = phones
    make_sheet(hers)
    his.tap("Job", "nav a")
    his.tap("Weaning", ".sheets a")
    for finger, mob in ((hers, "south"), (his, "hill")):
        finger.tap("Change")
        finger.fill("Mob", mob)
        finger.tap("Look it over")
        finger.seen("What it would do", "#looked")
    hers.tap("Save", "#save")
    hers.seen("Begin", "#jobpart")
    his.tap("Save", "#save")

    his.seen("Not saved", "#looked")
    his.seen("was changed meanwhile, by hand or from another phone", "#looked")
    assert tomllib.loads((shed.folder / OWN).read_text())["mob"] == "south"
    his.browser.run("location.reload()")
    his.browser.until("document.querySelector('#sheetform [name=mob]')?.value === 'hill'")  # what was typed is kept
