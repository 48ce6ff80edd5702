"""What the desk for sheets answers, word by word, and how much of it can be taken back."""

import asyncio
import base64
import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request
from neckyoke.bridge.asking.sheet_requests import SHELF_REQUESTS
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.making.sheet_desk import TAKEN_BACK_MOST, SheetDesk
from neckyoke.bridge.job.making.shelf import Shelf

ROWS = b"tag,visual\n,47\n,48\n"
FULL = """title = "Weaning"
mob = "north"
roster = "weaning.csv"
[[treatments]]
name = "drench"
ml = 5
withhold_days = 14
[[findings]]
name = "lame"
yes_no = true
[[draft]]
pen = "heavy"
at_least_kg = 300
[[draft]]
pen = "rest"
"""


@pytest.fixture
def desk(tmp_path: Path) -> SheetDesk:
    links, stations = {"indicator": {"url": "tcp://127.0.0.1:1"}}, {"crush": {"scale": "indicator"}}
    config = Config.model_validate({"site": "larkmoor", "state": "state", "links": links, "stations": stations})
    (tmp_path / "state" / "sheets").mkdir(parents=True)
    used = {"Weaning": datetime(2026, 11, 20, 9, tzinfo=UTC), "Yards": datetime(2026, 11, 21, 9, tzinfo=UTC)}

    async def nobody(_: object) -> None:
        return None

    shelf = Shelf(config.model_copy(update={"folder": tmp_path}))
    return SheetDesk(shelf, lambda: date(2026, 11, 24), lambda: used, nobody)


def ask(desk: SheetDesk, kind: str, **said: Any) -> Answer:
    request = parse_request({"kind": kind, "id": "r1", **said})
    assert not isinstance(request, Refusal), request.text
    assert isinstance(request, SHELF_REQUESTS)
    return asyncio.run(desk.answer(request))


def told(answer: Answer) -> dict[str, Any]:
    return dict(answer.sheet or {})


def test_the_list_says_of_each_sheet_what_is_in_it_and_begins_with_what_was_used_last(
    desk: SheetDesk, tmp_path: Path
) -> None:
    own = tmp_path / "state" / "sheets"
    (own / "weaning.toml").write_text(FULL)
    (own / "weaning.csv").write_bytes(ROWS)
    texts = {
        "yards": 'title = "Yards"\n',
        "old": 'title = "Old"\n',
        "new": 'title = "New"\n',
        "odd": 'title = "Odd"\nx = 1\n',
    }
    for at, (name, text) in enumerate(texts.items()):
        (tmp_path / f"{name}.toml").write_text(text)
        os.utime(tmp_path / f"{name}.toml", (1000.0 + at, 1000.0 + at))
    answer = ask(desk, "sheets")
    assert (answer.id, answer.done, answer.text) == ("r1", True, "5 sheets.")
    listed = told(answer)["sheets"]
    assert [one["title"] for one in listed] == ["Yards", "Weaning", 'title = "Odd"', "New", "Old"]
    one = listed[1]
    changed = (own / "weaning.toml").stat().st_mtime_ns
    digest = one.pop("digest")
    assert one == {
        "file": "sheets/weaning.toml",
        "title": "Weaning",
        "mob": "north",
        "treatments": ["drench"],
        "pens": 2,
        "findings": 1,
        "roster": "weaning.csv",
        "used": "2026-11-20T09:00:00+00:00",
        "changed": f"{changed:020d}",
        "problem": None,
    }
    assert digest == told(ask(desk, "sheet-open", file="sheets/weaning.toml"))["digest"]
    odd = listed[2]
    assert "x" in odd["problem"]
    assert (odd["mob"], odd["treatments"], odd["pens"], odd["findings"], odd["used"]) == (None, [], 0, 0, None)


@pytest.mark.parametrize(
    ("text", "form", "problems", "animals"),
    [
        (FULL, {"title": "Weaning", "mob": "north"}, [], 3),  # the tag is no tag, the number is one
        ('title = "Weaning"\n', {"title": "Weaning"}, [], None),
        ('title = "x"\nleaving = "moon"\n', {"title": "x", "leaving": "moon"}, ["leaving"], "-"),
    ],
)
def test_a_sheet_opened_is_its_form_and_what_is_wrong_with_it(
    desk: SheetDesk, tmp_path: Path, text: str, form: dict[str, Any], problems: list[str], animals: object
) -> None:
    own = tmp_path / "state" / "sheets"
    (own / "weaning.toml").write_text(text)
    (own / "weaning.csv").write_bytes(ROWS + b"12,50\n")
    answer = ask(desk, "sheet-open", file="sheets/weaning.toml")
    opened = told(answer)
    assert (answer.done, answer.text, opened["file"]) == (True, "", "sheets/weaning.toml")
    assert form.items() <= opened["form"].items()
    assert [part in one["text"] for part, one in zip(problems, opened["problems"], strict=True)] == [True] * len(
        problems
    )
    assert opened.get("animals", "-") == animals
    assert ["row 4" in one["text"] for one in opened["doubts"]] == ([True] if animals == 3 else [])


def test_a_sheet_saved_is_told_with_what_it_would_do_and_the_caution(desk: SheetDesk) -> None:
    roster = base64.b64encode(ROWS).decode()
    tried = ask(desk, "sheet-try", text=FULL, roster=roster, roster_name="x.csv")
    assert tried.text == "'Weaning': 1 treatment, 2 pens, 2 animals.  Good to use."
    assert (tried.done, tried.asked) == (True, None)
    saved = ask(desk, "sheet-save", text=FULL, roster=roster, roster_name="x.csv")
    assert (saved.done, saved.text, saved.asked) == (True, "Saved.  It has 1 treatment, 2 pens, 2 animals.", "sheet-r1")
    for sheet in (told(tried), told(saved)):
        assert (sheet["file"], sheet["summary"]) == ("sheets/weaning.toml", "1 treatment, 2 pens, 2 animals")
        assert (sheet["problems"], sheet["doubts"], sheet["caution"]) == ([], [], cautions.DOSES)
        assert sheet["foreseen"]["expected"] == 2
        assert sheet["form"]["mob"] == "north"
    assert told(ask(desk, "sheet-try", text='title = "x"\n'))["foreseen"]["expected"] is None


def test_what_cannot_be_done_is_told_for_the_page_too(desk: SheetDesk) -> None:
    gone = ask(desk, "sheet-open", file="sheets/gone.toml")
    said = "there is no such sheet any more.  Look at the list again."
    assert (gone.id, gone.done, gone.text, told(gone)) == ("r1", False, said, {"problems": [{"text": said}]})
    wrong = ask(desk, "sheet-save", text='title = "x"\nleaving = "moon"\n[limits]\nfill_percent = -1\n')
    assert not wrong.done
    assert wrong.text == "\n".join(one["text"] for one in told(wrong)["problems"])
    assert len(told(wrong)["problems"]) == 2
    assert wrong.asked is None
    assert "summary" not in told(wrong)


def test_the_last_forty_things_written_can_be_taken_back_and_each_once(desk: SheetDesk) -> None:
    assert TAKEN_BACK_MOST == 40
    asked = []
    for at in range(TAKEN_BACK_MOST + 1):
        saved = ask(desk, "sheet-save", text=f'title = "s{at}"\n', id=f"w{at}")
        assert saved.asked == f"sheet-w{at}"
        asked.append(saved.asked)
    assert [desk.wrote(one) for one in (asked[0], asked[1], asked[-1], None, "nobody")] == [
        False,
        True,
        True,
        False,
        False,
    ]
    back = asyncio.run(desk.undo(asked[1]))
    assert (back.done, back.text) == (True, "Taken back: the sheet is as it was before.")
    assert not desk.wrote(asked[1])


def test_what_was_changed_since_is_not_taken_back(desk: SheetDesk, tmp_path: Path) -> None:
    saved = ask(desk, "sheet-save", text='title = "x"\n')
    path = tmp_path / "state" / "sheets" / "x.toml"
    path.write_text('title = "x"\nmob = "by hand"\n')
    assert saved.asked is not None
    back = asyncio.run(desk.undo(saved.asked))
    assert not back.done
    assert "changed meanwhile" in back.text
    assert "by hand" in path.read_text()
    assert desk.wrote(saved.asked)
