"""A day told whole: sheet and roster the night before, forty animals, the tally, the report, the exports.

The animals, their true weights and what the person said come from the simulated yard; every figure is worked out a
second time here, by numpy, pandas or hand.
"""

import io
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_CEILING, Decimal
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from neckyoke.simulators.capture import capture_lines
from neckyoke.simulators.day import DRENCH, PENS
from neckyoke.simulators.scenarios import SCENARIOS
from neckyoke.simulators.yard import Yard

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
ANIMALS, BARE, STRANGER, LAME, UNWILLING, STRUCK = 40, 12, 17, 5, 8, 20
BESIDE = 15
"""The stay whose tag was heard at the one before as well, and taken for that one's until this one settled with it."""
ABSENT = "999000000999999"
ZONE = "Australia/Brisbane"
CONFIG = f"""
site = "larkmoor"
timezone = "{ZONE}"
[links.indicator]
url = "serial:/dev/null?baud=9600"
[links.panel]
url = "serial:/dev/zero?baud=9600"
[stations.crush]
scale = "indicator"
readers = [{{ link = "panel", position = "platform" }}]
sheet = "sheet.toml"
"""
SHEET = f"""
title = "Backgrounding induction"
mob = "autumn steers"
roster = "roster.csv"
shrink_percent = 3
[details]
sex = "steer"
breed = "dairy cross"
{DRENCH}[[treatments]]
name = "seven in one"
ml = 2
withhold_days = 0
export_days = 0
{PENS}"""


class Day:
    """The folder of the day, and what its commands say."""

    def __init__(self, folder: Path, say: Callable[[], str]) -> None:
        self.folder, self._say = folder, say

    def run(self, *words: str) -> str:
        """Run one command that must succeed, and return what it printed."""
        self._say()
        assert main([*words]) == 0
        return self._say()

    @property
    def events(self) -> str:
        """The path of the events file."""
        return str(self.folder / "events.jsonl")

    @property
    def sheet(self) -> str:
        """The path of the job sheet."""
        return str(self.folder / "sheet.toml")

    def weighings(self) -> list[dict[str, Any]]:
        """The highest revision of each weighing, in order."""
        found: dict[int, dict[str, Any]] = {}
        for line in Path(self.events).read_text().splitlines():
            event = json.loads(line)
            if event["type"] == "neckyoke.weighing":
                data = event["data"]
                found[data["number"]] = max(found.get(data["number"], data), data, key=lambda one: one["revision"])
        return [found[number] for number in sorted(found)]


@pytest.fixture
def yard() -> Yard:
    scenario = SCENARIOS["larkmoor"]
    return Yard(replace(scenario, mob=replace(scenario.mob, bare=(BARE,))), seed=7, animals=ANIMALS)


@pytest.fixture
def day(yard: Yard, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Day:
    made = Day(tmp_path, lambda: capsys.readouterr().out)
    (tmp_path / "neckyoke.toml").write_text(CONFIG)
    (tmp_path / "sheet.toml").write_text(SHEET)
    rows = ["Visual; EID ;Last kg;last date;Home Block"]
    for stay in yard.truth:
        if stay.animal != STRANGER:
            tag = f"{stay.tag[:3]} {stay.tag[3:]}" if stay.tag else ""
            block = "east" if stay.animal % 2 else "west"
            rows.append(f"{100 + stay.animal};{tag};{stay.kg - 60:.1f}".replace(".", ",") + f";25/09/2026;{block}")
    rows.append(f"999;{ABSENT};250;25/09/2026;east")
    (tmp_path / "roster.csv").write_text("\n".join(rows), encoding="utf-8-sig")
    said = [
        (LAME, {"kind": "note", "text": "lame, near hind"}),
        (UNWILLING, {"kind": "skip", "treatment": "seven in one"}),
        (STRUCK, {"kind": "void", "reason": "two animals on the platform"}),
    ]
    ends = {stay.number: stay.off_t for stay in yard.truth}
    asked = [(ends[number] + 1.0, {"station": "crush", "number": number, **request}) for number, request in said]
    header, *lines = capture_lines(yard.items(), started=STARTED)
    records = [json.loads(line) for line in lines] + [{"t": t, "request": request} for t, request in asked]
    records.sort(key=lambda record: record["t"])
    (tmp_path / "capture.jsonl").write_text(header + "".join(json.dumps(record) + "\n" for record in records))
    made.run("check", made.sheet)
    made.run(
        *("replay", str(tmp_path / "capture.jsonl"), "--config", str(tmp_path / "neckyoke.toml"), "--out", made.events)
    )
    return made


def test_a_day(day: Day, yard: Yard) -> None:
    weighings = day.weighings()
    assert [data["number"] for data in weighings] == list(range(1, ANIMALS + 1))
    for stay, data in zip(yard.truth, weighings, strict=True):
        _check_animal(stay.animal, stay.tag, data)
        _check_given(stay.animal, data)
    assert weighings[BESIDE - 2]["revision"] > 1
    tally = json.loads(day.run("tally", day.events, "--timezone", ZONE, "--sheet", day.sheet, "--json"))
    _check_tally(tally, weighings)
    _check_report(day)
    _check_exports(day, weighings)


def _check_animal(animal: int, tag: str | None, data: dict[str, Any]) -> None:
    assert (data["tag"] or {}).get("id") == tag
    assert data["sheet"] == "Backgrounding induction"
    assert data["details"] == {"sex": "steer", "breed": "dairy cross"}
    assert ("not-expected" in data["flags"]) == (animal == STRANGER)
    assert ("no-tag" in data["flags"]) == (animal == BARE)
    assert data["notes"] == (["lame, near hind"] if animal == LAME else [])
    sure = data["weight"]["grade"] in {"good", "fair"}
    if tag and animal != STRANGER:
        assert data["animal"]["visual"] == str(100 + animal)
        assert data["animal"]["home_block"] == ("east" if animal % 2 else "west")
        if sure:
            assert data["gain"]["days"] == 60
            assert data["gain"]["kg_per_day"] == pytest.approx(1.0, abs=0.15), "60 kg in 60 days, but for the weighing"
    told = Decimal(str(data["weight"]["first_kg"]))
    if sure:
        assert data["pen"] == ("heavy" if told >= 340 else "light" if told < 300 else "middle")
    else:
        assert data["pen"] is None


def _check_given(animal: int, data: dict[str, Any]) -> None:
    told = Decimal(str(data["weight"]["first_kg"]))
    drench, vaccine = data["treatments"]
    assert drench["dose_ml"] == max(10, (told / 50).to_integral_value(ROUND_CEILING) * 5)
    local = datetime.fromisoformat(data["settled"]) + timedelta(hours=10)
    assert drench["withheld_until"] == (local.date() + timedelta(days=29)).isoformat()
    assert drench["export_from"] == (local.date() + timedelta(days=43)).isoformat()
    assert (vaccine["dose_ml"], vaccine["withheld_until"]) == (None if animal == UNWILLING else 2.0, None)
    assert vaccine["skipped"] == (animal == UNWILLING)


def _check_tally(tally: dict[str, Any], weighings: list[dict[str, Any]]) -> None:
    import numpy as np

    standing = [data for data in weighings if "voided" not in data["flags"]]
    sure = [data for data in standing if data["weight"]["grade"] in {"good", "fair"}]
    kg = np.array([data["weight"]["kg"] for data in sure])
    counts = tally["counts"]
    assert (counts["animals"], counts["untagged"], counts["not_expected"]) == (ANIMALS - 1, 1, 1)
    assert (counts["voided"], counts["repeats"], counts["not_seen"]) == (1, 0, 3)
    assert set(tally["not_seen"]) >= {ABSENT, f"visual {100 + BARE}"}
    weight = tally["weight"]
    assert weight["count"] == len(kg) >= 30
    assert weight["mean_kg"] == pytest.approx(kg.mean(), abs=5e-4)
    assert weight["median_kg"] == pytest.approx(np.median(kg), abs=5e-4)
    assert weight["sd_kg"] == pytest.approx(kg.std(ddof=1), abs=5e-4)
    assert weight["total_kg"] == pytest.approx(kg.sum(), abs=5e-4)
    assert weight["within_10_percent"] == pytest.approx(100 * np.mean(abs(kg / kg.mean() - 1) <= 0.1), abs=5e-4)
    assert sum(one["count"] for one in tally["by_pen"].values()) == len(kg)
    assert set(tally["by_pen"]) == {"heavy", "light", "middle"}
    assert sum(one["count"] for one in tally["distribution"]["bins"]) == len(kg)
    drench, vaccine = tally["treatments"]
    assert drench["total_ml"] == sum(data["treatments"][0]["dose_ml"] or 0 for data in weighings)  # the one struck out
    assert (drench["given"], drench["skipped"]) == (ANIMALS, 0)  # had its dose too: nobody said otherwise
    assert (vaccine["given"], vaccine["skipped"], vaccine["total_ml"]) == (ANIMALS - 1, 1, 2.0 * (ANIMALS - 1))
    assert tally["shrunk"]["mean_kg"] == pytest.approx(0.97 * kg.mean(), abs=5e-4)


def _check_report(day: Day) -> None:
    page, picture = day.folder / "day.html", day.folder / "day.svg"
    text = day.run(
        "tally", day.events, "--timezone", ZONE, "--sheet", day.sheet, "--html", str(page), "--picture", str(picture)
    )
    assert "39 animals, 1 untagged, 1 not on the roster, 3 not seen" in text
    assert "Backgrounding induction\n2026-11-24 12:11 to 12:" in text, "on the sheet's clock"
    assert "autumn steers" in page.read_text()
    assert picture.read_text().startswith("<svg")
    assert "oral drench" in day.run("tally", day.events, "--timezone", ZONE, "--animal", str(100 + LAME))


def _check_exports(day: Day, weighings: list[dict[str, Any]]) -> None:
    import pandas as pd

    frame = pd.read_csv(io.StringIO(day.run("export", day.events)))
    standing = [data for data in weighings if "voided" not in data["flags"]]
    assert frame.kg.tolist() == [data["weight"]["kg"] for data in standing]
    tags = [data["tag"]["id"] if data["tag"] else None for data in standing]
    assert [None if pd.isna(tag) else tag.replace(" ", "") for tag in frame.tag] == tags
    comma = day.run("export", day.events, "--comma", "--columns", "kg,animal.home_block,dose.oral drench")
    again = pd.read_csv(io.StringIO(comma.lstrip("\ufeff")), sep=";", decimal=",")
    assert again.kg.tolist() == frame.kg.tolist()
    doses = [None if pd.isna(dose) else dose for dose in again["dose.oral drench"]]
    assert doses == [data["treatments"][0]["dose_ml"] for data in standing]
    told = {
        kind: day.run("export", day.events, "--icar", "1.4", "--resource", kind) for kind in ("weights", "treatments")
    }
    kept = {
        kind: [one for one in json.loads(text)["member"] if "isDeleted" not in one["meta"]]
        for kind, text in told.items()
    }
    tagged = [data for data in standing if data["tag"]]
    assert len(kept["weights"]) == len([1 for data in tagged if data["weight"]["grade"] in {"good", "fair"}])
    assert len(kept["treatments"]) == 2 * len([1 for data in weighings if data["tag"]]) - 1  # of the one struck out too
    assert date.fromisoformat(frame.withheld_until[0]) == date(2026, 12, 23)
