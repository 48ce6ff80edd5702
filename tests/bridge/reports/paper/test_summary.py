"""The day in a dozen lines, by command and as it is published when the job ends."""

import json
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.reports.paper.lists import told
from neckyoke.bridge.reports.paper.summary import summary
from neckyoke.bridge.reports.tally import tally
from tests.bridge.reports.paper.conftest import weighings
from tests.bridge.reports.stays import drench, make_event


def test_the_day_in_a_dozen_lines(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["summary", str(season)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 12
    assert lines[0] == (
        "Larkmoor Downs: weigh-in 2, dairy-beef steers, job 2, crush, 2026-11-24 09:01 to 10:03 Pacific/Auckland."
    )
    assert lines[1] == "61 animals."
    assert lines[2].startswith("Mean 279.5 kg over 56, ")
    assert [line.split()[0].rstrip(",:") for line in lines[3:]] == [
        *("Gain", "Lost", "Pens", "oral", "bolus", "Withheld", "To", "Dose")
    ]
    assert "clear from 2026-12-22 (meat), 2027-01-05 (export)." in lines[6]
    assert main(["summary", str(season), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["summary"] == lines


def test_who_was_expected_and_did_not_come_is_named() -> None:
    day = tally([make_event(1)], expected={"999000000000001": "101", "999000000000002": "0102"})
    assert summary(day)[1] == "1 animal; 1 expected and not seen: 0102."
    all_came = tally([make_event(1)], expected={"999000000000001": "101"})
    assert summary(all_came)[1] == "1 animal; all who were expected came."


def test_a_day_without_anything_has_its_lines_too() -> None:
    assert summary(tally([]), About("Larkmoor"), ZoneInfo("Pacific/Auckland")) == (
        "Larkmoor: Weighing day.",
        "0 animals.",
        "No weight good enough to count.",
    )


def test_many_treatments_do_not_make_it_long() -> None:
    doses = [drench().model_copy(update={"name": f"dose {number}"}) for number in range(9)]
    lines = summary(tally([make_event(1, treatments=doses)]))
    assert "And 5 more treatments: see the register." in lines
    assert len(lines) <= 12


def test_lists_of_all_pens_and_findings(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tally", str(season), "--leaders", "2"]) == 0
    text = capsys.readouterr().out
    lists = text[text.index("\nall, 61:") :].splitlines()
    assert [line for line in lists if line.endswith(":")][:4] == ["all, 61:", *lists[6:7], *lists[11:12], *lists[16:17]]
    assert sum(line.startswith("  heaviest: ") for line in lists) == 7, "all, three pens, three conditions"
    assert all(line.count(",") == 1 for line in lists if line.startswith("  "))
    assert main(["tally", str(season), "--json", "--leaders", "3"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert len(shown["leaders"]["gained_most"]) == 3
    assert [one["gained_kg"] for one in shown["losers"]] == sorted(one["gained_kg"] for one in shown["losers"])
    assert {(one["name"], one["value"]) for one in shown["leaders_by"]} >= {("pen", "heavy"), ("condition", "3")}


def test_an_animal_that_is_only_a_number_is_named_so() -> None:
    day = tally([make_event(7, 300.0, tag=None), make_event(8, 310.0)])
    assert list(told(day))[1] == "  heaviest: 999 000000000008 310.0, number 7 300.0"


def test_the_cut_is_of_one_job_and_its_sure_weights_as_pandas_sorts_them(
    season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import pandas as pd

    rows = [
        one for one in weighings(season) if one["sheet"] == "weigh-in 2" and one["weight"]["grade"] in {"good", "fair"}
    ]
    rows = [one for one in rows if not {"voided", "paused"} & {*one["flags"]}]
    rank = pd.DataFrame(
        {
            "who": [one["tag"]["id"] if one["tag"] else "" for one in rows],
            "grade": [one["weight"]["grade"] for one in rows],
            "kg": [one["weight"]["kg"] for one in rows],
        }
    )
    best = rank.sort_values("grade", ascending=False, kind="stable").drop_duplicates("who", keep="last")["kg"]
    for words, ordered in (((), best.sort_values(ascending=False)), (("--lightest",), best.sort_values())):
        assert main(["cut", str(season), "--heads", "20", "--json", *words]) == 0
        shown = json.loads(capsys.readouterr().out)
        assert [shown["of"], shown["last_kg"], shown["first_left_kg"]] == [len(best), *ordered.iloc[19:21]]
    assert main(["cut", str(season), "--heads", "20", "--job", "1"]) == 0
    assert "of 56" in capsys.readouterr().out
