"""`neckyoke register` and `neckyoke withheld` on the demo's day, and on events with a herd book."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.cli import main
from neckyoke.bridge.events import Clock, Tag, Treatment, Weighing, Weight, wrap

OLD, NEW = "999000000000101", "999000000000202"
DAY = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    assert main(["demo", "--fast", "--folder", str(folder)]) == 0
    return folder / "events.jsonl"


def given(events: Path) -> list[tuple[str, dict[str, Any]]]:
    """Read by hand which doses the newest revisions say were given."""
    newest: dict[str, dict[str, Any]] = {}
    for line in events.read_text().splitlines():
        event = json.loads(line)
        if event["type"] == "neckyoke.weighing":
            newest[event["data"]["weighing"]] = event["data"]
    return [
        (data["weighing"], one)
        for data in newest.values()
        if "voided" not in data["flags"]
        for one in data["treatments"]
        if not one["skipped"]
    ]


def test_every_dose_of_the_day_is_in_every_form_of_the_register(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import openpyxl
    import pandas as pd

    expected = given(demo)
    assert len(expected) > 10
    for name in ("r.csv", "r.xlsx", "r.html", "r.json"):
        assert main(["register", str(demo), "--out", str(tmp_path / name), "--timezone", "UTC"]) == 0
        assert f"{len(expected)} doses in" in capsys.readouterr().out
    told = json.loads((tmp_path / "r.json").read_text())
    assert len(told["doses"]) == len(expected)
    assert "label, veterinarian and local rules decide" in told["cautions"][0]
    table = pd.read_csv(tmp_path / "r.csv")
    assert table["tag"].dropna().str.fullmatch(r"999 [0-9]{12}").all(), "text to any program"
    assert table["amount"].sum() == sum(one["amount"] for _, one in expected)
    sheet = openpyxl.load_workbook(tmp_path / "r.xlsx")["doses"]
    assert sheet.max_row == len(expected) + 1
    page = (tmp_path / "r.html").read_text()
    assert page.count("<tr>") == len(expected) + 1
    assert "label, veterinarian and local rules decide" in page


def test_it_is_cut_down_by_product_and_days(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def count(*words: str) -> int:
        capsys.readouterr()
        assert main(["register", str(demo), "--json", "--timezone", "UTC", *words]) == 0
        return len(json.loads(capsys.readouterr().out)["doses"])

    drenches = sum(one["name"] == "oral drench" for _, one in given(demo))
    assert count("--product", "oral drench") == drenches
    assert count("--all") == count() == len(given(demo))


@pytest.mark.parametrize("words", [["--from", "2099-01-01"], ["--title", "nothing such"]])
def test_an_empty_selection_says_what_there_is(
    demo: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    assert main(["register", str(demo), *words]) == 2
    assert "no weighing is in this selection.  There is: job 1, autumn weigh-in" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["register", "--from", "yesterday"], "'yesterday' is no date"),
        (["withheld", "--on", "31.12.2026"], "Write it as 2026-11-28."),
        (["register", "--format", "xlsx"], "Name the file: --out register.xlsx."),
    ],
)
def test_mistakes_are_said(demo: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str) -> None:
    assert main([words[0], str(demo), *words[1:]]) == 2
    assert said in capsys.readouterr().err


def test_the_demos_animals_are_withheld_until_the_date_on_their_doses(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    until = {one["withheld_until"] for _, one in given(demo) if one["withheld_until"]}
    (last,) = until
    before = (datetime.fromisoformat(last) - timedelta(days=1)).date().isoformat()
    capsys.readouterr()
    assert main(["withheld", str(demo), "--on", before, "--json", "--timezone", "UTC"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert len(shown["animals"]) == sum(one["withheld_until"] == last for _, one in given(demo))
    assert {one["until"] for one in shown["animals"]} == {last}
    assert main(["withheld", str(demo), "--on", last, "--timezone", "UTC"]) == 0
    assert f"No animal known here is withheld for meat on {last}." in capsys.readouterr().out


def weighing(key: str, on: datetime, tag: str | None, animal: str, *treatments: Treatment) -> str:
    data = Weighing(
        weighing=key,
        station="crush",
        number=1,
        tag=Tag(id=tag, code=tag[:3], national=tag[3:], animal=True) if tag else None,
        weight=Weight(kg=300, grade="good"),
        on=on,
        settled=on,
        off=on,
        clock=Clock.SYNCHRONISED,
        animal={"id": animal, "visual": "105"},
        treatments=treatments,
    )
    return wrap(data, site="larkmoor", time=on, key=key).to_json()


def animal(name: str, **given: Any) -> str:
    return wrap(Animal(animal=name, **given), site="larkmoor", time=DAY, key=f"{name}/{given}").to_json()


def test_a_lost_tag_a_merge_and_a_roster_change_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Drenched under the old tag, weighed under the new one as another animal, then told to be the same."""
    drench = Treatment(name="oral drench", amount=35, unit="mL", withheld_until="2026-12-23")
    events = tmp_path / "events.jsonl"
    lines = [
        animal("a", tags=(WornTag(id=OLD),), visuals=("105",)),
        animal("b", tags=(WornTag(id=NEW),)),
        animal("c", visuals=("9",), withheld_until="2026-12-30"),
        weighing("w1", DAY, OLD, "a", drench),
        weighing("w2", DAY + timedelta(days=21), NEW, "b"),
        animal("b", tags=(WornTag(id=NEW),), revision=2, merged_into="a"),
    ]
    events.write_text("\n".join(lines) + "\n")
    assert main(["withheld", str(events), "--on", "2026-12-15", "--timezone", "UTC", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["animals"]
    assert [(one["visual"], one["until"]) for one in told] == [("9", "2026-12-30"), ("105", "2026-12-23")]
    assert {told[1]["tag"], *told[1]["former_tags"]} == {OLD, NEW}
    assert main(["withheld", str(events), "--on", "2026-12-15", "--timezone", "UTC"]) == 0
    text = capsys.readouterr().out
    assert "2 withheld for meat on 2026-12-15:" in text
    assert "oral drench of 2026-11-24" in text
