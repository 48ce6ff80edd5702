"""The day's view is that of the station chosen, follows what is weighed, and stays only on a day somebody chose."""

from datetime import timedelta

from neckyoke.bridge.events import Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import NOW, STATION, Yard, weighing


def _animals(browser: Browser, count: int) -> None:
    """Wait until the day shows so many."""
    browser.until(f"document.querySelector('#tally dd')?.innerText === '{count}'")


def _saved(browser: Browser) -> list[int]:
    """Return the numbers in the file that can be saved."""
    return sorted(int(line.split(",")[0]) for line in browser.saved("#csv").splitlines()[1:])


def _choose(browser: Browser, field: str, value: str) -> None:
    browser.run(
        "const one = document.querySelector(arguments[0]); one.value = arguments[1];"
        "one.dispatchEvent(new Event('change'))",
        field,
        value,
    )


def _two_stations(yard: Yard) -> None:
    yard.status["stations"]["ramp"] = {"counts": {"animals": 0}}
    yard.tell(weighing(1, 318.5), weighing(2, 320.0), weighing(3, 300.0, station="ramp"))


def test_the_day_is_that_of_the_station_chosen_from_the_first(yard: Yard, browser: Browser) -> None:
    _two_stations(yard)
    browser.go(f"{yard.url}#job")
    _animals(browser, 2)
    assert browser.run("return document.querySelector('#station').value") == STATION
    assert _saved(browser) == [1, 2]

    _choose(browser, "#station", "ramp")

    _animals(browser, 1)
    assert _saved(browser) == [3]
    browser.run("localStorage.clear()")


def test_the_day_follows_what_is_weighed_and_goes_on_to_the_next_day(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    browser.go(f"{yard.url}#job")
    _animals(browser, 1)

    yard.tell(weighing(2, 320.0))
    _animals(browser, 2)

    yard.now = NOW + timedelta(days=1)
    yard.tell(*(weighing(number, 300.0, on=yard.now) for number in (3, 4, 5)))
    _animals(browser, 3)
    assert browser.run("return document.querySelector('#date').value") == "2026-11-25"
    assert _saved(browser) == [3, 4, 5]


def test_a_day_that_a_person_chose_stays(yard: Yard, browser: Browser) -> None:
    yesterday = NOW - timedelta(days=1)
    yard.tell(weighing(1, 318.5, on=yesterday), weighing(2, 320.0), weighing(3, 300.0))
    browser.go(f"{yard.url}#job")
    _animals(browser, 2)

    _choose(browser, "#date", "2026-11-23")
    _animals(browser, 1)
    yard.tell(weighing(4, 320.0), weighing(5, 300.0, on=yesterday))

    _animals(browser, 2)
    assert _saved(browser) == [1, 5]


def test_what_was_given_in_all_stands_in_its_own_unit(yard: Yard, browser: Browser) -> None:
    drench = Treatment(name="drench", amount=35.0, unit="mL", dose_ml=35.0)
    copper = Treatment(name="copper", amount=1.0, unit="bolus")
    implant = Treatment(name="growth", amount=1.0, unit="implant")
    skipped = copper.model_copy(update={"skipped": True})
    yard.tell(weighing(1, 318.5, treatments=(drench, copper, implant)))
    yard.tell(weighing(2, 320.0, treatments=(drench, skipped)))
    yard.tell(weighing(3, 330.0, treatments=(drench, copper)))
    browser.go(f"{yard.url}#job")
    _animals(browser, 3)

    rows = browser.run(
        "return [...document.querySelectorAll('#tally table')].at(-1)"
        ".innerText.split('\\n').map((line) => line.split('\\t').map((cell) => cell.trim()))"
    )

    assert rows == [
        ["", "Given", "Not given", "In all"],
        ["drench", "3", "0", "105 mL"],
        ["copper", "2", "1", "2 boluses"],
        ["growth", "1", "0", "1 implant"],
    ]
