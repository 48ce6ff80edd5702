"""For eyes that are on the animal: the sign read aloud by the phone's own voice, sounds, a screen that stays on.

Speech and vibration are stood in for: the tests' browser has no voice, and no motor.
"""

from typing import Any

from neckyoke.bridge.events import Attention, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import STATION, Yard, followed, settled, weighing

VOICES = """
window.spoken = [];
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text } };
Object.defineProperty(window, 'speechSynthesis', { value: {
  getVoices: () => arguments[0], cancel() {}, addEventListener() {},
  speak: (said) => spoken.push([said.voice.name, said.text]),
} });
"""
HERE = [
    {"name": "far", "lang": "en-GB", "localService": False},
    {"name": "near", "lang": "en-AU", "localService": True},
]
HEARS = """
window.heard = []; const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...at) { heard.push(this.frequency.value); start.apply(this, at) };
navigator.vibrate = (buzz) => heard.push(buzz)
"""
GIVEN = (Treatment(name="oral drench", amount=35.0, unit="mL"), Treatment(name="copper", amount=2.0, unit="bolus"))
ONE = weighing(1, 318.5, pen="middle", treatments=GIVEN)


def _wants_speech(browser: Browser, yard: Yard, voices: list[dict[str, Any]]) -> None:
    browser.go(f"{yard.url}#box")
    browser.run(VOICES, voices)
    browser.until("document.querySelector('#speech input') && document.querySelector('#site').innerText === 'larkmoor'")
    followed(yard, browser)
    browser.run("document.querySelector('#speech input').click()")


def test_weight_pen_and_dose_are_read_aloud_by_a_voice_of_the_phone_if_wanted(yard: Yard, browser: Browser) -> None:
    _wants_speech(browser, yard, HERE)
    yard.tell(settled(ONE))
    browser.until("spoken.length === 2")
    assert browser.run("return spoken") == [
        ["near", "It will be read aloud."],
        ["near", "318.5 kilos. Pen middle. oral drench: 35 millilitres. copper: 2 boluses."],
    ]
    yard.tell(settled(weighing(2, 342.0, tag=None), may_leave=False))
    browser.until("spoken.length === 3")
    assert browser.run("return spoken[2][1]") == "342 kilos. Hold it: tag missing."
    browser.run("localStorage.removeItem('speech')")


def test_nothing_is_said_until_somebody_wants_it(yard: Yard, browser: Browser) -> None:
    browser.go(yard.url)
    browser.run(VOICES, HERE)
    followed(yard, browser)
    yard.tell(settled(ONE))
    browser.until("document.querySelector('#verdict').innerText === 'Let it go'")
    assert browser.run("return spoken") == []


def test_a_voice_from_elsewhere_is_not_used_and_that_is_said(yard: Yard, browser: Browser) -> None:
    _wants_speech(browser, yard, HERE[:1])
    yard.tell(settled(ONE))
    browser.until("document.querySelector('#verdict').textContent === 'Let it go'")
    assert browser.run("return spoken") == []
    assert "stays silent" in browser.text("#box")
    browser.run("localStorage.removeItem('speech')")


def test_let_go_hold_it_marked_and_trouble_sound_each_their_own(yard: Yard, browser: Browser) -> None:
    browser.go(yard.url)
    browser.run(HEARS)
    browser.click("#wake")
    browser.until("document.querySelector('#wake').hidden")
    followed(yard, browser)
    heard = []
    marked = Attention(station=STATION, about="marked", text="105 is marked: keep back.", over=True, lasted_s=0.0)
    trouble = Attention(station=STATION, about="zero-off", text="The platform reads 6.5 kg when empty.")
    hold = settled(weighing(2, 342.0, tag=None), may_leave=False)
    for happens in (settled(ONE), hold, marked, trouble):
        browser.run("heard.length = 0")
        yard.tell(happens)
        browser.until("heard.some((one) => Array.isArray(one))")
        heard.append(str(browser.run("return heard")))
    assert len(set(heard)) == 4, heard


def test_another_stations_animals_make_no_sound_here(yard: Yard, browser: Browser) -> None:
    yard.status["stations"]["race"] = {"counts": {"animals": 0}}
    browser.go(yard.url)
    browser.run(HEARS)
    browser.click("#wake")
    browser.until("document.querySelector('#wake').hidden && document.querySelector('#station').value === 'crush'")
    followed(yard, browser)
    browser.run("heard.length = 0")
    yard.tell(settled(weighing(1, 318.5, station="race")))
    yard.tell(Attention(station="race", about="zero-off", text="The race reads 6.5 kg when empty."))
    yard.tell(settled(weighing(2, 318.5)))
    browser.until("heard.length > 0")
    assert browser.run("return heard.filter((one) => Array.isArray(one)).length") == 1


def test_over_plain_http_a_moving_picture_keeps_the_screen_awake(yard: Yard, browser: Browser) -> None:
    """A page of 127.0.0.1 counts as secure; as the phone sees the box, it is not.  So the lock is taken away here.

    Chromium holds the screen for a video that plays, is seen and is of a stream (its video_wake_lock.cc, from memory).
    """
    gone = "Object.defineProperty(window, 'isSecureContext', { value: false })"
    made = browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=gone)
    browser.go(yard.url)
    browser.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made["identifier"])
    browser.until("document.querySelector('#awake')?.paused === false")
    first = browser.run("return document.querySelector('#awake').currentTime")
    browser.until("document.querySelector('#awake').currentTime > arguments[0]", first)
    video = "const one = document.querySelector('#awake');"
    assert browser.run(f"{video} return [one.muted, one.videoWidth, one.srcObject !== null]") == [True, 2, True]
    box = browser.run(f"{video} return one.getBoundingClientRect()")
    assert (box["width"], box["height"]) == (2, 2)


def test_a_secure_page_asks_for_the_lock_that_browsers_have(yard: Yard, browser: Browser) -> None:
    """Taken when the page is opened, and again when it comes back to sight."""
    asks = """
    window.locks = [];
    const request = async (kind) => (locks.push(kind), { released: true });
    Object.defineProperty(navigator, 'wakeLock', { value: { request } });
    """
    made = browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=asks)
    browser.go(yard.url)
    browser.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made["identifier"])
    browser.until("locks.length === 1")
    browser.run("document.dispatchEvent(new Event('visibilitychange'))")
    browser.until("locks.length === 2")
    assert browser.run("return document.querySelector('#awake')") is None
