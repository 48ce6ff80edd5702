"""What a person sees and does on the page, in a real browser."""

import os
from pathlib import Path
from typing import Any

from neckyoke.bridge.events import Flag, LinkState, Treatment
from tests.bridge.page.browser import Browser
from tests.bridge.page.cable import Cable
from tests.bridge.page.touching import listed, verdict
from tests.bridge.page.yard import Yard, a_mob, followed, settled, tag, view, weighing
from tests.support.daemon import until

PICTURES = Path(__file__).parent / "pictures"
DRENCH = (Treatment(name="oral drench", dose_ml=35.0), Treatment(name="clostridial", dose_ml=2.0))


def numbers(browser: Browser) -> list[int]:
    """Return the numbers of the weighings that are listed."""
    found: list[int] = browser.run(
        "return [...document.querySelectorAll('#rows .no')].map((one) => Number(one.textContent))"
    )
    return found


def test_an_animal_from_stepping_on_to_stepping_off(yard: Yard, browser: Browser) -> None:
    one = weighing(1, 318.5, pen="middle", treatments=DRENCH, animal={"visual": "215"})
    yard.show(view("empty", 0.0))
    browser.go(yard.url)
    verdict(browser, "Next animal")

    yard.show(view("standing", 312.5, 1, next="Wait: not settled yet."))
    verdict(browser, "Wait")
    assert browser.text("#kg") == "312.5"
    assert browser.text("#next") == "Wait: not settled yet."

    yard.tell(settled(one))
    verdict(browser, "Let it go")  # by the event alone: it comes before the next live view
    yard.show(view("settled", 317.0, 1, settled_kg=318.5, grade="good", tag=tag(1).id, may_leave=True))
    browser.until("document.querySelector('#give').innerText.includes('oral drench')")
    assert browser.text("#kg") == "318.5"  # the settled one, though the animal shifts
    assert browser.text("#sure") == "settled, good"
    assert browser.text("#who") == "Ear 215"
    assert browser.text("#pen") == "Pen middle"
    assert "35 mL" in browser.text("#give")
    assert "Let it go" in browser.run("return document.querySelector('#spoken').textContent")

    yard.tell(one)
    yard.show(view("empty", 0.5))
    verdict(browser, "Next animal")
    listed(browser, 1)
    assert "318.5" in browser.text("#rows li")
    assert browser.text("#who") == "✓ No. 1 is recorded"
    assert browser.text("#give") == ""


def test_a_phone_that_is_opened_while_an_animal_stands_there_shows_its_doses(yard: Yard, browser: Browser) -> None:
    one = weighing(1, 318.5, pen="middle", treatments=DRENCH, animal={"visual": "215"})
    yard.tell(
        settled(one), LinkState(link="panel", state="lost", text="unplugged"), LinkState(link="panel", state="up")
    )
    yard.show(view("settled", 317.0, 1, settled_kg=318.5, grade="good", tag=tag(1).id, may_leave=True))
    browser.go(yard.url)
    browser.until("document.querySelector('#give').innerText.includes('oral drench')")
    assert browser.text("#pen") == "Pen middle"
    assert browser.run("return document.querySelector('#trouble').hidden"), "what is over is not told again"


def test_an_animal_without_a_tag_is_held(yard: Yard, browser: Browser) -> None:
    one = weighing(1, 342.0, tag=None, flags=(Flag.NO_TAG,))
    browser.go(yard.url)
    yard.tell(settled(one, may_leave=False))
    yard.show(view("settled", 342.0, 1, settled_kg=342.0, grade="good", missing=["tag"], next="Hold it: tag missing."))

    verdict(browser, "Hold it")
    assert browser.text("#who") == "Tag missing"
    browser.until("document.querySelector('#next').innerText === 'Hold it: tag missing.'")
    yard.tell(one)
    browser.until("document.querySelector('#rows .flag')?.innerText === 'no tag'")


def test_what_is_typed_is_shown_as_it_was_typed(yard: Yard, browser: Browser) -> None:
    nasty = "<img src=x onerror=alert(1)><b>lame</b>"
    yard.tell(weighing(1, 318.5, notes=(nasty,), pen=nasty, animal={"visual": nasty}, details={nasty: nasty}))
    browser.go(yard.url)
    listed(browser, 1)
    browser.click("#rows button")

    assert nasty in browser.text("#card")
    assert browser.run("return document.querySelectorAll('img').length") == 0


def test_a_note_that_turns_writing_round_turns_only_itself(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5, notes=("\u202elame", "near hind")))
    browser.go(yard.url)
    listed(browser, 1)

    second = browser.run(
        "const all = document.createTreeWalker(document.querySelector('.notes'), NodeFilter.SHOW_TEXT);"
        "const right = (word) => { for (all.currentNode = all.root; all.nextNode();) {"
        "  const at = all.currentNode.data.indexOf(word); if (at < 0) continue;"
        "  const range = document.createRange(); range.setStart(all.currentNode, at);"
        "  range.setEnd(all.currentNode, at + word.length); return range.getBoundingClientRect().left } };"
        "return [right('lame'), right('near')]"
    )
    assert second[0] < second[1]


def test_a_page_that_was_answered_never_says_that_it_was_not(yard: Yard, browser: Browser) -> None:
    watch = """
        window.said = [];
        new MutationObserver(() => said.push(document.querySelector('#verdict')?.textContent))
          .observe(document, {subtree: true, childList: true, characterData: true});
    """
    yard.show(view("empty", 0.0))
    made = browser.cdp("Page.addScriptToEvaluateOnNewDocument", source=watch)

    browser.go(yard.url)

    verdict(browser, "Next animal")
    browser.cdp("Page.removeScriptToEvaluateOnNewDocument", identifier=made["identifier"])
    assert "No word from the box" not in browser.run("return said")


def test_a_request_whose_answer_was_lost_may_be_sent_again_and_is_done_once(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5))
    browser.go(yard.url)
    listed(browser, 1)
    browser.click("[data-act=note]")
    browser.type("dialog[open] textarea", "lame, near hind")
    browser.run(
        "const real = window.fetch;"
        "window.fetch = async (...all) => { await real(...all); window.fetch = real; throw new TypeError('lost'); };"
    )
    browser.click("dialog[open] [type=submit]")
    browser.until("document.querySelector('dialog[open] .said').innerText.includes('done only once')")
    browser.click("dialog[open] [type=submit]")
    browser.until("document.querySelector('dialog[open]') === null")

    assert len(yard.asked) == 2
    assert len({one["id"] for one in yard.asked}) == 1


def _asked(browser: Browser, yard: Yard, act: str, fill: str = "") -> dict[str, Any]:
    """Press a button, fill its form in, send it, and return what the box was asked."""
    before = len(yard.asked)
    browser.click(f"[data-act={act}]")
    browser.until("document.querySelector('dialog[open]')")
    if fill:
        browser.run(fill)
    browser.click("dialog[open] [type=submit]")
    said = "document.querySelector('dialog[open] .said')?.innerText.length > 9"  # longer than while it is sent
    browser.until(f"!document.querySelector('dialog[open]') || {said}")
    assert len(yard.asked) == before + 1
    return {name: value for name, value in yard.asked[-1].items() if name not in {"id", "station"}}


def test_everything_that_can_be_asked_is_one_request_about_the_right_animal(yard: Yard, browser: Browser) -> None:
    yard.tell(weighing(1, 318.5, treatments=DRENCH), weighing(2, 300.0, treatments=DRENCH))
    yard.show(view("standing", 305.0, 3))
    browser.go(yard.url)
    listed(browser, 2)
    yard.tell(weighing(3, 305.0))  # so that the stand-in knows it
    verdict(browser, "Wait")

    ear = "document.querySelector('dialog[open] [name=visual]').value = '231'"
    assert _asked(browser, yard, "number", ear) == {"kind": "identify", "number": 3, "visual": "231"}
    assert _asked(browser, yard, "skip") == {
        "kind": "skip",
        "number": 3,
        "treatment": "oral drench",
        "given": False,
    }
    assert _asked(browser, yard, "void") == {"kind": "void", "number": 3, "reason": ""}
    yard.show(view("empty", 0.0))
    verdict(browser, "Next animal")
    last = weighing(3, 305.0).weighing
    assert _asked(browser, yard, "void") == {"kind": "void", "weighing": last, "reason": ""}  # nobody stands: the last

    browser.run("location.hash = '#box'")
    browser.click("[data-act=readAgain]")
    until(lambda: yard.asked[-1]["kind"] == "sheet", "the sheet to be read again")
    assert _asked(browser, yard, "zero") == {"kind": "zero"}
    assert "Something stands on the platform" in browser.text("dialog[open]")  # and why not is said where it was asked
    assert all("409" in one for one in browser.complaints())


def test_one_animals_card_has_its_history(yard: Yard, browser: Browser) -> None:
    same = {"tag": tag(7)}
    yard.tell(weighing(1, 250.0, **same), weighing(2, 260.0), weighing(3, 290.5, flags=(Flag.REPEAT,), **same))
    browser.go(yard.url)
    listed(browser, 3)

    browser.click("#rows button")

    browser.until("document.querySelectorAll('#history tbody tr').length === 2")
    assert "250.0" in browser.text("#history")
    assert "both weighings stand" in browser.text("#card")


def test_the_day_is_counted_up_and_can_be_saved(yard: Yard, browser: Browser) -> None:
    a_mob(yard)
    browser.go(f"{yard.url}#job")
    browser.until("document.querySelectorAll('#tally figure').length === 3")  # the pictures come after the figures

    text = browser.text("#tally")
    assert "animals\n13" in text
    said = browser.run("return document.querySelector('#tally .pictures desc').textContent")
    assert said.startswith("12 animals: from "), "one weight is poor; as on the report"
    assert "By pen" in text
    assert "Look at these\n1 without a tag: number " in text
    assert "1 with a poor weight, in no figure of weight: " in text
    assert "To settle it: weigh again." in text
    csv = browser.saved("#csv")
    assert csv.count("\r\n") == 14  # the heading, and fourteen less the one struck out
    assert "999 000000000001" in csv
    assert browser.saved("#jsonl").count("\n") == 13


def test_each_sound_and_buzz_can_be_muted_and_stays_so(yard: Yard, browser: Browser) -> None:
    browser.go(f"{yard.url}#box")
    browser.until("document.querySelectorAll('#noises input').length === 10")
    browser.click("#noises input[aria-label='Let it go: sound']")

    browser.run("location.reload()")

    browser.until("document.querySelectorAll('#noises input').length === 10")
    on = browser.run("return [...document.querySelectorAll('#noises input')].map((one) => one.checked)")
    assert on == [False, *[True] * 9]
    browser.run("localStorage.clear()")


def test_sounds_are_made_once_the_screen_was_touched(yard: Yard, browser: Browser) -> None:
    browser.go(yard.url)
    browser.run(
        "window.heard = []; const start = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (...at) { heard.push(this.frequency.value); start.apply(this, at) };"
        "navigator.vibrate = (buzz) => heard.push('buzz')"
    )
    browser.click("#wake")
    browser.until("document.querySelector('#wake').hidden")
    followed(yard, browser)
    browser.run("heard.length = 0")

    yard.tell(settled(weighing(1, 318.5)))

    browser.until("heard.includes(660) && heard.includes(990) && heard.includes('buzz')")


def test_a_dead_line_that_nobody_announced_is_noticed_and_dialled_again(yard: Yard, browser: Browser) -> None:
    cable = Cable(yard.port)
    port = yard.wait(cable.lay())
    yard.show(view("standing", 312.5, 1))
    browser.go(f"http://127.0.0.1:{port}/")
    verdict(browser, "Wait")

    yard.wait(cable.freeze())
    yard.tell(weighing(1, 318.5))
    verdict(browser, "No word from the box")
    assert browser.text("#kg") == "—"  # an old weight is never shown as the present one
    yard.wait(cable.thaw())

    verdict(browser, "Wait")
    listed(browser, 1)
    browser.go("about:blank")
    yard.wait(cable.cut())


def test_a_box_that_went_away_and_came_back_is_found_again(yard: Yard, browser: Browser) -> None:
    cable = Cable(yard.port)
    yard.wait(cable.lay())
    browser.go(f"http://127.0.0.1:{cable.port}/")
    verdict(browser, "No reading")
    yard.wait(cable.cut())
    verdict(browser, "No word from the box")
    yard.show(view("empty", 0.0))
    yard.wait(cable.lay())

    verdict(browser, "Next animal")
    browser.go("about:blank")
    yard.wait(cable.cut())


def test_pictures_of_it_are_small_enough_for_the_readme(yard: Yard, browser: Browser, tmp_path: Path) -> None:
    folder = PICTURES if "NECKYOKE_PICTURES" in os.environ else tmp_path  # kept when asked for, and looked at
    folder.mkdir(exist_ok=True)
    a_mob(yard)
    one = weighing(15, 318.5, pen="middle", treatments=DRENCH, animal={"visual": "215"})
    browser.go(yard.url)
    listed(browser, 14)
    browser.click("#wake")
    yard.tell(settled(one))
    yard.show(view("settled", 318.0, 15, tag=tag(15).id, settled_kg=318.5, grade="good", may_leave=True))
    verdict(browser, "Let it go")
    browser.until("document.querySelector('#give').innerText.includes('35 mL')")
    browser.shot(folder / "let-it-go.png")

    yard.tell(one, settled(weighing(16, 342.0, tag=None), may_leave=False))
    hold = "Hold it: tag missing."
    yard.show(view("settled", 342.0, 16, settled_kg=342.0, grade="fair", missing=["tag"], next=hold))
    verdict(browser, "Hold it")
    browser.until("document.querySelector('#next').innerText === arguments[0]", hold)
    listed(browser, 15)
    browser.shot(folder / "hold-it.png")

    browser.run("location.hash = '#job'")
    browser.until("document.querySelector('#tally .pictures svg')")
    browser.run("document.querySelector('#daytitle').scrollIntoView()")
    browser.shot(folder / "day.png")

    for name in ("let-it-go", "hold-it", "day"):
        assert 5_000 < (folder / f"{name}.png").stat().st_size < 80_000
