"""A note typed and not sent outlives a reload of the page, with the animal that it is of; sent or left, it is gone."""

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import Yard, view, weighing

OPEN = "document.querySelector('dialog[open]')"
FIELD = "dialog[open] textarea"
TEXT = "limps, near hind, since the gate"


@pytest.fixture
def typed(yard: Yard, browser: Browser) -> None:
    """Let a note be typed of the first of two, the last one, and the page be loaded again before it is sent."""
    yard.tell(weighing(1, 318.5))
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    browser.run("localStorage.setItem('code', JSON.stringify('482913067'))")
    browser.until("document.querySelector('#verdict').innerText === 'Next animal'")
    opened(browser)
    browser.type(FIELD, TEXT)
    again(browser)


def again(browser: Browser) -> None:
    browser.run("location.reload()")
    browser.until("document.querySelectorAll('#rows button').length > 0")


def opened(browser: Browser) -> None:
    browser.click("[data-act=note]")
    browser.until(OPEN)


def in_field(browser: Browser) -> str:
    return str(browser.run(f"return document.querySelector('{FIELD}').value"))


@pytest.mark.usefixtures("typed")
def test_it_is_there_again_for_the_same_animal_until_it_was_sent(yard: Yard, browser: Browser) -> None:
    opened(browser)
    assert in_field(browser) == TEXT
    assert "not sent" not in browser.text("dialog[open]")
    browser.press("Send", "dialog[open]")
    told = yard.request(1)
    assert (told["kind"], told["text"], told["weighing"]) == ("note", TEXT, weighing(1, 318.5).weighing)
    browser.until(f"!{OPEN}")
    again(browser)
    opened(browser)
    assert in_field(browser) == ""


@pytest.mark.usefixtures("typed")
def test_who_goes_back_has_left_it(browser: Browser) -> None:
    opened(browser)
    browser.press("Back", "dialog[open]")
    browser.until(f"!{OPEN}")
    opened(browser)
    assert in_field(browser) == ""


@pytest.mark.usefixtures("typed")
def test_of_another_animal_it_says_whose_it_was_and_is_not_sent(yard: Yard, browser: Browser) -> None:
    two = weighing(2, 305.0)
    yard.tell(two)
    browser.until("document.querySelectorAll('#rows button').length === 2")
    opened(browser)
    assert in_field(browser) == ""
    assert f"Typed for no. 1 and not sent: {TEXT}" in browser.text("dialog[open]")
    browser.press("Back", "dialog[open]")
    browser.until(f"!{OPEN}")
    opened(browser)
    assert "Typed for no. 1" in browser.text("dialog[open]"), "it is still to be had"
    browser.press("lame", "dialog[open]")
    assert yard.request(1)["text"] == "lame"
    browser.until(f"!{OPEN}")
    opened(browser)
    assert "Typed for" not in browser.text("dialog[open]"), "a note was sent"
