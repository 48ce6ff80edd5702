"""The README's everyday commands after its installation: they find the configuration, and say when root is needed."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from tests.support.daemon import CONFIG, ROOT

EVERYDAY = (["status"], ["watch"], ["tell", "zero"], ["tally"], ["export"], ["page", "code"])
CHECK = ["check", "--devices", "--seconds", "0.1"]
NO_ROOT = ("setpriv", "--bounding-set=-dac_override,-dac_read_search")
"""Root without what lets root into every folder (capabilities(7))."""
every_day = pytest.mark.parametrize("words", EVERYDAY, ids=lambda words: words[0])


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An installation's folder: a configuration, and a state folder as systemd makes it for DynamicUser=.

    That is a link into a folder where only root comes.
    """
    private, elsewhere = tmp_path / "private", tmp_path / "elsewhere"
    (private / "state").mkdir(parents=True)
    (tmp_path / "state").symlink_to("private/state")
    elsewhere.mkdir()
    text = CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:9")
    (tmp_path / "neckyoke.toml").write_text(f'state = "{tmp_path}/state"\n{text}[page]\n', encoding="utf-8")
    monkeypatch.setattr("neckyoke.bridge.config.model.INSTALLED", tmp_path)
    monkeypatch.chdir(elsewhere)
    yield tmp_path
    private.chmod(0o700)


def as_an_ordinary_user(installed: Path, words: list[str]) -> tuple[int, str]:
    """Run a command that may not look into the state folder; return its exit code and all it said."""
    (installed / "private").chmod(0)
    command = [sys.executable, "-m", "neckyoke.bridge.cli", *words, "--config", str(installed / "neckyoke.toml")]
    drop = NO_ROOT if os.geteuid() == 0 else ()
    ran = subprocess.run([*drop, *command], cwd=ROOT, capture_output=True, text=True, check=False)
    return ran.returncode, ran.stdout + ran.stderr


@every_day
def test_the_installed_configuration_is_found(
    installed: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    main(words)

    said = capsys.readouterr()
    assert "no such file" not in said.err
    assert str(installed / "state") in said.err or "Access code" in said.out


@every_day
def test_without_any_both_places_are_named(
    installed: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    (installed / "neckyoke.toml").unlink()

    assert main(words) == 2
    assert f"neckyoke.toml: file: is neither here nor in {installed}" in capsys.readouterr().err


def test_one_in_this_folder_comes_first(installed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("neckyoke.toml").write_text('site = "here"', encoding="utf-8")

    assert main(["check"]) == 2
    assert "neckyoke.toml: links: the key 'links' is missing" in capsys.readouterr().err


@pytest.mark.parametrize("words", [*EVERYDAY, ["status", "--troubles"], CHECK], ids=" ".join)
def test_what_only_root_may_look_at_is_said(installed: Path, words: list[str]) -> None:
    code, said = as_an_ordinary_user(installed, words)

    assert code in {1, 2}, said
    assert str(installed / "state") in said
    assert "run it with sudo" in said or "may not open" in said
    assert "Traceback" not in said


def test_the_daemon_itself_is_left_to_systemd(installed: Path) -> None:
    code, said = as_an_ordinary_user(installed, ["run"])

    assert code == 1
    assert f"this user may not use {installed / 'state'}; once installed it is started by: sudo systemctl start" in said
