"""Every view and dialog, at every size and in every colour scheme: axe-core finds nothing, and keys alone reach all."""

from collections.abc import Callable, Iterator

import pytest

from neckyoke.bridge.animal_event import Animal, Mark, WornTag
from neckyoke.bridge.events import Question, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.judging import axe, complaints
from tests.bridge.page.keys import REACHED, Keys
from tests.bridge.page.yard import CODE, STATION, Yard, a_mob, a_trouble, settled, tag, view, weighing

__all__ = ["axe"]  # the fixture

SIZES = ((360, 640), (390, 844), (844, 390), (820, 1180), (1280, 800))
SCHEMES = {
    "light": [{"name": "prefers-color-scheme", "value": "light"}],
    "dark": [{"name": "prefers-color-scheme", "value": "dark"}],
    "forced": [{"name": "forced-colors", "value": "active"}],
}
FINDINGS = (
    {"name": "condition", "kind": "choice", "choices": (1, 2, 3, 4, 5), "usual": 3},
    {"name": "hip", "kind": "number", "low": 80, "high": 160, "step": 0.5, "unit": "cm"},
    {"name": "why", "kind": "words"},
)
VIEWS = {
    "#now": "!document.querySelector('#now').hidden", "#job": "document.querySelector('#tally .pictures svg')",
    "#animals": "document.querySelectorAll('#herd li').length === 2", "#box": "document.querySelector('#wires li')",
    "#animals/a1": "document.querySelector('#story h2')",
}  # fmt: skip
ACTS = ("note", "number", "skip", "void")
STORY = ("New tag", "Ear number", "Mark")
CARD = ("Note", "Ear number", "Tag", "Not given", "Dose", "Strike out")
FULL = "document.querySelectorAll('#rows li').length > 9"
OPEN = "document.querySelector('dialog[open]')"
CLOSE = "[...document.querySelectorAll('dialog[open]')].reverse().forEach((one) => one.close())"
FITS = "const one = [...document.querySelectorAll('dialog[open]')].at(-1); return one.scrollWidth <= one.clientWidth"


def _fill(yard: Yard) -> None:
    """Let there be something in every view."""
    a_mob(yard)
    worn = (WornTag(id=tag(8).id, until="2026-11-01T00:00:00Z"), WornTag(id=tag(9).id))
    yard.book.fold(Animal(animal="a1", visuals=("209",), tags=worn, marks=(Mark(text="keep back"),), sex="steer"))
    yard.book.fold(Animal(animal="a2", visuals=("210",), tags=(WornTag(id=tag(10).id),)))
    yard.status["stations"][STATION]["findings"] = FINDINGS
    yard.status["stations"]["race"] = {"counts": {"animals": 3}}
    yard.status["troubles"] = [{"about": "zero-off", "text": a_trouble().text, "station": STATION}]


@pytest.fixture
def full(yard: Yard, browser: Browser) -> Browser:
    """A page with something in every view."""
    _fill(yard)
    browser.go(yard.url)
    browser.until(FULL)
    return browser


@pytest.fixture(scope="module")
def looked_at(
    window: Browser, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Iterator[Callable[[], Browser]]:
    """The same for all that only look, opened once: half of a look's time went into opening it, and axe, anew."""
    yard = Yard(tmp_path_factory.mktemp("yard")).begin()
    _fill(yard)

    def opened() -> Browser:
        if not window.run("return location.href").startswith(yard.url):  # at first, or another test was elsewhere
            window.go(f"{yard.url}#code={CODE}")
            window.until(FULL)
            if request.param == "one stands":
                _stand(yard, window)
        return window

    yield opened
    window.go("about:blank")
    yard.end()
    assert window.complaints() == []


@pytest.fixture
def shown(looked_at: Callable[[], Browser]) -> Iterator[Browser]:
    """It, put back into its first shape after each test."""
    browser = looked_at()
    yield browser
    browser.run(CLOSE)
    browser.cdp("Emulation.setEmulatedMedia", features=[])
    browser.resize()


def _stand(yard: Yard, browser: Browser) -> None:
    """Let an animal stand there of which a question is asked."""
    treatments = tuple(Treatment(name=name, amount=2.0, unit="mL") for name in ("oral drench", "copper", "clostridial"))
    one = weighing(15, 318.5, pen="middle", treatments=treatments, animal={"visual": "215"})
    asked = Question(id="1a2b3c4d", text="105 had tag …774149.  Is …112233 its new tag?", choices=("yes", "no"))
    yard.tell(settled(one))
    more = {"weighing": one.weighing, "tag": tag(15).id, "may_leave": True, "question": asked, "marks": ("keep back",)}
    yard.show(view("settled", 318.5, 15, settled_kg=318.5, grade="good", **more))
    browser.until("!document.querySelector('#which').hidden")


def _show(browser: Browser, place: str) -> None:
    browser.run("location.hash = arguments[0]", place)
    browser.until(VIEWS[place])


def _dialogs(browser: Browser) -> Iterator[str]:
    """Open every dialog, one after the other."""
    _show(browser, "#now")
    for act in ACTS:
        browser.run("document.querySelector(`[data-act=${arguments[0]}]`).click()", act)
        browser.until(OPEN)
        yield act
        browser.run(CLOSE)
        browser.until(f"!{OPEN}")
    browser.run("document.querySelector('#rows li:nth-child(4) button').click()")
    browser.until("document.querySelector('#history tbody')")
    yield "card"
    for text in CARD:
        browser.press(text, "#cardacts")
        browser.until("document.querySelector('dialog.made')")
        yield f"card, {text}"
        browser.run("document.querySelector('dialog.made').close()")
        browser.until("!document.querySelector('dialog.made')")
    browser.run(CLOSE)
    _show(browser, "#animals/a1")
    for text in STORY:
        browser.press(text, "#story")
        browser.until(OPEN)
        yield f"story, {text}"
        browser.run(CLOSE)
        browser.until(f"!{OPEN}")
    _show(browser, "#box")
    browser.press("Access code", "#box")
    browser.until(OPEN)
    yield "code"
    browser.run(CLOSE)


@pytest.mark.parametrize("looked_at", ["one stands"], indirect=True)
@pytest.mark.parametrize("size", SIZES)
def test_axe_has_nothing_against_any_view_in_any_scheme(shown: Browser, axe: str, size: tuple[int, int]) -> None:
    shown.resize(*size)
    for name, features in SCHEMES.items():
        shown.cdp("Emulation.setEmulatedMedia", features=features)
        for place in VIEWS:
            _show(shown, place)
            assert complaints(shown, axe) == [], (place, name)
            assert shown.run("return document.documentElement.scrollWidth") == size[0], (place, name)


@pytest.mark.parametrize("looked_at", ["nobody stands"], indirect=True)
@pytest.mark.parametrize("size", SIZES)
def test_axe_has_nothing_against_any_dialog(shown: Browser, axe: str, size: tuple[int, int]) -> None:
    shown.resize(*size)
    for name in _dialogs(shown):
        assert complaints(shown, axe) == [], name
        assert shown.run("return document.documentElement.scrollWidth") == size[0], name
        assert shown.run(FITS), name


@pytest.mark.parametrize("looked_at", ["nobody stands"], indirect=True)
@pytest.mark.parametrize("scheme", ["dark", "forced"])
def test_axe_has_nothing_against_any_dialog_in_other_schemes(shown: Browser, axe: str, scheme: str) -> None:
    shown.cdp("Emulation.setEmulatedMedia", features=SCHEMES[scheme])
    for name in _dialogs(shown):
        assert complaints(shown, axe) == [], (name, scheme)


def test_keys_alone_reach_everything(yard: Yard, full: Browser) -> None:
    _stand(yard, full)
    full.click("#wake")  # goes away with the first touch or key
    full.until("document.querySelector('#wake').hidden")
    keys = Keys(full)
    for place in VIEWS:
        _show(full, place)
        assert len(full.run(REACHED)) > 5, place
        assert keys.unreached() == [], place
    for name in _dialogs(full):
        assert keys.unreached() == [], name


def test_keys_alone_note_something_and_take_it_back(yard: Yard, full: Browser) -> None:
    """A note by a ready phrase, undone; Escape leaves a dialog, and the focus comes back to where it was."""
    keys = Keys(full)
    full.run("document.querySelector('[data-act=note]').focus()")
    keys.press("Enter")
    full.until(OPEN)
    keys.press("Escape")
    full.until(f"!{OPEN}")
    assert full.run("return document.activeElement.dataset.act") == "note"
    keys.press("Enter")
    full.until(OPEN)
    full.run("document.querySelector('dialog[open] .touch button').focus()")
    keys.press("Enter")
    full.until("document.querySelector('#toast button')")
    for _ in range(80):
        if full.run("return document.activeElement.innerText === 'Undo'"):
            break
        keys.press("Tab")
    keys.press("Enter")
    full.until("document.querySelector('#toast').innerText.includes('so be it')")
    assert [one["kind"] for one in yard.asked] == ["note", "undo"]
