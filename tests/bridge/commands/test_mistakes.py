"""A hundred mistakes of a person: each is answered in plain words, none by a traceback (tests/support/mistakes.py)."""

import shlex
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from tests.support.mistakes import COMMANDS, CONFIG, IN_CONFIG, IN_ROSTER, IN_SHEET, ROSTER, SHEET

FILES = {"neckyoke.toml": CONFIG, "sheet.toml": SHEET, "roster.csv": ROSTER, "events.jsonl": "", "cap.jsonl": ""}
FILES["cap.jsonl"] = '{"capture":1,"started":"2026-11-24T02:11:00.000Z","site":"larkmoor"}\n'
WRITTEN = [
    *(("neckyoke.toml", *one) for one in IN_CONFIG),
    *(("sheet.toml", *one) for one in IN_SHEET),
    *(("roster.csv", *one) for one in IN_ROSTER),
]
OURS = (
    "Traceback",
    "Error(",
    "pydantic",
    "input should",
    "instance of",
    "valid dictionary",
    "Errno",
    "usage:",
    "tuple",
)
"""Words of programmers."""


def laid_out(folder: Path, changed: dict[str, str]) -> None:
    for name, text in {**FILES, **changed}.items():
        (folder / name).write_text(text, encoding="utf-8")


def said(capsys: pytest.CaptureFixture[str], words: list[str]) -> tuple[int, str]:
    """Run a command and give its exit code and all that it said; whatever else it raises is a traceback to a person."""
    try:
        code = main(words)
    except SystemExit as end:
        code = int(end.code or 0)
    told = capsys.readouterr()
    text = told.out + told.err
    assert not [word for word in OURS if word in text]
    return code, text


def test_there_are_a_hundred_of_them() -> None:
    assert len(WRITTEN) + len(COMMANDS) >= 100


@pytest.mark.parametrize(("name", "right", "wrong", "told"), WRITTEN)
def test_what_is_written_wrong(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    name: str,
    right: str,
    wrong: str,
    told: str,
) -> None:
    assert right in FILES[name]
    laid_out(tmp_path, {name: FILES[name].replace(right, wrong, 1)})
    monkeypatch.chdir(tmp_path)

    code, text = said(capsys, ["check", "neckyoke.toml" if name == "neckyoke.toml" else "sheet.toml"])

    assert told in text
    assert code == 2 or "look again: " in text
    line = next(line for line in text.splitlines() if told in line)
    assert name in line or ".toml" in line or "rooster.csv" in line or line.startswith("look again"), (
        "the file is named"
    )


@pytest.mark.parametrize(("typed", "told"), COMMANDS)
def test_what_is_typed_wrong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], typed: str, told: str
) -> None:
    laid_out(tmp_path, {})
    monkeypatch.chdir(tmp_path)

    code, text = said(capsys, shlex.split(typed))

    assert told in text
    assert code in {1, 2}


def test_what_is_right_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    laid_out(tmp_path, {"neckyoke.toml": "\ufeff" + CONFIG, "sheet.toml": "\ufeff" + SHEET})
    monkeypatch.chdir(tmp_path)

    assert said(capsys, ["check"])[0] == 0
