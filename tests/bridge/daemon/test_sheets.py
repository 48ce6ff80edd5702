"""What cannot be read of a station's job when the daemon begins is said until it is mended."""

from pathlib import Path

import pytest

from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.daemon.sheets import SheetsOfDay
from neckyoke.bridge.events import Attention
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.job.kept import Given
from neckyoke.bridge.telling.alerts import Troubles
from tests.support.daemon import CONFIG
from tests.support.events import DAY

SHEET = 'title = "Induction"\nroster = "roster.csv"\n'


def jobs(folder: Path) -> tuple[SheetsOfDay, list[Attention]]:
    config = CONFIG.format(indicator="tcp://127.0.0.1:1", panel="tcp://127.0.0.1:2")
    (folder / "neckyoke.toml").write_text(config.replace("[outlets", 'sheet = "sheet.toml"\n[outlets', 1))
    said = list[Attention]()
    found = FoundSheets(load_config(folder / "neckyoke.toml"), DAY.date)
    return SheetsOfDay(found, {"crush": Troubles(said.append, lambda: 0.0, "crush")}), said


def test_a_roster_that_is_not_there_is_a_trouble_until_it_is_found(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)
    found, said = jobs(tmp_path)
    first = found.first("crush")
    assert first is not None
    job = first[1]
    assert (job.sheet.title, job.roster) == ("Induction", None)
    assert [(one.station, one.about, one.over) for one in said] == [("crush", "roster", False)]
    assert "withholding, gain and who is expected are not known" in said[0].text
    assert "roster.csv" in said[0].text
    assert "neckyoke tell sheet" in said[0].text

    with pytest.raises(ConfigError):
        found.find("crush", None)
    assert len(said) == 1, "it is still not there"
    (tmp_path / "roster.csv").write_text("tag\n999000000112233\n")
    assert found.find("crush", None)[1].roster is not None
    assert [(one.station, one.about, one.over) for one in said[1:]] == [("crush", "roster", True)]


def test_a_sheet_that_is_wrong_is_a_trouble_until_it_is_mended(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text("title = ")
    found, said = jobs(tmp_path)
    assert found.first("crush") is None
    (tmp_path / "sheet.toml").write_text('title = "Induction"')
    found.find("crush", None)
    found.find("crush", None)
    assert [(one.about, one.over) for one in said] == [("sheet", False), ("sheet", True)]


def test_a_sheet_that_a_person_gives_ends_the_trouble_of_the_one_that_was_wrong(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)
    found, said = jobs(tmp_path)
    assert found.first("crush") is not None
    found.take("crush", Given(b'title = "Weaning"'), "weaning.toml")
    assert [(one.about, one.over) for one in said] == [("roster", False), ("roster", True)]


def test_a_whole_job_says_nothing(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)
    (tmp_path / "roster.csv").write_text("tag\n999000000112233\n")
    found, said = jobs(tmp_path)
    assert found.first("crush") is not None
    assert said == []
