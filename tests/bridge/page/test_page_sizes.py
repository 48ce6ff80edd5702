"""The sign reads at two metres, and at every size of screen nothing that matters is cut.

Normal sight tells letters of 5 minutes of arc apart: the 1.0 line of an eye chart (ISO 8596: the optotype of visual
acuity 1.0 subtends 5').  Eight are asked for, for sun and rain.  That a phone shows 160 CSS pixels to the inch is
common practice, no source; an inch is 25.4 mm.
"""

import math
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from neckyoke.bridge.events import Gain, Treatment, WithheldFor
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import CODE, STATION, Yard, a_mob, settled, tag, view, weighing

SIZES = ((360, 640), (390, 844), (844, 390), (820, 1180), (1280, 800))
PORTRAIT = ((360, 640), (390, 844), (820, 1180))
FAR = {
    "verdict": "#verdict", "weight": "#kg", "pen": "#pen", "ear": "#who", "amount": "#give .dose dd",
    "second amount": "#give .dose ~ .dose dd", "withheld until": "#give .until dt",
    "the other date": "#give .until ~ .until dt",
}  # fmt: skip
WITHHELD = {
    "one product": (
        WithheldFor(product="oral drench", kind="export", until=None),
        WithheldFor(product="oral drench", kind="meat", until="2026-12-26"),
    ),
    "two products": (
        WithheldFor(product="clostridial vaccine", kind="export", until="2027-01-28"),
        WithheldFor(product="oral drench", kind="meat", until="2026-12-26"),
    ),
}
NEAR = {
    "product": "#give .dose dt",
    "second product": "#give .dose ~ .dose dt",
    "what withholds it": "#give .until dd:not(:empty)",
    "for what": "#give .until b",
    "for what else": "#give .until ~ .until b",
}
GLYPHS = """
const found = document.querySelector(arguments[0]);
const large = [...found.childNodes].filter((one) => one.nodeType === 3 && one.data.trim());
const style = getComputedStyle(found);
const pen = document.createElement('canvas').getContext('2d');
pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
const text = large.map((one) => one.data).join('');
const range = document.createRange();
range.selectNodeContents(large[0]);
const sure = pen.measureText(/[A-Z0-9]/.exec(text)?.[0] ?? 'h').actualBoundingBoxAscent;
const box = range.getBoundingClientRect();
return [sure, box.left, box.top, box.right, box.bottom];
"""
"""Height of a capital, a figure or else an ascender as it is drawn, without the small word before; and its box."""
COVERED = """
const box = document.querySelector(arguments[0]).getBoundingClientRect();
return [[box.left + 2, box.top + 2], [box.right - 2, box.bottom - 2]].map(([x, y]) => {
  const hit = document.elementFromPoint(x, y);
  return hit && document.querySelector('#sign').contains(hit);
});
"""

BACK = """
document.querySelectorAll('dialog[open]').forEach((one) => one.close());
if (!document.querySelector('#troubles').hidden) document.querySelector('#trouble').click();
location.hash = '#now';
scrollTo(0, 0);
"""


def arcmin(pixels: float, metres: float = 2.0, per_inch: float = 160.0) -> float:
    """Return the angle that something subtends at the eye, in minutes of arc."""
    return math.degrees(math.atan(pixels * 0.0254 / per_inch / metres)) * 60


def test_angles_are_reckoned_as_on_an_eye_chart() -> None:
    # ISO 8596 / DIN: the optotype of acuity 1.0 at 6 m is 8.73 mm tall
    assert arcmin(8.73 / 25.4 * 160, metres=6.0) == pytest.approx(5.0, abs=0.01)


def _fill(yard: Yard) -> None:
    """Let there be an animal of which everything is to be said, a trouble, and findings."""
    a_mob(yard)
    yard.status["stations"][STATION]["findings"] = (
        {"name": "condition", "kind": "choice", "choices": (1, 2, 3, 4, 5)},
        {"name": "pregnant", "kind": "choice", "choices": (True, False), "needed": True},
    )
    yard.status["links"]["panel"] = {
        "state": "lost", "stations": [STATION],
        "text": "/dev/serial/by-id/usb-adapter-with-a-name-that-has-no-end-to-it-at-all-port0 is gone",
    }  # fmt: skip


def _stand(yard: Yard, browser: Browser, withheld: tuple[WithheldFor, ...]) -> None:
    """Let that animal stand there."""
    doses = [
        ("oral drench", 35.0, "mL"),
        ("copper", 2.0, "bolus"),
        ("clostridial", 2.0, "mL"),
        ("growth", 1.0, "implant"),
    ]
    treatments = tuple(Treatment(name=name, amount=amount, unit=unit) for name, amount, unit in doses)
    gain = Gain(kg=40.0, days=45, since="2026-10-10", kg_per_day=0.84)
    one = weighing(15, 318.5, pen="middle", treatments=treatments, animal={"visual": "215"}, gain=gain)
    yard.tell(settled(one).model_copy(update={"withheld": withheld}))
    more = {"weighing": one.weighing, "tag": tag(15).id, "may_leave": True, "withheld": withheld}
    yard.show(view("settled", 318.5, 15, settled_kg=318.5, grade="good", **more))
    browser.until("document.querySelectorAll('#give .dose').length === 4 && !document.querySelector('#trouble').hidden")


@pytest.fixture(scope="module")
def looked_at(
    window: Browser, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Iterator[Callable[[], Browser]]:
    """A page with it, opened once for all that only look."""
    yard = Yard(tmp_path_factory.mktemp("yard")).begin()
    _fill(yard)

    def opened() -> Browser:
        if not window.run("return location.href").startswith(yard.url):  # at first, or another test was elsewhere
            window.go(f"{yard.url}#code={CODE}")
            window.until("document.querySelectorAll('#rows li').length > 9 && location.hash !== '#code'")
            _stand(yard, window, WITHHELD[getattr(request, "param", "one product")])
        return window

    yield opened
    window.go("about:blank")
    yard.end()
    assert window.complaints() == []


@pytest.fixture
def full(looked_at: Callable[[], Browser]) -> Iterator[Browser]:
    """It, put back into its first shape after each test."""
    browser = looked_at()
    yield browser
    browser.run(BACK)
    browser.until("!document.querySelector('#now').hidden && document.querySelector('#troubles').hidden")
    browser.resize()


def _resize(browser: Browser, width: int, height: int) -> None:
    browser.resize(width, height)
    browser.until("innerWidth === arguments[0] && innerHeight === arguments[1]", width, height)
    browser.run("return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def glyphs(browser: Browser) -> dict[str, Any]:
    """Return how tall each thing on the sign is, in minutes of arc."""
    return {name: round(arcmin(browser.run(GLYPHS, css)[0]), 1) for name, css in (FAR | NEAR).items()}


@pytest.mark.parametrize("looked_at", WITHHELD, indirect=True)
@pytest.mark.parametrize("size", PORTRAIT)
def test_all_that_matters_reads_at_two_metres(full: Browser, size: tuple[int, int]) -> None:
    _resize(full, *size)

    tall = glyphs(full)

    print(size, tall)
    assert {name: tall[name] for name in FAR if tall[name] < 8} == {}
    assert {name: tall[name] for name in NEAR if tall[name] < 5} == {}


@pytest.mark.parametrize("looked_at", WITHHELD, indirect=True)
@pytest.mark.parametrize("size", SIZES)
def test_nothing_that_matters_is_cut(full: Browser, size: tuple[int, int]) -> None:
    """Not by the edge, nor by dock and views, without scrolling; the trouble is a button then."""
    _resize(full, *size)
    width, height = size
    for name, css in ({**FAR, **NEAR, "more": "#more"}).items():
        box = full.run("return document.querySelector(arguments[0]).getBoundingClientRect()", css)
        assert box["left"] >= 0, name
        assert box["right"] <= width, name
        assert box["top"] >= 0, name
        assert box["bottom"] <= height, name
        assert full.run(COVERED, css) == [True, True], name
    assert full.text("#more") == "2 more"
    assert full.run("return document.documentElement.scrollWidth") == width


def test_more_than_two_doses_stand_under_a_plain_word(full: Browser) -> None:
    seen = "return [...document.querySelectorAll('#give .dose')].filter((one) => one.checkVisibility()).length"
    assert full.run(seen) == 2
    full.click("#more")
    assert full.run(seen) == 4
    assert full.text("#more") == "Fewer"
    full.click("#more")
    assert full.run(seen) == 2


@pytest.mark.parametrize("size", SIZES)
def test_verdict_and_weight_stay_above_every_dialog(full: Browser, size: tuple[int, int]) -> None:
    _resize(full, *size)
    opened = [f"document.querySelector('[data-act={act}]').click()" for act in ("note", "number", "skip", "void")]
    for script in [*opened, "document.querySelector('#rows button').click()"]:
        full.run(script)
        full.until("document.querySelector('dialog[open]')")
        dialog = full.run("return document.querySelector('dialog[open]').getBoundingClientRect()")
        for css, text in (("#stripverdict", "Let it go"), ("#stripkg", "318.5")):
            assert full.text(css) == text
            box = full.run("return document.querySelector(arguments[0]).getBoundingClientRect()", css)
            assert box["bottom"] <= dialog["top"], (script, css)
            assert box["left"] >= 0, (script, css)
            assert box["right"] <= size[0], (script, css)
        assert dialog["bottom"] <= size[1], script
        full.run("document.querySelectorAll('dialog[open]').forEach((one) => one.close())")


@pytest.mark.parametrize("size", SIZES)
def test_nothing_has_to_be_scrolled_sideways(full: Browser, size: tuple[int, int]) -> None:
    _resize(full, *size)
    for place in ("#job", "#animals", "#box", "#now"):
        full.run("location.hash = arguments[0]", place)
        full.until("!document.querySelector(arguments[0]).hidden", place)
        assert full.run("return document.documentElement.scrollWidth") == size[0], place
    full.run("document.querySelector('#trouble').click()")
    full.until("!document.querySelector('#troubles').hidden")
    assert full.run("return document.documentElement.scrollWidth") == size[0]
    assert full.run("const one = document.querySelector('#troubles'); return one.scrollWidth <= one.clientWidth")


def test_another_stations_trouble_is_not_shown_here(yard: Yard, browser: Browser) -> None:
    yard.status["stations"]["race"] = {"counts": {"animals": 3}}
    yard.status["links"]["loop"] = {"state": "lost", "text": "unplugged", "stations": ["race"]}
    yard.status["troubles"] = [
        {"about": "zero-off", "text": "The race reads 6.5 kg when empty.", "station": "race"},
        {"about": "disk", "text": "The disk is nearly full."},
    ]
    browser.go(yard.url)
    browser.until("document.querySelector('#troubles').innerText.includes('nearly full')")
    assert browser.text("#trouble") == "1 trouble" or browser.text("#trouble") == "1"
    browser.run(
        "const one = document.querySelector('#station'); one.value = 'race'; one.dispatchEvent(new Event('change'))"
    )
    browser.until("document.querySelector('#troubles').innerText.includes('loop is lost')")
    assert "6.5 kg" in browser.text("#troubles")
    assert "nearly full" in browser.text("#troubles")
    browser.run("localStorage.removeItem('station')")
