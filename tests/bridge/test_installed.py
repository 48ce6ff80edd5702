"""The README's everyday commands after its installation: they find the configuration, and say when root is needed."""

import importlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.cli import COMMANDS, main
from tests.support.daemon import CONFIG

NOBODY = 65534
LATER = ("service", "check_devices", "log", "store", "links.tcp", "outlets.file")
"""What commands import when they need it; a Python that belongs to root can be read by nobody else."""
EVERYDAY = (["status"], ["watch"], ["tell", "zero"], ["tally"], ["export"], ["page", "code"])
every_day = pytest.mark.parametrize("words", EVERYDAY, ids=lambda words: words[0])


@pytest.fixture
def installed(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An installation's folder: a configuration for all to read, and a state folder where only its owner comes.

    As systemd makes it for DynamicUser=: a link to what lies in a folder that belongs to root.
    """
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        state, elsewhere = folder / "state", folder / "elsewhere"
        (folder / "private").mkdir(mode=0o700)
        (folder / "private" / "state").mkdir()
        state.symlink_to("private/state")
        elsewhere.mkdir()
        text = f'state = "{state}"\n' + CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:9")
        (folder / "neckyoke.toml").write_text(text + "[page]\n", encoding="utf-8")
        folder.chmod(0o755)
        monkeypatch.setattr("bridge.config.INSTALLED", folder)
        monkeypatch.chdir(elsewhere)
        yield folder


@pytest.fixture
def ordinary(installed: Path) -> Iterator[Path]:
    """The same, the test being no longer root, nor the owner of the state folder."""
    for module in (*LATER, *(f"commands.{name}" for name in COMMANDS)):
        importlib.import_module(f"bridge.{module}")
    owner = os.geteuid()
    if owner == 0:
        os.seteuid(NOBODY)
    else:
        (installed / "private").chmod(0)
    yield installed
    os.seteuid(owner)
    (installed / "private").chmod(0o700)


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


CHECK = ["check", "--devices", "--seconds", "0.1"]


@pytest.mark.parametrize("words", [*EVERYDAY[3:], ["status", "--troubles"], CHECK], ids=" ".join)
def test_what_only_root_may_look_at_is_said(
    ordinary: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    assert main(words) in {1, 2}
    said = "".join(capsys.readouterr())
    assert str(ordinary / "state") in said
    assert "run it with sudo" in said


def test_the_daemon_itself_is_left_to_systemd(ordinary: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run"]) == 1
    said = capsys.readouterr().err
    assert f"this user may not use {ordinary / 'state'}" in said
    assert "sudo systemctl start neckyoke" in said
