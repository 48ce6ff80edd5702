"""The README and the pages of `neckyoke help` tell the truth: what they show comes out, what they say can be done."""

import re
import shlex
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.asking.requests import Refusal, parse_request
from neckyoke.bridge.cli import COMMANDS, main
from neckyoke.bridge.commands.help import TOPICS
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.job.load import load_job
from tests.support.readme import PAGES, README, blocks, shown, text, written

TEXT = text()


@pytest.mark.long
def test_what_is_shown_is_what_comes_out(tmp_path: Path) -> None:
    # when this fails after a change for the better: python -m tests.support.readme
    assert written(TEXT) == shown(tmp_path)


def test_the_configuration_and_the_job_sheet_can_be_used_as_they_stand(tmp_path: Path) -> None:
    config = next(block for block in blocks("toml") if "site =" in block)
    sheet = next(block for block in blocks("toml") if "title =" in block)
    (tmp_path / "neckyoke.toml").write_text(config, encoding="utf-8")
    (tmp_path / "sheet.toml").write_text(sheet, encoding="utf-8")
    (tmp_path / "roster.csv").write_text("tag,visual,last_kg,last_date\n999000000112233,101,270,2026-09-23\n")

    assert load_config(tmp_path / "neckyoke.toml").stations["crush"].sheet == "sheet.toml"
    assert [pen.pen for pen in load_job(tmp_path / "sheet.toml", date(2026, 11, 24)).sheet.draft] == [
        "heavy",
        "light",
        "middle",
    ]


def test_every_command_it_names_exists() -> None:
    named = set(re.findall(r"(?:^|`|sudo |&& |/bin/)neckyoke ([a-z]+)", TEXT, re.MULTILINE))

    assert named
    assert named <= set(COMMANDS)


def test_whatever_it_says_to_tell_the_daemon_is_a_request_that_it_takes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[dict[str, Any]] = []

    async def daemon(_socket: Path, request: dict[str, Any]) -> dict[str, Any]:
        asked.append(request)
        return {"done": True, "text": ""}

    monkeypatch.setattr("neckyoke.bridge.asking.socket.ask", daemon)
    monkeypatch.chdir(tmp_path)
    Path("neckyoke.toml").write_text(next(block for block in blocks("toml") if "site =" in block), encoding="utf-8")
    Path("sheet.toml").write_text('title = "autumn weigh-in"\n', encoding="utf-8")
    lines = re.findall(r"^neckyoke (tell (?:\S+ ?)+)", TEXT, re.MULTILINE)  # two spaces end the command

    assert [main(shlex.split(line)) for line in lines] == [0] * len(lines)
    assert not [request for request in asked if isinstance(parse_request(request), Refusal)]
    assert {"kind": "correct", "job_number": 17, "tag": "999 000000112233"} in asked
    assert {"kind": "void", "job_number": 17, "reason": "two animals at once"} in asked


def test_every_page_of_reference_is_named_and_every_page_named_is_there() -> None:
    named = set(re.findall(r"`(?:neckyoke )?help ([a-z-]+)`", TEXT))

    assert named <= set(TOPICS)
    assert set(TOPICS) - named == {"exit-codes"}, "which are said there"
    assert {page.stem for page in PAGES} - {"README"} <= set(TOPICS)


def test_every_picture_is_there() -> None:
    pictures = re.findall(r'<img src="([^"]+)"', TEXT)

    assert pictures
    assert all((README.parent / picture).is_file() for picture in pictures)


def test_it_begins_with_the_job_and_then_the_two_commands() -> None:
    demo, tests = blocks("sh")[:2]

    assert len(README.read_bytes()) < 19_000, "reference belongs into bridge/reference/pages"
    assert TEXT.index("A mob is in the yards") < TEXT.index(demo)
    assert "neckyoke demo" in demo
    assert "pytest" in tests
