"""`neckyoke tell keep`: a sheet put where the page lists it, by file and command."""

from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from tests.support.daemon import CONFIG, Daemon


def _sheets(daemon: Daemon) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = daemon.ask({"kind": "sheets"})["sheet"]["sheets"]
    return found


def test_a_sheet_is_kept_with_its_roster_and_one_of_the_same_title_is_replaced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    desk = tmp_path / "desk"
    desk.mkdir()
    (desk / "mob.csv").write_text("visual\n101\n102\n")
    sheet = desk / "weaners.toml"
    sheet.write_text('title = "Weaning"  # the board\nroster = "mob.csv"\n')
    daemon = Daemon(tmp_path, CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:10")).start()
    tell = ["tell", "--config", str(daemon.config)]
    try:
        assert main([*tell, "keep", str(sheet)]) == 0
        assert "Saved." in capsys.readouterr().out
        sheet.write_text(sheet.read_text() + 'mob = "north"\n')
        assert main([*tell, "keep", str(sheet)]) == 0
        assert main([*tell, "begin", "sheets/weaning.toml"]) == 0
        assert "Weaning" in capsys.readouterr().out
        assert [(one["file"], one["mob"]) for one in _sheets(daemon)] == [("sheets/weaning.toml", "north")]
        assert main([*tell, "keep", str(desk / "none.toml")]) == 1
    finally:
        daemon.stop()
    assert (tmp_path / "sheets/weaning.toml").read_text().startswith('title = "Weaning"  # the board\n')
    assert (tmp_path / "sheets/weaning.csv").read_text() == "visual\n101\n102\n"
