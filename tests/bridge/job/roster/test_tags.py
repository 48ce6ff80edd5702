"""Tags as spreadsheets mangle them: mended where nothing is lost, refused by row where something is.

Written by pandas and openpyxl, two writers that are not ours.  That a spreadsheet keeps 15 significant digits is in
Microsoft's "Excel specifications and limits"; country codes are ISO 3166-1 numeric, 036 is Australia's.
"""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.job.roster.cell_error import CellError
from neckyoke.bridge.job.roster.roster import load_roster
from neckyoke.bridge.job.roster.tags import Tags

TAG = "999000000112233"
TODAY = date(2026, 11, 24)


@pytest.mark.parametrize(
    "text",
    [
        TAG,
        "999 000000112233",
        "999-000000112233",
        "999\u00a0000\u00a0000\u00a0112\u00a0233",
        "'999000000112233",
        "999000000112233.0",
        "999000000112233,00",
        "9.99000000112233E+14",
        "9,99000000112233e14",
        "999,000,000,112,233",
        "999.000.000.112.233",
        '="999000000112233"',
    ],
)
def test_where_nothing_is_lost_it_is_mended(text: str) -> None:
    assert Tags().read(text) == TAG


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("9.99E+14", "has lost digits"),
        ("9.99000000112E+14", "has lost digits"),
        ("9.9E+1", "has 2 digits, not 15"),
        ("99900000011223", "has 14 digits, not 15"),
        ("9990000001122", "has 13 digits, not 15"),
        ("999999999999999", "is larger than any tag can hold"),
        ("#REF!", "is no tag number"),
        ("Daisy", "is no tag number"),
    ],
)
def test_where_something_is_lost_it_is_refused(text: str, said: str) -> None:
    with pytest.raises(CellError, match=said):
        Tags().read(text)


def test_a_zero_in_front_that_is_gone_from_the_whole_column_is_put_back() -> None:
    column = ["36000012345678", "36000012345679"]
    assert [Tags(column).read(text) for text in column] == ["036000012345678", "036000012345679"]
    assert Tags(column).read(TAG) == TAG, "one among them that has all"
    for alone in (column[:1], [*column, "99900000011223"]):
        with pytest.raises(CellError, match="14 digits"):
            Tags(alone).read(column[0])


@pytest.mark.parametrize("as_type", [str, int, float])
@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_what_pandas_writes_is_read(tmp_path: Path, suffix: str, as_type: Any) -> None:
    import pandas as pd

    path = tmp_path / f"roster{suffix}"
    rows = {"tag": [999000000112233, 999000000112234], "visual": ["047", "048"], "born": ["2026-01-02", ""]}
    frame = pd.DataFrame(rows).astype({"tag": as_type})
    (frame.to_csv if suffix == ".csv" else frame.to_excel)(path, index=False)
    found = load_roster(path, TODAY)

    assert found.problems == ()
    assert [(one.tag, one.visual) for one in found.animals] == [(TAG, "047"), ("999000000112234", "048")]


def test_what_openpyxl_writes_is_read_dates_and_all(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (
        ["Tag", "Visual", "Born", "Last kg", "Last date"],
        [int(TAG), 47, date(2026, 1, 2), 318.5, "2026-09-25"],
    ):
        sheet.append(row)
    book.save(tmp_path / "roster.xlsx")
    found = load_roster(tmp_path / "roster.xlsx", TODAY)

    assert found.problems == ()
    assert found.animals[0].as_dict() == {
        "tag": TAG,
        "visual": "47",
        "born": "2026-01-02",
        "last_kg": 318.5,
        "last_date": "2026-09-25",
    }


def test_four_hundred_bad_cells_are_a_sentence_a_kind(tmp_path: Path) -> None:
    path = tmp_path / "roster.csv"
    rows = [f"9.99E+14,{number},{'staer' if number % 2 else 'steer'}" for number in range(400)]
    path.write_text("tag,visual,sex\n" + "\n".join(rows) + "\n")
    told = [str(problem).split("roster.csv: ")[1] for problem in load_roster(path, TODAY).problems]

    assert told == [
        (
            "rows 2, 3, 4, 5, 6 and 395 more, column tag: 400 cells, the first: '9.99E+14' has lost digits.  "
            "A spreadsheet cut it to a number.  Format the column as text and fill it in again."
        ),
        (
            "rows 3, 5, 7, 9, 11 and 195 more, column sex: 200 cells, the first: 'staer' is no sex known here. "
            "Did you mean 'steer'?"
        ),
    ]
