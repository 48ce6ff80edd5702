"""The job sheet: what it means, and what is said of a wrong one."""

from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.job.doses.dosing import Rule, fraction
from neckyoke.bridge.job.growth import DAM_AGES, DamAge
from neckyoke.bridge.job.load import load_job
from neckyoke.bridge.job.sheet import Sheet, SheetError, doubts, load_sheet
from neckyoke.simulators.day import DRENCH

TODAY = date(2026, 11, 24)
WHOLE = f"""
title = "Backgrounding induction"
mob = "autumn steers"
roster = "roster.csv"
require_tag = true
shrink_percent = 3.0

[details]
sex = "Steer"
breed = "dairy cross"
born = 2026-01-02
"birth group" = 3
"Origin Block" = "east"
{DRENCH}batch = "B7"
expires = 2027-05-31

[[treatments]]
name = "seven in one"
ml = 2
withhold_days = 0

[[draft]]
pen = "heavy"
at_least_kg = 340
[[draft]]
pen = "heifers"
match = {{ sex = ["heifer", "cow"] }}
[[draft]]
pen = "middle"

[limits]
kg_per_day = 2.5

[[dam_ages]]
to_years = 3
male_kg = 10
[[dam_ages]]
"""


def sheet(folder: Path, text: str) -> Sheet:
    path = folder / "sheet.toml"
    path.write_text(text)
    return load_sheet(path)


def test_a_whole_sheet_means_what_it_says(tmp_path: Path) -> None:
    made = sheet(tmp_path, WHOLE)
    assert (made.title, made.mob, made.require_tag) == ("Backgrounding induction", "autumn steers", True)
    assert made.details.as_dict() == {
        "sex": "steer",
        "born": "2026-01-02",
        "breed": "dairy cross",
        "birth_group": 3,
        "origin_block": "east",
    }
    assert made.treatments[0].rule == Rule(
        per_kg=fraction("0.1"), at_least=fraction(10), mark=fraction(5), rounding="up"
    )
    assert made.treatments[1].rule == Rule(fixed=fraction(2))
    assert [pen.pen for pen in made.pens] == ["heavy", "heifers", "middle"]
    assert made.pens[1].match == {"sex": ("heifer", "cow")}
    assert (made.limits.kg_per_day, made.limits.fill_percent) == (2.5, 10)
    assert made.dam_age_rows == (DamAge(3, 0, 10, 0), DamAge(float("inf"), 0, 0, 0))
    assert made.roster_path == tmp_path / "roster.csv"
    assert not list(doubts(made, TODAY))


def test_a_title_is_enough(tmp_path: Path) -> None:
    made = sheet(tmp_path, 'title = "Weaning"')
    assert (made.treatments, made.pens, made.roster_path, made.dam_age_rows) == ((), (), None, DAM_AGES)


def test_the_digest_differs_when_the_meaning_does(tmp_path: Path) -> None:
    first = sheet(tmp_path, WHOLE).digest
    assert sheet(tmp_path, "# a comment\n" + WHOLE).digest == first
    assert sheet(tmp_path, WHOLE.replace("340", "345")).digest != first


DRENCH = 'title = "x"\n[[treatments]]\nname = "drench"\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("mob = 'a'", "the key 'title' is missing"),
        ('title = "x"\ntreatment = 1', "line 2, treatment: unknown key 'treatment'.  Did you mean 'treatments'?"),
        (DRENCH + "ml = -5", "line 4, [treatments] ml: must be more than 0, not -5"),
        (
            DRENCH + "ml_per_kgs = 0.1",
            "line 4, [treatments] ml_per_kgs: unknown key 'ml_per_kgs'.  Did you mean 'ml_per_kg'?",
        ),
        (DRENCH, "treatment 'drench' has none of ml_per_kg, ml_per_step (with step_kg) and ml"),
        (DRENCH + "ml = 1\nml_per_kg = 1", "treatment 'drench' has more than one of"),
        (DRENCH + "ml_per_step = 1", "ml_per_step and step_kg go together"),
        (DRENCH + "ml = 1\nround_to_ml = 1", "a fixed ml takes no"),
        (DRENCH + "ml_per_kg = 0.1\nround = 'sideways'", "must be 'up', 'down' or 'nearest', not 'sideways'"),
        (
            DRENCH + "ml_per_kg = 0.1\nat_least_ml = 11\nat_most_ml = 14\nround_to_ml = 5",
            "no mark of round_to_ml lies between at_least_ml and at_most_ml",
        ),
        (DRENCH + "ml = 1\nwithhold_days = -1", "must be at least 0, not -1"),
        (DRENCH + "ml = 1\nexpires = 'soon'", "[treatments] expires"),
        (DRENCH + "ml = 1\n[[treatments]]\nname = 'Drench '\nml = 2", "two treatments are called"),
        (
            "title = 'x'\n[[draft]]\npen = 'a'\nbelow_kg = 340\n[[draft]]\npen = 'b'\nbelow_kg = 320",
            "no animal ever reaches pen 'b': 'a' before it take all of them",
        ),
        ("title = 'x'\n[[draft]]\npen = 'a'\n[[draft]]\npen = 'b'", "no animal ever reaches pen 'b'"),
        (
            "title = 'x'\n[[draft]]\npen = 'a'\nat_least_kg = 320\nbelow_kg = 300",
            "pen 'a': nothing lies between at_least_kg and below_kg: 320 is not below 300",
        ),
        ("title = 'x'\n[[draft]]\npen = 'a'\nheads = 20", "heads goes with heaviest = true or lightest = true"),
        ("title = 'x'\n[[draft]]\npen = 'a'\nheaviest = true", "heads goes with heaviest = true or lightest = true"),
        ("title = 'x'\n[details]\nsex = 'staer'", "'staer' is no sex known here. Did you mean 'steer'?"),
        ("title = 'x'\n[details]\nsizes = [1, 2]", "line 3, [details] sizes: must be one text, number or date"),
        ("title = 'x'\n[[dam_ages]]\nto_years = 3", "the last row has no to_years"),
        ("title = 'x", "line 1: this line cannot be read: title = 'x."),
    ],
)
def test_what_is_wrong_is_said_plainly(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SheetError) as raised:
        sheet(tmp_path, text)
    assert said in str(raised.value)
    assert str(tmp_path / "sheet.toml") in str(raised.value)


def test_every_problem_is_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(SheetError) as raised:
        sheet(tmp_path, DRENCH + "ml = 0\n[[treatments]]\nname = 'b'\nmll = 1\n[limits]\nkg = 1\n")
    lines = str(raised.value).splitlines()
    assert len(lines) == 3
    assert "line 7, [treatments] mll" in lines[1], "the second table of that name"


def test_a_missing_sheet(tmp_path: Path) -> None:
    with pytest.raises(SheetError, match="there is no such file"):
        load_sheet(tmp_path / "sheet.toml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (DRENCH + "ml = 1", "no withhold_days: animals count as withheld"),
        (DRENCH + "ml = 1\nwithhold_days = 3\nexport_days = 2", "export_days are fewer than withhold_days"),
        (DRENCH + "ml = 1\nwithhold_days = 3\nexpires = 2026-11-23", "the batch expired on 2026-11-23"),
        ("title = 'x'\n[[draft]]\npen = 'a'\nbelow_kg = 300", "no pen for animals from 300 kg up"),
        ("title = 'x'\n[[draft]]\npen = 'a'\nmatch = { colour = 'red' }\n[[draft]]\npen = 'b'", "'colour' is neither"),
    ],
)
def test_what_is_lawful_but_doubtful_is_said_too(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(text)
    job = load_job(path, TODAY)
    assert [said in str(doubt) for doubt in job.doubts] == [True]


def test_a_missing_roster_is_an_error_or_on_the_day_a_doubt(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(WHOLE)
    with pytest.raises(ValueError, match=r"roster\.csv: file: there is no such file"):
        load_job(path, TODAY)
    job = load_job(path, TODAY, without_roster=True)
    assert job.roster is None
    assert "there is no such file" in str(job.doubts[0])


def test_an_offset_of_before_zones_is_read_ignored_and_told(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text('title = "Weaning"\nutc_offset_hours = 10\n')
    (told,) = doubts(load_sheet(path), TODAY)
    assert told.where == "utc_offset_hours"
    assert "timezone" in str(told)
