"""What is wrong is said until it is over, and leaves an animal's figures their room."""

from neckyoke.bridge.events import Attention, LinkState
from tests.bridge.page.browser import Browser
from tests.bridge.page.touching import verdict
from tests.bridge.page.yard import STATION, Yard, a_trouble, view

OPEN = "!document.querySelector('#troubles').hidden"
SHUT = "document.querySelector('#troubles').hidden && !document.querySelector('#trouble').hidden"


def test_troubles_and_lost_wires_are_said_until_they_are_over(yard: Yard, browser: Browser) -> None:
    browser.go(yard.url)
    verdict(browser, "No reading")  # near, but nothing known of the platform yet
    yard.status["troubles"] = [{"about": "zero-off", "station": STATION, "text": a_trouble().text}]
    yard.status["links"]["panel"] |= {"state": "lost", "text": "unplugged"}
    yard.tell(a_trouble(), LinkState(link="panel", state="lost", text="unplugged"))
    browser.until("document.querySelector('#troubles').innerText.includes('6.5 kg when empty')")
    browser.until("document.querySelector('#troubles').innerText.includes('panel is lost: unplugged')")
    browser.click("#trouble")
    browser.until("document.querySelector('#troubles').hidden")
    assert browser.text("#trouble") == "2"
    browser.click("#trouble")
    browser.until("!document.querySelector('#troubles').hidden")

    yard.status["troubles"] = []
    yard.status["links"]["panel"] |= {"state": "up", "text": ""}
    yard.tell(
        Attention(station=STATION, about="zero-off", text="Zero again.", over=True), LinkState(link="panel", state="up")
    )

    browser.until("document.querySelector('#troubles').hidden && document.querySelector('#trouble').hidden")


def test_troubles_that_were_opened_over_one_animal_are_shut_for_the_next(yard: Yard, browser: Browser) -> None:
    yard.status["troubles"] = [{"about": "zero-off", "station": STATION, "text": a_trouble().text}]
    yard.show(view("standing", 312.5, 1, next="Wait: not settled yet."))
    browser.go(yard.url)
    browser.until(SHUT)  # its figures have the room
    browser.click("#trouble")
    browser.until(OPEN)

    yard.show(view("empty", 0.0))
    verdict(browser, "Next animal")
    assert browser.run(f"return {OPEN}"), "nobody folded them away"
    yard.show(view("standing", 402.0, 2, next="Wait: not settled yet."))
    browser.until(SHUT)


def test_a_trouble_that_is_over_leaves_nothing_open_for_the_next_one(yard: Yard, browser: Browser) -> None:
    """It ends while a person reads it, and another begins while the same animal stands there."""
    known = {"about": "zero-off", "text": a_trouble().text, "station": STATION}
    yard.status["troubles"] = [known]
    yard.show(view("standing", 312.5, 1, next="Wait: not settled yet."))
    browser.go(yard.url)
    browser.until(SHUT)
    browser.click("#trouble")
    browser.until(OPEN)

    yard.status["troubles"] = []
    yard.tell(Attention(station=STATION, about="zero-off", text="Zero again.", over=True))
    browser.until("document.querySelector('#troubles').hidden && document.querySelector('#trouble').hidden")
    yard.status["troubles"] = [known]
    yard.tell(a_trouble())
    browser.until(SHUT)
    browser.click("#trouble")
    browser.until(OPEN)
