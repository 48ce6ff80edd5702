"""While a finger is on the page, and until its touch is a click, nothing is drawn anew under it."""

import pytest

from neckyoke.bridge.events import Flag, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.touching import Finger, listed
from tests.bridge.page.yard import STATION, Yard, a_mob, settled, tag, view, weighing


def test_nothing_is_drawn_anew_under_the_finger(yard: Yard, browser: Browser) -> None:
    """The touch is not lost, whatever the box tells meanwhile; the sign goes on, the rest when it is lifted."""
    one = weighing(1, 318.5)
    yard.tell(one)
    browser.go(yard.url)
    listed(browser, 1)
    finger = Finger(browser)
    box = browser.run("return document.querySelector('#rows button').getBoundingClientRect()")
    browser.run(
        "const real = setTimeout; window.setTimeout = (act, ms) => real(act, ms === 1000 ? 1e6 : ms)"
    )  # a busy machine takes longer than a finger rests
    finger.down(box["left"] + 30, box["top"] + 20)
    yard.tell(one.model_copy(update={"revision": 2, "notes": ("lame",)}))
    yard.show(view("standing", 111.5, 2))  # told after it
    browser.until("document.querySelector('#kg').textContent === '111.5'")
    assert "lame" not in browser.text("#rows")
    finger.up()
    browser.until("document.querySelector('#card').open")
    browser.until("document.querySelector('#rows').textContent.includes('lame')")

    box = browser.run("return document.querySelector('#cardhead button').getBoundingClientRect()")
    finger.down(box["left"] + 30, box["top"] + 20)
    yard.tell(one.model_copy(update={"revision": 3, "notes": ("lame", "off feed")}))
    yard.show(view("standing", 112.5, 2))
    browser.until("document.querySelector('#kg').textContent === '112.5'")
    finger.up()
    browser.until("!document.querySelector('#card').open")
    browser.until("document.querySelector('#rows').textContent.includes('off feed')")


def test_nothing_is_drawn_anew_between_a_finger_lifted_and_its_click(yard: Yard, browser: Browser) -> None:
    """A touch is a click only some time after the finger was lifted: a button drawn anew meanwhile would miss it."""
    a_mob(yard)
    browser.go(yard.url)
    listed(browser, 14)
    browser.run("const real = setTimeout; window.setTimeout = (act, ms) => real(act, ms === 1000 ? 1e6 : ms)")
    browser.run("for (const one of ['pointerdown', 'pointerup']) dispatchEvent(new PointerEvent(one))")
    yard.tell(weighing(15, 318.5))
    browser.run("return new Promise((done) => setTimeout(done, 150))")
    assert browser.run("return document.querySelectorAll('#rows li').length") == 14, "the click is still to come"
    browser.run("document.body.click()")
    listed(browser, 15)


FINDINGS = ({"name": "condition", "kind": "choice", "choices": (1, 2, 3, 4, 5), "usual": 3},)
TOPS = "return [...document.querySelectorAll('#see button')].map((one) => one.getBoundingClientRect().top)"
SETTLED = {"settled_kg": 318.5, "grade": "good", "may_leave": True}


@pytest.mark.parametrize("goes", [False, True])
def test_the_sign_that_goes_on_moves_no_finding_under_the_finger(yard: Yard, browser: Browser, *, goes: bool) -> None:
    """Its tag is known at last, and all that comes with it; or the animal leaves.  Verdict and weight never wait."""
    yard.status["stations"][STATION]["findings"] = FINDINGS
    bare = weighing(1, 318.5, tag=None)
    browser.go(yard.url)
    browser.run("localStorage.setItem('code', JSON.stringify('482913067'))")
    yard.tell(settled(bare))
    yard.show(view("settled", 318.5, 1, weighing=bare.weighing, tag=None, **SETTLED))
    browser.until("document.querySelectorAll('#see button').length === 5")
    browser.run("const real = setTimeout; window.setTimeout = (act, ms) => real(act, ms === 1000 ? 1e6 : ms)")
    before = browser.run(TOPS)
    finger = Finger(browser)
    box = browser.run("return document.querySelectorAll('#see button')[3].getBoundingClientRect()")
    finger.down(box["left"] + box["width"] / 2, box["top"] + box["height"] / 2)
    doses = tuple(Treatment(name=name, amount=35.0, unit="mL", dose_ml=35.0) for name in ("drench", "pour-on"))
    known = settled(weighing(1, 318.5, treatments=doses, flags=(Flag.REPEAT,)))
    yard.tell(known.model_copy(update={"weighing": bare.weighing}))
    if goes:
        yard.show(view("empty", 0.0))
    else:
        yard.show(view("settled", 318.5, 1, weighing=bare.weighing, tag=tag(1).id, **SETTLED | {"settled_kg": 320.5}))
    browser.until("document.querySelector('#kg').textContent === arguments[0]", "0.0" if goes else "320.5")
    assert browser.run(TOPS) == before
    finger.up()
    told = yard.request(1)
    assert (told["kind"], told["weighing"], told["value"]) == ("finding", bare.weighing, 4)
    if goes:
        browser.until("document.querySelector('#see').hidden")
    else:
        browser.until("document.querySelector('#give').innerText.includes('pour-on')")


def test_another_animal_is_told_at_once_finger_or_no(yard: Yard, browser: Browser) -> None:
    """A dose of the one before beside the weight of the next would be given to the wrong animal."""
    doses = (Treatment(name="drench", amount=35.0, unit="mL", dose_ml=35.0),)
    one, two = weighing(1, 318.5, treatments=doses), weighing(2, 290.5)
    browser.go(yard.url)
    yard.tell(settled(one))
    yard.show(view("settled", 318.5, 1, weighing=one.weighing, **SETTLED))
    browser.until("document.querySelector('#give').innerText.includes('drench')")
    browser.run("const real = setTimeout; window.setTimeout = (act, ms) => real(act, ms === 1000 ? 1e6 : ms)")
    Finger(browser).down(200, 500)
    yard.show(view("standing", 290.5, 2, weighing=two.weighing))
    browser.until("document.querySelector('#kg').textContent === '290.5'")
    assert browser.text("#give") == ""


LATE = """
const real = window.fetch;
const made = { changes: [{ asked: 'a1', time: '2026-11-24T14:19:40Z', text: 'Note on no. 3: lame.' }] };
window.late = [];
window.fetch = async (path, ...rest) => {
  if (/^(requests|changes|herd)/.test(path)) await new Promise((come) => late.push(come));
  return path.startsWith('changes') ? Response.json(made) : real(path, ...rest);
};
"""
PLACES = """
return [...document.querySelectorAll(arguments[0])].filter((one) => one.checkVisibility())
  .map((one) => [one.innerText, one.getBoundingClientRect().top, one.getBoundingClientRect().left]);
"""


@pytest.mark.parametrize("size", [(390, 844), (844, 390)])
def test_what_the_box_answers_late_moves_no_button(yard: Yard, browser: Browser, size: tuple[int, int]) -> None:
    """Between the eye and the touch nothing moves: what comes late comes last.  A toast lies over no button either."""
    same = {"tag": tag(7)}
    yard.tell(weighing(1, 250.0, **same), weighing(3, 290.5, flags=(Flag.REPEAT,), **same))
    browser.resize(*size)
    browser.go(yard.url)
    listed(browser, 2)
    browser.run(LATE)
    browser.click("#rows button")
    browser.until("late.length === 2")  # what was said of it, and its history
    before = browser.run(PLACES, "#card button, #facts")
    assert {text for text, *_ in before} >= {"Back", "Note", "Strike out"}
    browser.run("late.splice(0).forEach((come) => come())")
    browser.until("document.querySelector('#changes button') && document.querySelector('#history td')")
    assert [one for one in browser.run(PLACES, "#card button, #facts") if one[0] != "Undo"] == before

    browser.run("import('/dom.js').then(({ toast }) => toast('Taken back: job 1, Steers, begun 02:11, paused.'))")
    browser.until("document.querySelector('#card #toast').innerText")
    over = "document.elementFromPoint(...(({ left, top }) => [left + 9, top + 9])(one.getBoundingClientRect()))"
    assert browser.run(
        f"return [...document.querySelectorAll('#cardhead button, #cardacts button')].every((one) => {over} === one)"
    )
    browser.press("Back", "#card")

    browser.run("location.hash = '#job'")
    browser.until("late.length === 1")  # the sheets
    before = browser.run(PLACES, "#sheetlist button")
    assert [text for text, *_ in before] == ["New sheet"]
    browser.run("late.splice(0).forEach((come) => come())")
    browser.until("document.querySelector('#sheetlist').innerText.includes('No sheet yet')")
    assert browser.run(PLACES, "#sheetlist button") == before
    browser.resize()
