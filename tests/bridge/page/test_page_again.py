"""Is it the animal before it, come on again, which had its dose a minute ago?  Asked by phone, said by touch."""

from datetime import timedelta

import pytest

from neckyoke.bridge.events import DoseSaid, Former, Settled, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.judging import axe, complaints
from tests.bridge.page.yard import NOW, STATION, Yard, settled, view, weighing

__all__ = ["axe"]  # the fixture

BEFORE = NOW - timedelta(minutes=1)
REMARK = (
    "may have been given today at 12:11, if this is number 14 again: look.  If it is another, give 35 mL and say so"
)
DOSES = ("oral drench", "seven in one")


@pytest.fixture
def doubted(yard: Yard, browser: Browser) -> Settled:
    """Let one stand there, settled, that may be the one before it; the phone knows the code."""
    treatments = tuple(Treatment(name=name, skipped=True, given_before=BEFORE, remark=REMARK) for name in DOSES)
    browser.go(yard.url)
    browser.run("localStorage.setItem('code', JSON.stringify('482913067'))")
    one = settled(weighing(15, 318.5, treatments=treatments), may_leave=False)
    one = one.model_copy(update={"maybe_same": Former(weighing="w14", number=14)})
    yard.tell(one)
    yard.show(view("settled", 318.5, 15, weighing=one.weighing, settled_kg=318.5, grade="good", may_leave=False))
    browser.until("!document.querySelector('#again').hidden")
    return one


def test_the_question_names_the_number_the_doses_and_the_time(yard: Yard, browser: Browser, doubted: Settled) -> None:
    asked = browser.run("return document.querySelector('#again legend').innerText")
    assert asked.startswith("Is this number 14 again, given oral drench and seven in one at ")
    buttons = browser.run("return [...document.querySelectorAll('#again button')].map((one) => one.innerText)")
    assert buttons == ["Number 14 again: not given", "Another: given now"]


@pytest.mark.parametrize(("text", "given"), [("Another: given now", True), ("Number 14 again: not given", False)])
def test_one_touch_says_it_of_every_dose(
    yard: Yard, browser: Browser, doubted: Settled, text: str, *, given: bool
) -> None:
    browser.press(text, "#again")
    said = [yard.request(count) for count in (1, 2)]
    assert said == [
        {"kind": "skip", "station": STATION, "weighing": doubted.weighing, "treatment": name, "given": given}
        for name in DOSES
    ]


def test_of_one_that_stood_there_as_the_box_stopped_it_is_asked_whether_it_has_had_it(
    yard: Yard, browser: Browser, doubted: Settled
) -> None:
    since = BEFORE - timedelta(seconds=5)
    yard.tell(doubted.model_copy(update={"maybe_same": Former(weighing="w14", number=14, since=since)}))
    browser.until("document.querySelector('#again legend').innerText.startsWith('The box stopped')")
    asked = browser.run("return document.querySelector('#again').innerText").split("\n")
    legend = "The box stopped while number 14 stood here.  Has this one had oral drench and seven in one?"
    assert " ".join(asked[0].split()) == " ".join(legend.split())
    browser.press("Given", "#again")
    assert yard.request(1)["given"] is True
    since = BEFORE + timedelta(seconds=5)  # it had it before: from another one, of whom it may be the animal
    yard.tell(doubted.model_copy(update={"maybe_same": Former(weighing="w14", number=14, since=since)}))
    browser.until("document.querySelector('#again legend').innerText.startsWith('Is this number 14 again')")


def test_what_was_said_of_each_is_not_asked_any_more(yard: Yard, browser: Browser, doubted: Settled) -> None:
    yard.tell(doubted.model_copy(update={"doses_said": (DoseSaid(name="oral drench", given=True),)}))
    browser.until("document.querySelector('#again legend').innerText.includes('given seven in one at')")
    every = tuple(DoseSaid(name=name, given=True) for name in DOSES)
    yard.tell(doubted.model_copy(update={"doses_said": every}))
    browser.until("document.querySelector('#again').hidden")


def test_it_goes_with_the_animal(yard: Yard, browser: Browser, doubted: Settled) -> None:
    yard.show(view("empty", 0.0))
    browser.until("document.querySelector('#again').hidden")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_a_small_phone_and_axe_has_nothing_against_it(
    yard: Yard, browser: Browser, doubted: Settled, axe: str, scheme: str
) -> None:
    browser.cdp("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
    for size in ((320, 568), (360, 640), (844, 390), (1280, 800)):
        browser.resize(*size)
        assert browser.run("return document.documentElement.scrollWidth") == size[0], size
        heights = "[...document.querySelectorAll('#again button')].map((one) => one.getBoundingClientRect().height)"
        assert min(browser.run(f"return {heights}")) >= 48, (
            size
        )  # wet gloves: WCAG 2.2 asks for 24, 44 at level AAA (2.5.5)
        assert complaints(browser, axe) == [], size
    browser.resize()
    browser.cdp("Emulation.setEmulatedMedia", features=[])
