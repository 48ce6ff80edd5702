"""Whatever a roster, a sheet, a note, a tag or a device brings as text is shown as text, in every view and dialog."""

from typing import Any

from neckyoke.bridge.animal_event import Animal, Mark, WornTag
from neckyoke.bridge.events import DoseSaid, Finding, Question, Treatment, WithheldFor
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import STATION, Yard, settled, tag, view, weighing

NASTY = "<img src=x onerror=\"struck='{}'\">'\"&lt;"
BROUGHT = """
finding choice words product unit remark batch pen note sheet visual detail value said mark should why held places job
site trouble link device outlet broker former mob sex dam own key lasting question reply next
"""
OPEN = "document.querySelector('dialog[open]')"
CLOSE = "[...document.querySelectorAll('dialog[open]')].reverse().forEach((one) => one.close())"
HARM = "return [document.querySelectorAll('img, script:not([src])').length, window.struck ?? null]"


def nasty(where: str) -> str:
    """Return a text that would do harm as markup, and says where it came from."""
    return NASTY.format(where, where)


def _bring(yard: Yard) -> None:
    """Let everything that can bring a text bring one."""
    finding = {"name": nasty("finding"), "kind": "choice", "choices": (nasty("choice"), "fine"), "several": True}
    words = {"name": nasty("words"), "kind": "words"}
    treatments = (
        Treatment(name=nasty("product"), amount=2.0, unit=nasty("unit"), remark=nasty("remark"), batch=nasty("batch"),
                  skipped=True, withheld_until="2026-12-26"),
        Treatment(name=nasty("second"), amount=2.0, unit=nasty("unit")),
    )  # fmt: skip
    more: dict[str, Any] = {
        "pen": nasty("pen"), "notes": (nasty("note"),), "treatments": treatments, "sheet": nasty("sheet"),
        "animal": {"id": "a1", "visual": nasty("visual")}, "details": {nasty("detail"): nasty("value")},
        "findings": (Finding(name=nasty("finding"), value=[nasty("choice")], by="person"),
                     Finding(name=nasty("words"), value=nasty("said"), by="person")),
        "doses_said": (DoseSaid(name=nasty("product"), batch=nasty("batch")),), "marks": (nasty("mark"),),
        "pen_should": nasty("should"), "why": nasty("why"), "job": "j1", "job_number": 1,
        "withheld": (WithheldFor(product=nasty("held"), kind="meat", until=None),),
    }  # fmt: skip
    station = yard.status["stations"][STATION]
    station |= {
        "sheet": nasty("sheet"), "treatments": [nasty("product")], "findings": (finding, words),
        "sheets": [nasty("file")],
        "places": [{"pen": nasty("places"), "heads": 9, "left": 3, "to_come": 2, "shortfall": 0, "cut_kg": 300.0,
                    "heaviest": True}],
        "jobs": [{"job": "j1", "turn": 1, "text": nasty("job"), "state": "open", "sheet": nasty("sheet"),
                  "begun": "2026-11-24T00:00:00Z"}],
    }  # fmt: skip
    yard.status["site"] = nasty("site")
    yard.status["troubles"] = [{"about": "zero-off", "text": nasty("trouble"), "station": STATION}]
    yard.status["links"][nasty("link")] = {"state": "lost", "text": nasty("device"), "stations": [STATION]}
    yard.status["outlets"][nasty("outlet")] = {"kind": "mqtt", "trouble": {"x": nasty("broker")}}
    yard.book.fold(
        Animal(
            animal="a1", visuals=(nasty("former"), nasty("visual")), tags=(WornTag(id=tag(9).id),), mob=nasty("mob"),
            sex=nasty("sex"), dam=nasty("dam"), roster_id=nasty("own"), lasting={nasty("key"): nasty("lasting")},
            marks=(Mark(text=nasty("mark")),),
        )
    )  # fmt: skip
    yard.held = [
        {"visual": nasty("visual"), "tag": None, "until": None, "because": [{"product": nasty("held"), "given": None}]}
    ]
    one = weighing(1, 318.5, **more)
    yard.tell(one)
    asked = Question(id="1a2b3c4d", text=nasty("question"), choices=(nasty("reply"), "no"))
    same = {name: more[name] for name in ("findings", "marks", "withheld", "job", "job_number")}
    yard.tell(settled(one).model_copy(update=same))
    shown: dict[str, Any] = {
        "weighing": one.weighing, "tag": tag(1).id, "next": nasty("next"), "question": asked,
        "marks": (nasty("mark"),), "visual": nasty("visual"), "missing": (nasty("missing"),),
        "withheld": more["withheld"],
    }  # fmt: skip
    yard.show(view("settled", 318.5, 1, settled_kg=318.5, grade="good", may_leave=False, **shown))


def test_no_text_becomes_markup_anywhere(yard: Yard, browser: Browser) -> None:
    _bring(yard)
    browser.go(yard.url)
    browser.until("document.querySelectorAll('#see fieldset').length === 2")
    seen = browser.run("return document.body.textContent")

    def unharmed(where: str) -> None:
        assert browser.run(HARM) == [0, None], where

    unharmed("now")
    for act in ("note", "number", "skip", "void"):
        browser.run("document.querySelector(`[data-act=${arguments[0]}]`).click()", act)
        browser.until(OPEN)
        unharmed(act)
        browser.run(CLOSE)
    browser.press("fine", "#see")
    browser.until("document.querySelector('#toast button')")
    unharmed("toast")
    browser.run("document.querySelector('#rows button').click()")
    browser.until("document.querySelector('#history tbody') && document.querySelector('#changes li')")
    seen += browser.run("return document.querySelector('#card').textContent")
    unharmed("card")
    browser.press("Given", "#cardacts")
    browser.until("document.querySelector('dialog.made')")
    unharmed("given")
    browser.run(CLOSE)
    for place, ready in (
        ("#job", "document.querySelector('#tally table') && document.querySelector('#mob .name')"),
        ("#animals", "document.querySelector('#herd a')"),
        ("#animals/a1", "document.querySelector('#story .facts')"),
        ("#box", "document.querySelectorAll('#wires li').length > 3"),
    ):
        browser.run("location.hash = arguments[0]", place)
        browser.until(ready)
        seen += browser.run("return document.body.textContent")
        unharmed(place)
        assert browser.run("return document.documentElement.scrollWidth") == 390, place
    assert [where for where in BROUGHT.split() if nasty(where) not in seen] == [], "they were shown, as text"
