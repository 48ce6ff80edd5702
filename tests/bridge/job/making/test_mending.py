"""A sheet tried: what is made of what was sent, which roster it has, and how a problem is said."""

import base64
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.asking.sheet_requests import TrySheet
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.kept import Given
from neckyoke.bridge.job.making.mending import Tried, check, spelled, tried
from neckyoke.bridge.job.making.shelf import CHANGED, OPEN_AGAIN, Shelf

TODAY = date(2026, 11, 24)
SHEET = b'# by hand\ntitle = "Weaning"\nroster = "weaning.csv"\n'
ROWS, OTHERS = b"tag,visual\n,47\n", b"tag,visual\n,48\n,49\n"
FILE = "sheets/weaning.toml"


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    links = {"indicator": {"url": "tcp://127.0.0.1:1"}}
    stations = {"crush": {"scale": "indicator"}}
    made = Config.model_validate({"site": "larkmoor", "state": "state", "links": links, "stations": stations})
    own = tmp_path / "state" / "sheets"
    own.mkdir(parents=True)
    (own / "weaning.toml").write_bytes(SHEET)
    (own / "weaning.csv").write_bytes(ROWS)
    return Shelf(made.model_copy(update={"folder": tmp_path}))


WAS = Given(SHEET, ROWS, "weaning.csv").digest


def attempt(shelf: Shelf, **said: Any) -> Tried:
    if "roster" in said:
        said["roster"] = base64.b64encode(said["roster"]).decode()
    return tried(shelf, TrySheet(**said), TODAY)


@pytest.mark.parametrize(
    ("said", "file", "sheet", "roster", "roster_name"),
    [
        # changed by form: what a person wrote stays, with its roster
        (
            {"file": FILE, "was": WAS, "form": {"title": "Weaning", "roster": "weaning.csv", "mob": "north"}},
            FILE,
            SHEET + b'mob = "north"\n',
            ROWS,
            "weaning.csv",
        ),
        # the form names no roster any more
        (
            {"file": FILE, "was": WAS, "form": {"title": "Weaning"}},
            FILE,
            b'# by hand\ntitle = "Weaning"\n',
            None,
            "roster.csv",
        ),
        # another roster for it, in a place that is free
        (
            {
                "file": FILE,
                "was": WAS,
                "form": {"title": "Weaning", "roster": "weaning.csv"},
                "roster": OTHERS,
                "roster_name": "a.csv",
            },
            FILE,
            b'# by hand\ntitle = "Weaning"\nroster = "weaning-2.csv"\n',
            OTHERS,
            "weaning-2.csv",
        ),
        # a copy: a name and a roster of its own
        (
            {"copy_of": FILE, "form": {"title": "South", "roster": "weaning.csv"}},
            "sheets/south.toml",
            b'# by hand\ntitle = "South"\nroster = "south.csv"\n',
            ROWS,
            "south.csv",
        ),
        # by text
        (
            {"file": FILE, "was": WAS, "text": 'title = "Weaning"\n'},
            FILE,
            b'title = "Weaning"\n',
            None,
            "roster.csv",
        ),
        ({"text": 'title = "New"  # mine\n'}, "sheets/new.toml", b'title = "New"  # mine\n', None, "roster.csv"),
    ],
)
def test_a_sheet_is_made_of_what_was_sent_and_what_lay_there(
    shelf: Shelf, said: dict[str, Any], file: str, sheet: bytes, roster: bytes | None, roster_name: str
) -> None:
    made = attempt(shelf, **said)
    assert (made.file, made.given, made.was) == (file, Given(sheet, roster, roster_name), said.get("was"))
    assert made.problems == ()
    assert made.job is not None
    assert (made.job.roster is not None) == (roster is not None)
    if roster is not None:
        assert len(made.job.roster or ()) == roster.count(b"\n") - 1


def test_what_is_not_good_to_use_says_why_and_has_no_job(shelf: Shelf) -> None:
    made = attempt(shelf, text='title = "New"\nleaving = "moon"\n')
    assert made.job is None
    assert len(made.problems) == 1
    assert (made.problems[0].file, made.given.sheet) == ("new.toml", b'title = "New"\nleaving = "moon"\n')


@pytest.mark.parametrize(
    ("said", "file", "told"),
    [
        ({"form": {"titel": "x"}}, "new sheet", "unknown key 'titel'"),
        ({"file": FILE, "was": WAS, "form": {"titel": "x"}}, FILE, "unknown key 'titel'"),
        ({"text": "title ="}, "new sheet", "Invalid value"),
        ({"text": "title = " + "[" * 100_000}, "new sheet", ""),
        ({"text": "titel = 1"}, "new sheet", "unknown key 'titel'"),
        (
            {"file": FILE, "was": "0" * 12, "form": {"title": "Weaning", "mob": "north"}},
            FILE,
            f"{CHANGED} {OPEN_AGAIN}",
        ),
        ({"copy_of": "sheets/gone.toml", "form": {"title": "x"}}, "sheets/gone.toml", "no such sheet any more"),
    ],
)
def test_what_cannot_be_tried_is_refused_by_name(shelf: Shelf, said: dict[str, Any], file: str, told: str) -> None:
    with pytest.raises(ConfigError) as error:
        attempt(shelf, **said)
    (problem,) = error.value.problems
    assert (problem.file, problem.where) == (file, "sheet")
    assert told in f"{problem.what} {problem.hint}"
    assert problem.what


def test_who_opened_an_older_one_may_still_say_what_stands_there_now(shelf: Shelf) -> None:
    made = attempt(shelf, file=FILE, was="0" * 12, form={"title": "Weaning", "roster": "weaning.csv"})
    assert made.job is not None


def test_a_sheet_is_checked_by_its_own_name_and_its_roster_by_its_own(tmp_path: Path) -> None:
    rostered = b'title = "Weaning"\nroster = "mine.csv"\n'
    job = check(Given(rostered, ROWS + b"12,50\n", "mine.csv"), TODAY, "weaning.toml")
    assert job.sheet.title == "Weaning"
    assert {doubt.file for doubt in job.doubts} == {"mine.csv"}
    with pytest.raises(ConfigError) as error:
        check(Given(b'title = "Weaning"\nleaving = "moon"\n', None), TODAY, "weaning.toml")
    assert [problem.file for problem in error.value.problems] == ["weaning.toml"]
    with pytest.raises(ConfigError, match=r"mine\.XLSX: file: is no \.xlsx"):
        check(Given(rostered.replace(b"csv", b"xlsx"), ROWS, "mine.XLSX"), TODAY, "weaning.toml")


TEXT = 'title = "x"\n[[treatments]]\nname = "drench"\nml = 1\n[[treatments]]\nname = "vaccine"\n'


@pytest.mark.parametrize(
    ("where", "what", "hint", "said"),
    [
        ("line 6, ml", "is missing", "Say it", {"text": "ml: is missing.  Say it", "part": "treatments", "at": 1}),
        ("line 4, ml", "is odd.", "", {"text": "ml: is odd.", "part": "treatments", "at": 0}),
        ("line 1", "is odd?", "", {"text": "is odd?"}),
        ("line 12", "is odd", "", {"text": "is odd."}),
        ("sheet", "is odd", "", {"text": "is odd."}),
        ("file", "is odd", "", {"text": "is odd."}),
        ("", "is odd", "", {"text": "is odd."}),
        ("row 4", "is odd", "", {"text": "row 4: is odd."}),
    ],
)  # fmt: skip
def test_a_problem_is_said_with_the_table_that_it_is_about(
    where: str, what: str, hint: str, said: dict[str, Any]
) -> None:
    assert spelled(Problem(file="x.toml", where=where, what=what, hint=hint), TEXT) == said
