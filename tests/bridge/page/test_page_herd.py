"""What the page says of an animal that is marked, and asks where it cannot tell which animal stands there."""

from neckyoke.bridge.events import Attention, Question
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import CODE, STATION, Yard, tag, view

ASKED = Question(id="1a2b3c4d", text="105 had tag …774149.  Is …112233 its new tag?", choices=("yes", "no"))


def test_a_mark_is_seen_before_the_weight_is_known_and_has_a_sound_of_its_own(yard: Yard, browser: Browser) -> None:
    browser.go(yard.url)
    browser.run(
        "window.heard = []; const start = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (...at) { heard.push(this.frequency.value); start.apply(this, at) }"
    )
    browser.click("#wake")
    yard.show(view("standing", 312.5, 1, tag=tag(1).id, marks=("keep back",), next="Look out: keep back."))
    browser.until("document.querySelector('#give').innerText.includes('keep back')")
    yard.tell(Attention(station=STATION, about="marked", text="105 is marked: keep back.", over=True, lasted_s=0.0))

    browser.until("heard.filter((pitch) => pitch > 500 && pitch < 600).length > 0")
    assert "Look out" in browser.text("#give")


def test_a_question_is_replied_to_by_one_touch_and_local_rules_are_named(yard: Yard, browser: Browser) -> None:
    browser.go(yard.url)
    browser.run(f"localStorage.setItem('code', JSON.stringify('{CODE}'))")
    browser.run("location.reload()")
    yard.show(view("settled", 318.5, 1, settled_kg=318.5, grade="good", tag=tag(1).id, question=ASKED))
    browser.until("!document.querySelector('#which').hidden")
    assert "Is …112233 its new tag?" in browser.text("#which")
    assert "Local rules decide whether and how a replaced tag must be reported." in browser.text("#which")

    browser.click("#which button")
    browser.until("document.body.innerText.includes('so be it')")
    yard.show(view("settled", 318.5, 1, settled_kg=318.5, grade="good", tag=tag(1).id))
    browser.until("document.querySelector('#which').hidden")
    replies = [one for one in yard.asked if one["kind"] == "reply"]
    assert [(one["question"], one["choice"]) for one in replies] == [("1a2b3c4d", "yes")]
    browser.run("localStorage.clear()")
