"""What a person sees of the animal, given by touch; and what is told of one that is withheld or marked."""

from typing import Any

import pytest

from neckyoke.bridge.events import Finding, WithheldFor
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import STATION, Yard, settled, tag, view, weighing

FINDINGS = (
    {"name": "condition", "kind": "choice", "choices": (1, 2, 3, 4, 5), "usual": 3},
    {"name": "pregnant", "kind": "choice", "choices": (True, False), "needed": True},
    {"name": "signs", "kind": "choice", "choices": ("lame", "eye", "thin"), "several": True},
    {"name": "why", "kind": "words"},
)


@pytest.fixture
def animal(yard: Yard, browser: Browser) -> Any:
    """Let an animal stand there, settled, under a sheet with findings; the phone knows the code."""
    yard.status["stations"][STATION]["findings"] = FINDINGS
    one = weighing(1, 318.5, findings=(Finding(name="condition", value=3, by="usual"),))
    browser.go(yard.url)
    browser.run("localStorage.setItem('code', JSON.stringify('482913067'))")
    yard.tell(settled(one).model_copy(update={"findings": one.findings}))
    yard.show(
        view("settled", 318.5, 1, weighing=one.weighing, settled_kg=318.5, grade="good", tag=tag(1).id, may_leave=True)
    )
    browser.until("document.querySelectorAll('#see fieldset').length === 4")
    browser.until("document.querySelector('#see [aria-pressed=true]')")  # what is usual comes with the event
    return one


def touch(browser: Browser, name: str, value: str) -> None:
    found = (
        "[...document.querySelectorAll('#see fieldset')].find((one) => one.querySelector('legend').innerText"
        ".startsWith(arguments[0])).querySelectorAll('button')"
    )
    browser.run(f"[...{found}].find((one) => one.innerText === arguments[1]).click()", name, value)


def pressed(browser: Browser) -> list[str]:
    found: list[str] = browser.run(
        "return [...document.querySelectorAll('#see [aria-pressed=true]')].map((one) => one.innerText)"
    )
    return found


def test_one_touch_gives_a_finding_and_another_takes_it_back(yard: Yard, browser: Browser, animal: Any) -> None:
    assert pressed(browser) == ["3"], "the usual stands"
    touch(browser, "condition", "4")
    said = yard.request(1)
    assert said == {
        "kind": "finding",
        "station": STATION,
        "weighing": animal.weighing,
        "name": "condition",
        "value": 4,
    }
    browser.until("document.querySelector('#see [aria-pressed=true]').innerText === '4'")
    touch(browser, "condition", "4")
    assert "value" not in yard.request(2), "no value takes it back"
    browser.until("document.querySelectorAll('#see [aria-pressed=true]').length === 0")


def test_what_is_needed_says_so_until_it_is_given(yard: Yard, browser: Browser, animal: Any) -> None:
    browser.until("document.querySelector('#see').innerText.includes('pregnant: needed')")
    touch(browser, "pregnant", "yes")
    assert yard.request(1)["value"] is True
    browser.until("!document.querySelector('#see').innerText.includes('needed')")


def test_several_may_be_touched(yard: Yard, browser: Browser, animal: Any) -> None:
    touch(browser, "signs", "thin")
    assert yard.request(1)["value"] == ["thin"]
    browser.until("[...document.querySelectorAll('#see [aria-pressed=true]')].length === 2")
    touch(browser, "signs", "lame")
    assert yard.request(2)["value"] == ["lame", "thin"]
    browser.until("[...document.querySelectorAll('#see [aria-pressed=true]')].length === 3")
    touch(browser, "signs", "thin")
    assert yard.request(3)["value"] == ["lame"]


def test_nobody_there_nothing_to_touch(yard: Yard, browser: Browser, animal: Any) -> None:
    yard.show(view("empty", 0.0))
    browser.until("document.querySelector('#see').hidden")


def test_what_is_withheld_and_marked_is_told_large(yard: Yard, browser: Browser) -> None:
    one = weighing(1, 318.5)
    withheld = (
        WithheldFor(product="oral drench", kind="meat", until="2026-12-26"),
        WithheldFor(product="copper", kind="meat", until="2026-12-01"),
        WithheldFor(product="oral drench", kind="export", until=None),
    )
    browser.go(yard.url)
    yard.tell(settled(one).model_copy(update={"withheld": withheld, "may_leave": False}))
    yard.show(
        view(
            "settled", 318.5, 1, weighing=one.weighing, settled_kg=318.5, grade="good", tag=tag(1).id, may_leave=False,
            next="Hold it: withheld until 2026-12-26 for meat (oral drench).", withheld=withheld, marks=("keep back",),
        )
    )  # fmt: skip
    browser.until("document.querySelector('#verdict').innerText === 'Hold it'")
    browser.until("document.querySelector('#give .mark')?.innerText.includes('keep back')")
    told = browser.run("return [...document.querySelectorAll('#give .until')].map((one) => one.innerText)")
    assert [line.replace("\n", " ").split() for line in told] == [
        ["meat", "until", "Dec", "26"],
        ["export", "not", "known", "oral", "drench"],  # one product for both: named once
    ]


def test_who_may_not_go_is_listed_on_the_day_view(yard: Yard, browser: Browser) -> None:
    """Asked with the code; numbers first, then until when and because of what, and the caution."""
    yard.held = [
        {
            "visual": "105", "tag": tag(5).id, "former_tags": [], "until": "2026-12-26",
            "because": [{"product": "oral drench <b>", "given": "2026-11-28", "until": "2026-12-26"}],
        }
    ]  # fmt: skip
    browser.go(f"{yard.url}#job")
    browser.run("localStorage.setItem('code', JSON.stringify('482913067'))")
    browser.until("!document.querySelector('#job').hidden")
    browser.run("document.querySelector('#on').value = '2026-12-01'")
    browser.run("document.querySelector('#may button').click()")
    browser.until("document.querySelectorAll('#held li').length === 1")
    said = browser.text("#held")
    assert "1 withheld for meat on 2026-12-01:" in said
    assert "Ear 105" in said
    assert "oral drench <b>" in said
    assert "local rules decide" in said
    [asked] = [one for one in yard.asked if one["kind"] != "sheets"]  # which the view asks for too, sooner or later
    assert {key: value if key == "export" else str(value) for key, value in asked.items() if key != "id"} == {
        "kind": "withheld",
        "on": "2026-12-01",
        "export": False,
    }
