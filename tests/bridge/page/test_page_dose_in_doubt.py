"""A dose in doubt is settled by touch: the card says what to touch, and each word a person may have is there."""

import pytest

from neckyoke.bridge.events import DoseSaid, Flag, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import STATION, Yard, view, weighing

BRIEF = "it was on show for less than two seconds: if it was not given, say so"
DRENCH = Treatment(name="Oral drench", dose_ml=35.0, remark=BRIEF)
VACCINE = Treatment(name="clostridial", dose_ml=2.0)
MISSED = Treatment(name="pour-on", dose_ml=20.0, skipped=True)
BUTTONS = "return [...document.querySelectorAll('#cardacts button')].map((one) => one.innerText)"
CHOICES = "return [...document.querySelectorAll('dialog.made [name=treatment]')].map((one) => one.value)"


def _card(browser: Browser, yard: Yard, **more: object) -> None:
    yard.tell(weighing(1, 318.5, **more))
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length === 1")
    browser.click("#rows button")
    browser.until("document.querySelector('#card').open")


def test_a_dose_in_doubt_was_given_by_one_touch_more(yard: Yard, browser: Browser) -> None:
    _card(browser, yard, treatments=(DRENCH,), flags=(Flag.DOSE_DOUBTFUL,))
    assert "Touch Given if it had it as it is told here" in browser.text("#card .sentences")
    browser.press("Given", "#cardacts")
    browser.until("document.querySelector('dialog.made [name=treatment]')")
    assert browser.run(CHOICES) == ["Oral drench"]
    browser.press("Oral drench", "dialog.made")
    told = yard.request(1)
    assert {key: told[key] for key in ("kind", "treatment", "given", "station")} == {
        "kind": "skip",
        "treatment": "Oral drench",
        "given": True,
        "station": STATION,
    }
    assert told["weighing"] == weighing(1, 318.5).weighing


@pytest.mark.parametrize(
    ("flags", "said", "choices"),
    [
        ((Flag.DOSE_DOUBTFUL,), (), ["Oral drench", "clostridial", "pour-on"]),
        ((Flag.DOSE_DOUBTFUL,), (DoseSaid(name="clostridial ", given=True),), ["Oral drench", "pour-on"]),
        ((Flag.DOSE_DOUBTFUL,), (DoseSaid(name="clostridial", amount=3.0),), ["Oral drench", "pour-on"]),
        ((Flag.DOSE_DOUBTFUL,), (DoseSaid(name="clostridial", batch="B8"),), ["Oral drench", "clostridial", "pour-on"]),
        ((), (), ["pour-on"]),
    ],
)
def test_what_is_settled_is_not_offered(
    yard: Yard, browser: Browser, flags: tuple[Flag, ...], said: tuple[DoseSaid, ...], choices: list[str]
) -> None:
    _card(browser, yard, treatments=(DRENCH, VACCINE, MISSED), flags=flags, doses_said=said)
    assert ("Touch Given" in browser.text("#card")) == bool(flags)
    browser.press("Given", "#cardacts")
    browser.until("document.querySelector('dialog.made [name=treatment]')")
    assert browser.run(CHOICES) == choices


def test_without_a_doubt_nothing_is_offered_to_be_given(yard: Yard, browser: Browser) -> None:
    _card(browser, yard, treatments=(DRENCH, VACCINE))
    assert "Not given" in browser.run(BUTTONS)
    assert "Given" not in browser.run(BUTTONS)
