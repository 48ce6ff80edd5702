"""Exports read back by other programs' readers."""

import csv
import io
import json
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.events import Event, Finding, Flag, Gain, Treatment
from neckyoke.bridge.job.roster.roster import load_roster
from neckyoke.bridge.reports.export import COLUMNS, COMMA, USUAL, Style, standing, write_csv, write_json_lines
from neckyoke.bridge.reports.reading import weighing_of

Make = Callable[..., Event]
Dose = Callable[..., Treatment]
POINT = Style()


def data(*events: Event) -> list[dict[str, Any]]:
    return [found for event in events if (found := weighing_of(event)) is not None]


def table(events: Sequence[Event], columns: Sequence[str] = USUAL, style: Style = POINT) -> str:
    out = io.StringIO(newline="")
    write_csv(standing(data(*events)), out, columns, style)
    return out.getvalue()


@pytest.fixture
def events(event: Make, dose: Dose) -> list[Event]:
    loss = Gain(kg=-12.5, days=20, since="2026-11-04", kg_per_day=-0.625)
    return [
        event(
            1, 318.5, pen="middle", gain=loss, treatments=[dose(35)], animal={"visual": "007"}, details={"sex": "steer"}
        ),
        event(2, 280.0, notes=["lame, near hind", "second note"], flags=[Flag.NOT_EXPECTED]),
        event(2, 281.0, revision=2, notes=["lame, near hind", "second note"], flags=[Flag.NOT_EXPECTED]),
        event(3, None, tag=None),
        event(4, 300.0, flags=[Flag.VOIDED]),
    ]


def test_pandas_reads_it_back(events: list[Event]) -> None:
    import pandas as pd

    frame = pd.read_csv(io.StringIO(table(events)))
    assert list(frame.columns) == list(USUAL)
    assert frame.number.tolist() == [1, 2, 3], "of each the last revision; struck out left out"
    assert frame.kg.tolist()[:2] == [318.5, 281.0]
    assert pd.isna(frame.kg[2])
    assert frame.tag.tolist()[:2] == ["999 000000000001", "999 000000000002"], "text to any program"
    assert frame.gain_kg_per_day[0] == -0.625, "a loss stays a number"
    assert frame.withheld_until[0] == "2026-12-23"
    assert frame.treatments[0] == "oral drench 35 mL"
    assert frame.notes[1] == "lame, near hind; second note"
    assert frame.date.tolist() == ["2026-11-24"] * 3


def test_a_spreadsheet_where_the_decimal_is_a_comma(events: list[Event]) -> None:
    import pandas as pd

    text = table(events, style=COMMA)
    assert text.startswith("\ufeffnumber;date;")
    frame = pd.read_csv(io.BytesIO(text.encode()), sep=";", decimal=",", encoding="utf-8-sig")
    assert frame.kg.tolist()[:2] == [318.5, 281.0]
    assert frame.gain_kg_per_day[0] == -0.625
    assert frame.treatments[0] == "oral drench 35 mL"


def test_columns_are_chosen_and_ordered(events: list[Event]) -> None:
    text = table(events, ["kg", "tag_digits", "details.sex", "animal.visual", "dose.oral drench", "flags"])
    assert text.splitlines()[:3] == [
        "kg,tag_digits,details.sex,animal.visual,dose.oral drench,flags",
        "318.5,999000000000001,steer,007,35,",
        "281,999000000000002,,,,not-expected",
    ]


def test_every_column_can_be_written(events: list[Event]) -> None:
    rows = list(csv.DictReader(io.StringIO(table(events, list(COLUMNS)))))
    assert [row["weighing"] for row in rows] == ["w1", "w2", "w3"]
    assert {len(row) for row in rows} == {len(COLUMNS)}


@pytest.mark.parametrize(
    ("name", "said"),
    [("weight", "there is no column 'weight'"), ("visua", "Did you mean 'visual'?"), ("tag.x", "Also details.KEY")],
)
def test_an_unknown_column_is_refused_with_the_nearest(events: list[Event], name: str, said: str) -> None:
    with pytest.raises(ConfigError) as raised:
        table(events, [name])
    assert said in str(raised.value)


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+41 79", "'+41 79"),
        ("-2+3", "'-2+3"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("  =1", "'  =1"),
        ("\t=1", "' =1"),
        ("\r=1", "' =1"),
        ("\uff1d1", "'\uff1d1"),
        ("-12.5", "-12.5"),
        ("+3", "+3"),
        ("lame, near hind", "lame, near hind"),
        ('say "no"', 'say "no"'),
        ("two\nlines", "two\nlines"),
    ],
)
def test_no_cell_is_a_formula(event: Make, typed: str, written: str) -> None:
    """OWASP, CSV injection: cells that begin with = + - @, tab or carriage return."""
    rows = list(csv.reader(io.StringIO(table([event(1, details={"said": typed})], ["details.said"]))))
    assert rows[1] == [written]


def test_a_column_name_is_no_formula_either(event: Make) -> None:
    assert table([event(1)], ["details.=1", "dose.-x"]).splitlines()[0] == "details.=1,dose.-x"


def test_local_time(event: Make) -> None:
    text = table([event(1)], ["date", "time", "on"], Style(zone=ZoneInfo("Pacific/Honolulu")))
    assert text.splitlines()[1] == "2026-11-23,16:01:00,2026-11-24T02:01:00.000Z"


def test_struck_out_ones_when_asked_for(events: list[Event]) -> None:
    assert [one["number"] for one in standing(data(*events), voided=True)] == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("more", "cells"),
    [
        ({"job": "id-2", "job_number": 3}, "3,2,17"),
        ({"job": "id-x", "job_number": 3}, "3,id-x,17"),
        ({"job": "id-2", "flags": [Flag.PAUSED]}, "17,,17"),
        ({}, "17,,17"),
    ],
)
def test_a_number_is_the_jobs_and_where_there_is_none_the_stations(
    event: Make, more: dict[str, Any], cells: str
) -> None:
    out = io.StringIO(newline="")
    write_csv(data(event(17, **more)), out, ["number", "job", "station_number"], Style(turns={"id-2": 2}))
    assert out.getvalue().splitlines()[1] == cells


def test_json_lines_give_the_data_back(events: list[Event]) -> None:
    out = io.StringIO()
    count = write_json_lines(standing(data(*events)), out)
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    assert count == 3
    assert lines == [
        one for one in data(*events) if one["number"] != 4 and (one["number"] != 2 or one["revision"] == 2)
    ]


def test_an_export_is_a_roster(events: list[Event], tmp_path: Path) -> None:
    """What went out comes in again: the tag as it is spelled here, the weight under the roster's column name."""
    text = table(events, ["tag", "kg", "date"]).replace("kg,date", "last_kg,last_date")
    path = tmp_path / "roster.csv"
    path.write_text(text)
    roster = load_roster(path, date(2026, 11, 24))
    animal = roster.by_tag("999000000000001")
    assert animal is not None
    assert animal.weights == ((date(2026, 11, 24), 318.5),)


def test_what_was_seen_has_columns(event: Callable[..., Event]) -> None:
    found = (
        Finding(name="condition", value=2.5, by="usual"),
        Finding(name="pregnant", value=False, by="person"),
        Finding(name="signs", value=("lame", "thin"), by="person"),
    )
    out = io.StringIO()
    columns = ["findings", "finding.condition", "finding.pregnant", "finding.signs", "finding.teeth"]
    write_csv([event(1, findings=found).data.model_dump(mode="json")], out, columns)
    assert list(csv.reader(io.StringIO(out.getvalue())))[1] == [
        *("condition 2.5; pregnant no; signs lame, thin", "2.5", "no", "lame; thin", "")
    ]
