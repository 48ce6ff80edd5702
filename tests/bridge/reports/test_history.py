"""One animal's page."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.events import Event, Flag, Gain, Treatment
from neckyoke.bridge.reports.history import page
from neckyoke.bridge.reports.reading import weighing_of

Make = Callable[..., Event]
Dose = Callable[..., Treatment]
A = "999000000000001"
LB = 0.45359237
ROW = {"tag": A, "visual": "047", "sex": "steer", "born": "2025-01-02", "birth_kg": round(95 * LB, 3), "dam_age": 2}


def at(year: int, month: int, day: int) -> datetime:
    return datetime(year, month, day, 2, tzinfo=UTC)


@pytest.fixture
def life(event: Make, dose: Dose) -> list[dict[str, Any]]:
    gain = Gain(kg=100, days=60, since="2025-06-01", kg_per_day=1.52)
    kg = round(800 * LB, 3)
    events = [
        event(1, kg, tag=A, on=at(2025, 7, 31), animal=ROW, gain=gain, pen="middle", treatments=[dose(35, batch="B7")]),
        event(2, 900.0, on=at(2025, 8, 1)),
        event(3, 480.0, tag=A, on=at(2025, 12, 20), animal=ROW, notes=["lame"], flags=[Flag.WITHHELD]),
        event(4, 100.0, tag=A, on=at(2025, 12, 21), animal=ROW, grade="poor"),
        event(5, 100.0, tag=A, on=at(2025, 12, 22), animal=ROW, flags=[Flag.VOIDED]),
    ]
    return [found for one in events if (found := weighing_of(one)) is not None]


@pytest.mark.parametrize("name", [A, "999 000000000001", "47", "0047"])
def test_the_page_is_found_by_tag_or_visual_number(life: list[dict[str, Any]], name: str) -> None:
    text = page(name, life)
    assert text is not None
    assert text.startswith("999 000000000001, visual 047\nsex steer, born 2025-01-02")
    assert "900.0" not in text


def test_the_page_tells_weights_growth_and_treatments(life: list[dict[str, Any]]) -> None:
    text = page(A, life)
    assert text is not None
    assert "2025-07-31     362.9  good     1.52  middle      Weaning\n" in text
    assert "2025-12-20     480.0  good                       Weaning; withheld; lame\n" in text
    assert "gain: 1.24 kg/day in 352 days since 2025-01-02 (birth)" in text
    assert "gain by regression over 3 weights" in text
    assert "adjusted birth weight: 46.7 kg" in text, "103 lb: 95 and 8 for a dam of two"
    assert "adjusted 205-day weight: 382.5 kg (weighed 2025-07-31)" in text, "843.2 lb: BIF's example, dam of two"
    assert "adjusted 365-day weight: 514.4 kg (weighed 2025-12-20)" in text
    assert "2025-07-31  oral drench 35 mL, batch B7" in text
    assert "withheld until 2026-12-23, for export until 2027-01-06" in text
    assert "not for trade" in text


def test_the_job_sheets_own_dam_ages_take_over(event: Make, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    events, sheet = tmp_path / "events.jsonl", tmp_path / "sheet.toml"
    weighed = event(1, round(800 * LB, 3), tag=A, on=at(2025, 7, 31), animal=ROW)
    events.write_text(weighed.to_json() + "\n", encoding="utf-8")
    sheet.write_text('title = "Weaning"\n[[dam_ages]]\nbirth_kg = 1.0\nmale_kg = 10.0\n', encoding="utf-8")

    assert main(["tally", str(events), "--animal", A, "--sheet", str(sheet)]) == 0

    told = capsys.readouterr().out
    assert "adjusted birth weight: 44.1 kg" in told
    assert "adjusted 205-day weight: 365.3 kg" in told, "783.2 lb: BIF's example, and the sheet's 10 kg"


def test_a_stranger_has_no_page(life: list[dict[str, Any]]) -> None:
    assert page("999000000009999", life) is None


def test_days_too_few_to_tell(event: Make) -> None:
    events = [event(1, 300.0, tag=A), event(2, 310.0, tag=A, on=at(2026, 11, 30))]
    text = page(A, [found for one in events if (found := weighing_of(one)) is not None])
    assert text is not None
    assert "gain: 6 days are too few to tell" in text
