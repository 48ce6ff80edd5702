"""The page for those who see badly, or hear it read: axe-core, an outside judge, in every view.

axe-core (Deque Systems, MPL-2.0) holds a page to WCAG 2; its enhanced contrast rule is success criterion 1.4.6, 7:1.
It comes from the npm registry into pytest's cache, once.
"""

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import Yard, a_mob, a_trouble, settled, tag, view, weighing

VERSION = "4.14.1"


@pytest.fixture(scope="session")
def axe(pytestconfig: pytest.Config) -> str:
    assert pytestconfig.cache is not None
    folder = Path(pytestconfig.cache.mkdir("axe-core"))
    script = folder / VERSION / "node_modules" / "axe-core" / "axe.min.js"
    if not script.exists():
        command = ["npm", "install", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", str(folder / VERSION)]
        try:
            subprocess.run([*command, f"axe-core@{VERSION}"], check=True, capture_output=True, text=True, timeout=90)
        except (OSError, subprocess.SubprocessError) as error:
            said = getattr(error, "stderr", "") or error
            pytest.fail(
                f"axe-core {VERSION} could not be had from the npm registry (is npm there, and the net?): {said}"
            )
    return script.read_text(encoding="utf-8")


def judged(browser: Browser, axe: str, options: dict[str, Any], where: str = "html") -> dict[str, Any]:
    """Let axe look and give what it says."""
    browser.run(f"if (!window.axe) {{ {axe} }}")
    found: dict[str, Any] = browser.run("return axe.run(arguments[0], arguments[1])", where, options)
    return found


def complaints(browser: Browser, axe: str) -> list[str]:
    """Say what axe holds against what is seen now, by WCAG 2 A and AA and best practice."""
    found = judged(browser, axe, {"resultTypes": ["violations"]})
    return [
        f"{one['impact']}: {one['id']}: {one['help']}: {json.dumps([node['html'][:120] for node in one['nodes']])}"
        for one in found["violations"]
    ]


def test_axe_has_nothing_against_any_view(yard: Yard, browser: Browser, axe: str) -> None:
    a_mob(yard)
    yard.status["troubles"] = [{"about": "zero-off", "text": a_trouble().text}]
    yard.show(view("empty", 0.0, next="Ready for the next animal."))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length > 9")
    assert complaints(browser, axe) == []

    browser.run("location.hash = '#day'")
    browser.until("document.querySelector('#tally .bars')")
    assert complaints(browser, axe) == []

    browser.run("location.hash = '#box'")
    browser.until("!document.querySelector('#box').hidden")
    assert complaints(browser, axe) == []


def test_axe_has_nothing_against_the_forms(yard: Yard, browser: Browser, axe: str) -> None:
    a_mob(yard)
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length > 9")
    for act in ("note", "number", "skip", "void"):
        browser.click(f"[data-act={act}]")
        browser.until("document.querySelector('dialog[open]')")
        assert complaints(browser, axe) == []
        browser.run("document.querySelector('dialog[open]').close()")
        browser.until("!document.querySelector('dialog[open]')")

    browser.run("document.querySelector('#rows li:nth-child(4) button').click()")
    browser.until("document.querySelector('#history tbody')")
    assert complaints(browser, axe) == []


@pytest.mark.parametrize("state", ["next", "wait", "go", "hold", "away"])
def test_the_sign_has_a_contrast_of_seven_to_one_in_every_state(
    yard: Yard, browser: Browser, axe: str, state: str
) -> None:
    one = weighing(1, 318.5, pen="middle", tag=None if state == "hold" else tag(1))
    shown = {
        "next": view("empty", 0.0, next="Ready for the next animal."),
        "wait": view("standing", 312.0, 1, next="Wait: not settled yet."),
        "go": view("settled", 318.0, 1, settled_kg=318.5, grade="good", may_leave=True, tag=tag(1).id),
        "hold": view(
            "settled", 318.0, 1, settled_kg=318.5, grade="good", missing=["tag"], next="Keep it: tag missing."
        ),
        "away": view("standing", 312.0, 1),
    }[state]
    if state in {"go", "hold"}:
        yard.tell(settled(one, may_leave=state == "go"))
    yard.show(shown)
    browser.go(yard.url)
    browser.until("document.querySelector('#sign').dataset.verdict !== 'away'")
    if state == "away":
        yard.wait(yard.page.stop())
    browser.until("document.querySelector('#sign').dataset.verdict === arguments[0]", state)
    browser.until("document.getAnimations().length === 0")

    found = judged(browser, axe, {"runOnly": ["color-contrast-enhanced"]}, "#sign")

    assert found["violations"] == []
    assert found["incomplete"] == []
    checked = [node["html"] for one in found["passes"] for node in one["nodes"]]
    assert any('id="verdict"' in html for html in checked)
    assert any('id="kg"' in html for html in checked) == (state != "away")  # then there is no weight to see


def test_every_button_is_big_enough_for_a_glove(yard: Yard, browser: Browser) -> None:
    """48 CSS pixels are some 9 mm on a phone: twice WCAG 2.5.8's 24, and over 2.5.5's 44."""
    a_mob(yard, 6)
    for place in ("#now", "#day", "#box"):
        browser.go("about:blank")
        browser.go(yard.url + place)
        browser.until("document.querySelectorAll('#rows li').length > 3")
        small = browser.run(
            "return [...document.querySelectorAll('button, a, select, input, label:has(input)')]"
            ".filter((one) => one.checkVisibility() && !one.matches('label input'))"
            ".map((one) => [one.outerHTML.slice(0, 80), one.getBoundingClientRect()])"
            ".filter(([, box]) => box.width < 48 || box.height < 48).map(([html]) => html)"
        )
        assert small == []


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_nothing_runs_out_of_the_screen(yard: Yard, browser: Browser, width: int) -> None:
    a_mob(yard)
    yard.show(view("settled", 1318.5, 1, settled_kg=1318.5, grade="good", may_leave=True, tag=tag(1).id))
    browser.resize(width)
    try:
        for place in ("#now", "#day", "#box"):
            browser.go(yard.url + place)
            browser.until("document.querySelectorAll('#rows li').length > 9")
            assert browser.run("return [innerWidth, document.documentElement.scrollWidth]") == [width, width], place
        browser.go(f"{yard.url}#now")
        browser.until("document.querySelector('#kg').innerText === '1318.5'")
        fits = "const sign = document.querySelector('#sign'); const range = document.createRange();"
        fits += "range.selectNodeContents(document.querySelector('#kg')); const text = range.getBoundingClientRect();"
        fits += "const box = sign.getBoundingClientRect(); return text.left >= box.left && text.right <= box.right"
        assert browser.run(fits)
    finally:
        browser.resize()
