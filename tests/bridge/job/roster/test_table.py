"""A workbook's first sheet, read as the CSV that a spreadsheet would make of it."""

from datetime import date, datetime
from pathlib import Path

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.roster.table import Csv, read_table


def workbook(path: Path) -> Path:
    """Write two sheets, by openpyxl: the second is of something else."""
    import openpyxl

    book = openpyxl.Workbook()
    first = book.active
    assert first is not None
    for row in (
        [],
        ["Tag", "Born", " Last KG ", "sold", None],
        [999000000112233.0, date(2026, 1, 2), 318.5, True, None],
        [None, datetime(2026, 1, 2, 6, 30), 318, False, "=1+1"],  # noqa: DTZ001  # workbooks know no zones
    ):
        first.append(row)
    book.create_sheet("prices").append(["name", "price"])
    book.save(path)
    return path


def test_cells_are_spelled_as_a_csv_has_them(tmp_path: Path, no_leaks: None) -> None:
    found = read_table(workbook(tmp_path / "Roster.XLSX"))
    assert found.header == ("tag", "born", "last_kg", "sold", "")
    assert [*found.numbered] == [
        (2, []),
        (3, ["999000000112233", "2026-01-02", "318.5", "yes", ""]),
        (4, ["", "2026-01-02 06:30:00", "318", "no", ""]),  # nobody has worked the formula out yet
    ]


def test_a_part_of_a_file_keeps_the_numbers_of_its_rows(tmp_path: Path) -> None:
    part = Csv(tmp_path, ("tag",), (["a"], ["b"]), (4, 9))
    assert [*part.numbered] == [(4, ["a"]), (9, ["b"])]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("none.xlsx", None, "there is no such file"),
        ("none.csv", None, "there is no such file"),
        ("torn.xlsx", b"PK\x03\x04 and no more", "is no .xlsx"),
        ("book.csv", b"PK\x03\x04 and more", "is a spreadsheet program's own file"),
        ("old.csv", b"\xd0\xcf\x11\xe0 and more", "is a spreadsheet program's own file"),
        ("endless.csv", b"tag\n" + b"9" * 200_000, "is no CSV"),
    ],
)
def test_what_cannot_be_read_is_said_with_what_to_do(
    tmp_path: Path, name: str, content: bytes | None, said: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(ConfigError) as refused:
        read_table(tmp_path / name)
    (problem,) = refused.value.problems
    assert said in problem.what
    assert "CSV" in problem.hint
    assert (problem.file, problem.where) == (str(tmp_path / name), "file")
