"""What a stranger stumbled over on the first day, each once: files as other programs write them, and odd folders."""

from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from tests.support.mistakes import CONFIG, ROSTER, SHEET


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name, text in {"neckyoke.toml": CONFIG, "sheet.toml": SHEET, "roster.csv": ROSTER}.items():
        (tmp_path / name).write_text(text)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("roster", "said"),
    [
        ("breed,pen\ncross,1\n", "row 1, column tag: there is no such column.  Name one column tag, or visual."),
        ("tag,visual\n9.82E+14,\n9.82E+14,\n", "'9.82E+14' has lost digits.  A spreadsheet cut it to a number."),
        ("tag,visual\n", "no animal can be read from it.  Without a roster: take the key 'roster' out of the sheet."),
    ],
)
def test_a_roster_without_an_animal_is_not_good_to_use(
    folder: Path, capsys: pytest.CaptureFixture[str], roster: str, said: str
) -> None:
    (folder / "roster.csv").write_text(roster)

    assert main(["check", "sheet.toml"]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert "Good to use" not in told.out


def test_a_spreadsheet_without_a_heading_that_is_known_is_not_good_to_use(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    book.active.append(["x", "y"])
    book.save(folder / "roster.xlsx")
    (folder / "sheet.toml").write_text(SHEET.replace("roster.csv", "roster.xlsx"))

    assert main(["check", "sheet.toml"]) == 2
    assert "roster.xlsx: row 1, column tag: there is no such column" in capsys.readouterr().err


def test_the_mark_that_some_editors_put_in_front_is_passed_over(folder: Path) -> None:
    (folder / "neckyoke.toml").write_text(CONFIG, encoding="utf-8-sig")
    (folder / "sheet.toml").write_text(SHEET, encoding="utf-8-sig")

    assert main(["check"]) == 0


def test_a_comma_in_a_number_is_told_with_how_it_is_written(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "sheet.toml").write_text(SHEET.replace("step_kg = 50", "step_kg = 10,0"))

    assert main(["check", "sheet.toml"]) == 2
    assert "step_kg = 10,0.  Numbers have a point, and nothing between thousands" in capsys.readouterr().err


def test_one_url_for_two_links_is_asked_about(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "neckyoke.toml").write_text(CONFIG.replace("4002", "4001"))

    assert main(["check"]) == 0
    assert "look again: [links.panel] url: is the url of link 'indicator' too" in capsys.readouterr().out
