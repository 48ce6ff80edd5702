"""Which job a station has, and which sheets lie there to be chosen."""

import gc
import os
from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import TOML_MAX, ConfigError
from neckyoke.bridge.job.find import FoundSheets, find_job, sheet_path, sheets_beside
from neckyoke.bridge.job.kept import Given

TODAY = date(2026, 11, 24)


def _config(folder: Path, sheet: str | None = None) -> Config:
    station = {"scale": "indicator", "sheet": sheet}
    link = {"url": "tcp://127.0.0.1:4001"}
    config = Config.model_validate({"site": "larkmoor", "links": {"indicator": link}, "stations": {"crush": station}})
    return config.model_copy(update={"folder": folder})


def test_a_request_names_a_sheet_beside_the_configuration(tmp_path: Path) -> None:
    (tmp_path / "spring.toml").write_text('title = "spring"')

    assert find_job(_config(tmp_path), "crush", "spring.toml", TODAY).sheet.title == "spring"


@pytest.mark.parametrize("file", ["../spring.toml", "/etc/passwd"])
def test_a_request_cannot_reach_outside_the_folder(tmp_path: Path, file: str) -> None:
    with pytest.raises(ConfigError, match="not beside the configuration"):
        find_job(_config(tmp_path), "crush", file, TODAY)


def test_a_station_without_a_sheet_says_how_to_name_one(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r'set sheet = "sheet.toml" under \[stations.crush\]'):
        find_job(_config(tmp_path), "crush", None, TODAY)


def test_sheets_that_can_be_chosen_are_those_with_a_title(tmp_path: Path) -> None:
    (tmp_path / "neckyoke.toml").write_text('site = "larkmoor"')
    (tmp_path / "spring.toml").write_text('title = "spring"')
    (tmp_path / "torn.toml").write_text("title = ")

    assert sheets_beside(tmp_path) == ["spring.toml"]


def test_what_else_lies_there_by_such_a_name_is_no_sheet_and_stops_nothing(tmp_path: Path) -> None:
    """An editor's lock is a link that leads nowhere; a pipe would be waited for."""
    (tmp_path / "spring.toml").write_text('title = "spring"')
    (tmp_path / ".#spring.toml").symlink_to("someone@larkmoor.4711")
    (tmp_path / "lock.toml").symlink_to("nowhere")
    (tmp_path / "round.toml").symlink_to("round.toml")
    (tmp_path / "folder.toml").mkdir()
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "deep.toml").write_text("title = " + "[" * 100_000)
    (tmp_path / "large.toml").write_text("title = 1\n" + "#" * TOML_MAX)

    assert sheets_beside(tmp_path) == ["spring.toml"]
    for name in ("lock.toml", "round.toml", "folder.toml", "pipe.toml", "deep.toml", "large.toml"):
        with pytest.raises(ConfigError) as refused:
            find_job(_config(tmp_path), "crush", name, TODAY)
        assert len(refused.value.problems) == 1


@pytest.mark.parametrize(
    ("lie", "there", "found"),
    [
        ((), True, "own"),
        (("beside",), True, "beside"),
        (("own",), True, "own"),
        (("own", "beside"), True, "own"),
        (("beside",), False, "own"),  # to be written: the box writes into its own folder only
        (("own",), False, "own"),
    ],
)
def test_a_sheet_of_the_boxs_own_is_found_before_one_of_that_name_beside(
    tmp_path: Path, lie: tuple[str, ...], found: str, *, there: bool
) -> None:
    config = _config(tmp_path / "beside").model_copy(update={"state": str(tmp_path / "own")})
    places = {"own": config.state_path("sheets/weaning.toml"), "beside": config.path("sheets/weaning.toml")}
    assert places["own"] != places["beside"]
    for name in lie:
        places[name].parent.mkdir(parents=True)
        places[name].write_text('title = "Weaning"')
    assert sheet_path(config, "sheets/weaning.toml", there=there) == places[found]
    assert sheet_path(config, "weaning.toml", there=there) == config.path("weaning.toml")


def test_what_was_found_is_kept_and_a_replay_keeps_nothing_but_reads_what_the_daemon_kept(tmp_path: Path) -> None:
    folder = tmp_path / "farm"
    folder.mkdir()
    (folder / "spring.toml").write_text('title = "spring"')
    config = _config(folder, "spring.toml").model_copy(update={"state": str(tmp_path / "state")})
    daemon = FoundSheets(config, lambda: TODAY)
    ref, job = daemon.find("crush", None)
    assert (ref.title, job.sheet.title) == ("spring", "spring")
    assert (tmp_path / "state" / "sheets" / ref.digest / "sheet.toml").is_file()

    replay = FoundSheets(config, lambda: TODAY, lasting=False)
    theirs, _ = replay.take("crush", Given(b'title = "autumn"'), "autumn.toml")
    assert [replay.load(one).sheet.title for one in (ref.digest, theirs.digest)] == ["spring", "autumn"]
    with pytest.raises(ConfigError):
        daemon.load(theirs.digest)
    assert [path.name for path in (tmp_path / "state" / "sheets").iterdir()] == [ref.digest]
    temporary = replay._temporary
    assert temporary is not None
    assert temporary.is_dir()
    del replay
    gc.collect()
    assert not temporary.exists()
