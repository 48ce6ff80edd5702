"""The workbook read back by openpyxl and pandas: texts, dates and numbers are what they were."""

from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from tests.bridge.reports.paper.conftest import EARS, weighings


@pytest.fixture(scope="module")
def book(season: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "day.xlsx"
    assert main(["export", str(season), "--all", "--out", str(path)]) == 0
    return path


def test_every_ear_tag_and_batch_survives_as_a_text(book: Path) -> None:
    import openpyxl
    import pandas as pd

    sheets = openpyxl.load_workbook(book)
    assert sheets.sheetnames == ["weighings", "doses", "tally"]
    for name, columns in (("weighings", ("visual", "tag", "notes")), ("doses", ("visual", "tag", "batch"))):
        head, *rows = sheets[name].iter_rows()
        places = {cell.value: at for at, cell in enumerate(head)}
        for column in columns:
            kinds = {row[places[column]].data_type for row in rows if row[places[column]].value is not None}
            assert kinds == {"s"}, f"{name} {column}"
    read = pd.read_excel(book, sheet_name="weighings", dtype={"visual": str})
    assert {"0105", "12E5", "3/4"} <= set(read["visual"].dropna())
    assert set(read["visual"].dropna()) == set(EARS[:62])
    assert set(pd.read_excel(book, sheet_name="doses", dtype={"batch": str})["batch"].dropna()) == {"0105", "12E5"}
    assert "=note 13" in set(read["notes"].dropna()), "a text that looks like a formula is a text"


def test_dates_are_dates_and_numbers_numbers(book: Path, season: Path) -> None:
    import openpyxl
    import pandas as pd

    read = pd.read_excel(book, sheet_name="weighings")
    data = [one for one in weighings(season) if not {"voided", "paused"} & {*one["flags"]}]
    assert len(read) == len(data)
    assert read["kg"].dropna().tolist() == [one["weight"]["kg"] for one in data if one["weight"]["kg"] is not None]
    assert pd.api.types.is_datetime64_any_dtype(read["date"])
    assert {one.date() for one in read["date"]} == {date(2026, 9, 23), date(2026, 11, 24)}
    head, first, *_ = openpyxl.load_workbook(book)["weighings"].iter_rows()
    cells: dict[Any, Any] = {cell.value: told.value for cell, told in zip(head, first, strict=True)}
    assert isinstance(cells["date"], datetime)
    assert cells["time"] == time(8, 1)
    assert isinstance(cells["withheld_until"], datetime)
    doses = pd.read_excel(book, sheet_name="doses")
    assert pd.api.types.is_datetime64_any_dtype(doses["date"])
    assert pd.api.types.is_datetime64_any_dtype(doses["expires"])
    assert pd.api.types.is_numeric_dtype(doses["amount"])
    counted = [one for one in weighings(season) if "paused" not in one["flags"]]
    given = [dose for one in counted for dose in one["treatments"] if not dose["skipped"]]
    assert len(doses) == len(given), "as in the register: also of one that was struck out"
    assert doses["amount"].sum() == sum(dose["amount"] or 0 for dose in given)


def test_the_tally_is_in_it_with_how_many(season: Path, tmp_path: Path) -> None:
    import pandas as pd

    path = tmp_path / "job.xlsx"
    assert main(["export", str(season), "--format", "xlsx", "--out", str(path)]) == 0
    read = pd.read_excel(path, sheet_name="tally")
    figures = {
        (of, figure): (value, over)
        for of, figure, value, over in read[["of", "figure", "value", "over animals"]].itertuples(index=False)
    }
    assert figures["all", "animals"][0] == 61
    mean, over = figures["all", "weight, mean"]
    weights = pd.read_excel(path, sheet_name="weighings")
    sure = weights[weights["grade"].isin(["good", "fair"])]
    best = sure.sort_values("grade", ascending=False, kind="stable").drop_duplicates("tag", keep="last")
    assert over == len(best)
    assert mean == pytest.approx(best["kg"].mean())
    assert figures["pen heavy", "weight, mean"][1] == (best["pen"] == "heavy").sum()


def test_a_workbook_needs_a_file(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", str(season), "--format", "xlsx"]) == 2
    assert "Name the file: --out day.xlsx." in capsys.readouterr().err
