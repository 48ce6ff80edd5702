"""What is done by touch goes to the animal that is meant, is seen at once, and can be taken back."""

from typing import Any

import pytest

from neckyoke.bridge.events import Flag, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import STATION, Yard, tag, view, weighing

DRENCH = (Treatment(name="oral drench", dose_ml=35.0),)
OPEN = "document.querySelector('dialog[open]')"


def note(browser: Browser, text: str = "lame") -> None:
    """Note something by one of the ready phrases: two touches."""
    browser.click("[data-act=note]")
    browser.until(OPEN)
    browser.press(text, "dialog[open]")


def test_while_only_the_front_feet_are_on_the_one_stepping_on_is_meant(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    yard.show(view("arriving", 90.0, moving=True))
    browser.go(yard.url)
    browser.until("document.querySelector('#verdict').innerText === 'Wait'")

    note(browser)
    browser.until(f"{OPEN}.innerText.includes('For the animal that is stepping on.')")
    assert "No. 1, 999 000 000 000 001, has left" in browser.text("dialog[open]")
    assert yard.asked == [], "it waits until the box knows the animal"
    two = weighing(2, 305.0)
    yard.tell(two)  # so that the stand-in knows it
    yard.show(view("standing", 305.0, 2, weighing=two.weighing))

    told = yard.request(1)
    assert (told["kind"], told["weighing"], told["text"]) == ("note", two.weighing, "lame")


def test_one_that_steps_off_again_is_nobody_and_the_one_before_is_not_changed(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    yard.show(view("arriving", 90.0, moving=True))
    browser.go(yard.url)
    browser.until("document.querySelector('#verdict').innerText === 'Wait'")
    note(browser)
    browser.until(f"{OPEN}.innerText.includes('Sending')")

    yard.show(view("empty", 0.0))

    browser.until(f"{OPEN}.innerText.includes('It stepped off again')")
    assert yard.asked == []


def test_with_nobody_there_the_last_one_is_named(yard: Yard, browser: Browser) -> None:
    one = weighing(7, 318.5, animal={"visual": "215"}, job="j", job_number=3)
    yard.tell(one)
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    browser.until("document.querySelector('#verdict').innerText === 'Next animal'")

    note(browser)

    assert yard.request(1)["weighing"] == one.weighing
    browser.click("[data-act=note]")
    browser.until(f"{OPEN}.innerText.includes('For the last one, no. 3, ear 215, which has left.')")


def test_a_change_can_be_taken_back_for_ten_seconds_and_later_from_the_card(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5, treatments=DRENCH))
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length === 1")
    note(browser)
    browser.until("document.querySelector('#toast button')?.innerText === 'Undo'")
    asked = yard.asked[0]["id"]
    browser.click("#toast button")
    assert yard.request(2) == {"kind": "undo", "asked": asked, "station": STATION}
    browser.until("document.querySelector('#toast').innerText.includes('so be it')")

    browser.click("#rows button")
    browser.until("document.querySelector('#card').open")
    browser.run(
        "[...document.querySelectorAll('#cardacts button')].find((one) => one.innerText === 'Strike out').click()"
    )
    browser.until("document.querySelector('dialog.made [name=reason]')")
    browser.click("dialog.made [type=submit]")
    browser.until("document.querySelector('#changes li')?.innerText.includes('Done for no. 1')")
    browser.until("document.querySelector('#card #toast button')")  # over the card, not behind it
    assert browser.run("return document.querySelectorAll('#changes li').length") == 1, "the note was taken back"
    assert "struck" in browser.text("#card").lower() or "void" in browser.text("#card").lower()
    browser.click("#changes button")
    assert yard.request(4)["kind"] == "undo"
    browser.until("document.querySelectorAll('#changes li').length === 0")


def test_after_striking_out_the_list_and_the_card_are_drawn_anew(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    browser.go(f"{yard.url}#job")
    browser.until("document.querySelectorAll('#mob button').length === 1")
    browser.run("document.querySelector('#mob button').click()")
    browser.until("document.querySelector('#card').open")
    browser.run(
        "[...document.querySelectorAll('#cardacts button')].find((one) => one.innerText === 'Strike out').click()"
    )
    browser.until("document.querySelector('dialog.made [name=reason]')")
    browser.click("dialog.made [type=submit]")

    browser.until("document.querySelector('#mob li.struck') && document.querySelector('#rows li.struck')")
    browser.until("document.querySelector('#card .sentences li')")
    strikes = "[...document.querySelectorAll('#cardacts button')].some((one) => one.innerText === 'Strike out')"
    assert not browser.run(f"return {strikes}")


def test_an_untagged_animal_named_by_ear_has_its_name_in_the_lists(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5, tag=None, flags=(Flag.NO_TAG,), animal={"visual": "231"}))
    browser.go(f"{yard.url}#job")
    browser.until("document.querySelector('#mob .name')?.innerText === 'ear 231'")
    assert browser.run("return document.querySelector('#rows .name').textContent") == "ear 231"


def test_numbers_are_typed_on_the_keyboard_of_figures_and_letters_are_a_touch_away(
    yard: Yard, browser: Browser
) -> None:
    yard.tell(weighing(1, 318.5))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length === 1")
    browser.click("[data-act=number]")
    assert browser.run("return document.querySelector('[name=visual]').inputMode") == "numeric"
    browser.click("dialog[open] .letters")
    assert browser.run("return document.querySelector('[name=visual]').inputMode") == "text"
    browser.run("document.querySelector('dialog[open]').close()")
    browser.run("location.hash = '#animals'")
    browser.until("!document.querySelector('#animals').hidden")
    assert browser.run("return document.querySelector('#findherd').inputMode") == "numeric"


def test_a_tag_is_typed_and_a_dose_mended_from_the_card(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5, treatments=DRENCH))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length === 1")
    fills: tuple[tuple[str, str, str, dict[str, Any]], ...] = (
        ("Tag", "tag", "999 000000000007", {"kind": "identify", "tag": "999 000000000007"}),
        ("Dose", "amount", "32,5", {"kind": "dose", "treatment": "oral drench", "amount": 32.5}),
    )
    for count, (act, field, text, asked) in enumerate(fills, 1):
        browser.run("document.querySelector('#rows button').click()")
        browser.until("document.querySelector('#card').open")
        browser.run(
            "[...document.querySelectorAll('#cardacts button')].find((one) => one.innerText === arguments[0]).click()",
            act,
        )
        browser.until("document.querySelector('dialog.made')")
        browser.type(f"dialog.made [name={field}]", text)
        browser.run("document.querySelector('dialog.made form').requestSubmit()")
        told = yard.request(count)
        assert {key: told[key] for key in asked} == asked
        assert told["weighing"] == weighing(1, 318.5).weighing
        browser.until("!document.querySelector('dialog.made')")
        browser.run("document.querySelectorAll('dialog[open]').forEach((one) => one.close())")


def test_two_phones_change_one_animal_at_once_and_neither_loses_silently(yard: Yard, browser: Browser) -> None:
    """Both speak of the same weighing; each word is a revision of its own, and both phones show both."""
    yard.tell(weighing(1, 318.5, tag=tag(1)))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length === 1")
    browser.click("[data-act=note]")
    yard.wait(yard.ask({"kind": "note", "id": "other", "station": STATION, "number": 1, "text": "off feed"}))
    browser.type("dialog[open] textarea", "lame")
    browser.click("dialog[open] [type=submit]")
    browser.until("document.querySelector('#rows').textContent.includes('lame')")
    assert "off feed" in browser.run("return document.querySelector('#rows').textContent")


def test_where_no_answer_comes_the_page_says_that_it_may_be_done_and_asks_for_the_same_once(
    yard: Yard, browser: Browser
) -> None:
    """The request reaches the box, its answer is lost on the way, and a person presses again."""
    yard.tell(weighing(1, 318.5))
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#rows li').length === 1")
    browser.run(
        "window.honest = window.fetch;"
        "window.fetch = async (...all) => { await honest(...all); throw new DOMException('late', 'TimeoutError'); }"
    )
    note(browser)
    browser.until(f"{OPEN}.innerText.includes('No answer came. It may be done all the same')")
    assert yard.request(1)["text"] == "lame"

    browser.run("window.fetch = window.honest")
    browser.press("lame", "dialog[open]")
    browser.until("document.querySelector('#toast button')?.innerText === 'Undo'")

    assert len(yard.asked) == 2
    assert yard.asked[1] == yard.asked[0], "under the same id, so that the box does it once"


@pytest.mark.parametrize(("text", "given"), [("It was given", True), ("Not given", False)])
def test_who_strikes_one_out_says_what_became_of_its_dose(
    yard: Yard, browser: Browser, text: str, *, given: bool
) -> None:
    yard.tell(weighing(1, 318.5, treatments=DRENCH))
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    browser.run("localStorage.setItem('code', JSON.stringify('482913067'))")
    browser.until("document.querySelectorAll('#rows li').length === 1")
    browser.click("#rows button")
    browser.press("Strike out", "#cardacts")
    browser.until("document.querySelector('dialog.made [name=reason]')")
    assert "Was it given oral drench?" in browser.text("dialog.made")
    browser.press(text, "dialog.made")
    said = yard.request(1)
    assert (said["kind"], said["given"]) == ("void", given)
