"""A finger on the page: real touches (DevTools protocol), counted, on what has a text or fits a selector."""

import json
import time
from pathlib import Path
from typing import Any

from tests.bridge.page.browser import Browser

FIND = """
const spelled = (one) => (one.innerText || one.value || '').replace(/\\s+/g, ' ').trim();
const fits = (one) => text === null || spelled(one) === text || spelled(one).startsWith(`${text} `);
const seen = (one) => one.checkVisibility();
const frame = () => new Promise((done) => requestAnimationFrame(done));
let found = null;
const meant = (hit) => found.contains(hit) || hit.closest('label, summary, select')?.contains(found);
function look() {
  const top = [...document.querySelectorAll('dialog[open]')].at(-1) ?? document;
  const scope = within ? [...top.querySelectorAll(within)].find(seen) : top;
  found = scope && [...scope.querySelectorAll(css)].filter((one) => seen(one) && fits(one))[nth];
  if (!found) return null;
  found.scrollIntoView({ block: 'center', behavior: 'instant' });
  const box = found.getBoundingClientRect();
  const at = [box.left + box.width / 2, box.top + box.height / 2];
  const hit = document.elementFromPoint(...at);
  return hit && meant(hit) ? at : ['covered', hit?.outerHTML.slice(0, 200)];
}
const first = look();
await frame(); await frame();
const second = look();
if (!second || second[0] === 'covered') return second;
if (JSON.stringify(first) !== JSON.stringify(second)) return null;
window.touched = null;
window.felt = false;
const isIt = (hit) => {
  const now = hit.closest(css); // it may have been drawn anew before the touch
  return meant(hit) || (now && text !== null && fits(now));
};
let down = null;
addEventListener('pointerdown', ({ target }) => {
  window.felt = true;
  down = { aimed: isIt(target), at: performance.now() };
}, { capture: true, once: true });
addEventListener('click', ({ target }) => {
  const missed = !down?.aimed || performance.now() - down.at > 900;
  const idle = missed && !target.closest('button, a, summary, label, option, input, select, textarea');
  window.touched = isIt(target) ? 'it' : idle ? 'nothing' : target.outerHTML.slice(0, 200);
}, { capture: true, once: true });
return second;
"""
LOOK = f"return (async (text, css, within, nth) => {{ {FIND} }})(...arguments)"
TOUCHED = "window.touched === undefined ? 'it' : window.touched"
"""It may lead elsewhere."""
FELT_S = 20.0
"""A touch of which the page has felt nothing for so long never came out of the browser, which loses one now and then on
a machine that is busy: it is made once more.  So is one that hit nothing, for the page had moved on before the finger
was down, or it was down for the second after which the page may.  Any other that was felt must do what it does on a
phone."""
PRESSED = "button, a[href], summary, label, option, input, select, textarea"


class Finger:
    """Touches what is seen, and counts.  In a dialog it touches only what is in the one on top."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.touches = 0
        self.steps: dict[str, int] = {}

    def tap(
        self, text: str | None, css: str = PRESSED, *, within: str = "", nth: int = 0, within_s: float = 120.0
    ) -> None:
        """Touch the first that has this text, or begins with it; wait until it is there and nothing lies over it."""
        end = time.monotonic() + within_s
        self.touches += 1
        while True:
            at = self._find(end, text, css, within, nth)
            self.down(*at)
            self.up()
            self.touches -= 1
            try:
                touched = self.browser.until(TOUCHED, within_s=FELT_S)
            except AssertionError:
                if not self.browser.run("return window.felt") and time.monotonic() < end:
                    continue
                touched = self.browser.until(TOUCHED)
            if touched != "nothing" or time.monotonic() >= end:
                break
        assert touched == "it", f"{text!r} ({css}) moved on under the finger: the touch went to {touched}"

    def _find(self, end: float, text: str | None, css: str, within: str, nth: int) -> tuple[float, float]:
        while True:
            at = self.browser.run(LOOK, text, css, within, nth)
            if at and at[0] != "covered":
                return at[0], at[1]
            assert time.monotonic() < end, f"{text!r} ({css}) cannot be touched: {at}\n{self.browser.text('body')}"
            time.sleep(0.05)

    def down(self, x: float, y: float) -> None:
        """Put the finger on a place."""
        self.browser.cdp("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])

    def up(self) -> None:
        """Lift it."""
        self.browser.cdp("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        self.touches += 1

    def fill(self, label: str, text: str, *, within: str = "") -> None:
        """Touch the field with this label and put a text in, as the phone's keyboard does."""
        self.tap(label, "label", within=within)
        self.browser.until("document.activeElement.matches('input, textarea, select')")
        self.browser.run("document.activeElement.select?.()")
        self.browser.cdp("Input.insertText", text=text)

    def pick(self, label: str, value: str, *, within: str = "") -> None:
        """Choose of a list: the phone's own wheel, which no page sees; so one touch, and the value."""
        self.tap(label, "label", within=within)
        self.browser.run(
            "const one = document.activeElement.matches('select') ? document.activeElement"
            " : [...document.querySelectorAll('select')].find("
            "(each) => each.closest('label')?.innerText.startsWith(arguments[0]));"
            "one.value = arguments[1]; one.dispatchEvent(new Event('input', { bubbles: true }));"
            "one.dispatchEvent(new Event('change', { bubbles: true }));",
            label,
            value,
        )

    def upload(self, css: str, path: Path) -> None:
        """Choose a file: one touch, and the phone's own list of files."""
        self.browser.choose_file(css, path)
        self.touches += 1

    def step(self, name: str, since: int) -> None:
        """Note how many touches a step took."""
        self.steps[name] = self.touches - since

    def seen(self, text: str, css: str = "body", within_s: float = 120.0) -> None:
        """Wait until a text is seen."""
        self.browser.until(
            f"document.querySelector({json.dumps(css)})?.innerText.includes(arguments[0])", text, within_s=within_s
        )


def verdict(browser: Browser, word: str) -> None:
    """Wait until the sign says so."""
    browser.until("document.querySelector('#verdict').innerText === arguments[0]", word)


def listed(browser: Browser, count: int) -> None:
    """Wait until so many weighings are listed."""
    browser.until("document.querySelectorAll('#rows li').length === arguments[0]", count)


def make_sheet(finger: Finger, *, roster: Path | None = None, leaving: str = "") -> dict[str, Any]:
    """Make a sheet with two treatments, a finding and three pens, by touch; gives what it should say."""
    finger.tap("Job", "nav a")
    finger.tap("New sheet")
    finger.fill("Title", "Weaning")
    finger.fill("Mob", "north")
    if leaving:
        finger.tap(leaving, "label")
    finger.tap("Add a treatment")
    finger.fill("Name", "oral drench")
    finger.tap("for each kg", "label")
    finger.fill("Amount", "0,1")
    finger.fill("From one mark of the applicator to the next", "5")
    finger.fill("Batch", "D14")
    finger.fill("Withheld for meat, days", "14")
    finger.tap("Done")
    finger.tap("Add a treatment")
    finger.fill("Name", "copper")
    finger.fill("Amount", "1")
    finger.pick("Unit", "bolus")
    finger.fill("Withheld for meat, days", "0")
    finger.tap("Done")
    finger.tap("Add a finding")
    finger.fill("Name", "condition")
    finger.fill("Choices", "1\n2\n3\n4\n5")
    finger.fill("Usual", "3")
    finger.tap("Done")
    for pen, low in (("heavy", "450"), ("middle", "300"), ("light", "")):
        finger.tap("Add a pen")
        finger.fill("Pen", pen)
        if low:
            finger.fill("From kg", low)
        finger.tap("Done")
    if roster is not None:
        finger.upload("#rosterfile", roster)
        finger.seen("What it would do", "#looked")
    finger.tap("Look it over")
    finger.seen("What it would do", "#looked")
    finger.tap("Save", "#save")
    finger.seen("Begin", "#jobpart")
    return {
        "title": "Weaning",
        "mob": "north",
        "treatments": [
            {"name": "oral drench", "ml_per_kg": 0.1, "round_to_ml": 5, "batch": "D14", "withhold_days": 14},
            {"name": "copper", "amount": 1, "unit": "bolus", "withhold_days": 0},
        ],
        "findings": [{"name": "condition", "choices": [1, 2, 3, 4, 5], "usual": 3}],
        "draft": [{"pen": "heavy", "at_least_kg": 450}, {"pen": "middle", "at_least_kg": 300}, {"pen": "light"}],
        **({"leaving": "meat"} if leaving == "for meat" else {}),
    }
