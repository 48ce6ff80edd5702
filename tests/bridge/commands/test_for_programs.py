"""Every command that prints facts prints them for a program too: one JSON document on standard output, nothing else."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import COMMANDS, main
from neckyoke.bridge.commands import ports
from neckyoke.bridge.commands.help import commands
from neckyoke.simulators.day import lay_out, record
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG
from tests.support.events import weighed
from tests.support.running import run

PLAIN = {
    "run": "serves",
    "demo": "shows",
    "service": "writes a unit",
    "schema": "is JSON already",
    "export": "has --format jsonl",
}
"""Commands without --json, and why."""


def test_every_command_has_it_or_a_reason_not_to() -> None:
    have = {name for name, _, parser in commands() if "--json" in parser._option_string_actions}

    assert have | set(PLAIN) == set(COMMANDS)
    assert not have & set(PLAIN)


@pytest.fixture
def shed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a configuration, a sheet, a roster, a capture, and a journal of three weighings."""
    from neckyoke.bridge.journal.journal import Journal

    yard = Yard.named("larkmoor-untagged", seed=7, animals=4)
    record(yard, lay_out(yard, tmp_path))
    text = CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:10")
    (tmp_path / "neckyoke.toml").write_text(text + '[page]\nlisten = "127.0.0.1:8370"\n')
    (tmp_path / "herd.csv").write_text("tag,visual\n999000000112233,101\n")

    async def weigh() -> None:
        journal = await Journal.open(tmp_path / "neckyoke.db")
        await journal.append([weighed(number) for number in (1, 2, 3)])
        await journal.close()

    run(weigh())
    monkeypatch.chdir(tmp_path)
    return tmp_path


Printed = Callable[..., Any]


@pytest.fixture
def printed(capsys: pytest.CaptureFixture[str]) -> Printed:
    def run_command(*words: str, code: int = 0) -> Any:
        assert main([*words, "--json"]) == code, capsys.readouterr().err
        return json.loads(capsys.readouterr().out)

    return run_command


@pytest.mark.usefixtures("shed")
def test_what_is_looked_up_and_looked_back_on(printed: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ports, "find_ports", list)

    assert printed("ports", "--no-bluetooth") == {"ports": []}
    assert printed("check", "sheet.toml")["animals"] == 3
    checked = printed("check")
    assert (checked["good"], checked["site"]) == (True, "larkmoor")
    assert printed("jobs")[0]["animals"] == 3
    assert printed("status", "--troubles") == []
    assert printed("withheld")["animals"] == []
    assert printed("page", "code")["address"] == "http://127.0.0.1:8370/"
    assert len(printed("replay", "capture.jsonl.gz", "--explain", "2")["pages"]) == 1


@pytest.mark.usefixtures("shed")
def test_the_herd_in_and_out(printed: Printed) -> None:
    assert printed("herd", "import", "herd.csv") == {"taken": 1, "animals": 1, "doubts": []}
    assert [one["visuals"] for one in printed("herd")] == [["101"]]
    assert printed("herd", "show", "101")["animal"]["tags"][0]["id"] == "999000000112233"
    assert printed("herd", "export", "out.csv") == {"animals": 1, "file": "out.csv"}
    assert printed("herd", "rebuild") == {"mended": 0}


def test_backup_and_restore(shed: Path, printed: Printed) -> None:
    assert printed("backup", "b")["weighings"] == 3
    assert printed("restore", "b", "--look")["whole"] is True
    done = printed("restore", "b", "--config", str(shed / "new" / "neckyoke.toml"))["done"]
    assert any("3 weighings" in said for said in done)


def test_what_cannot_be_used_is_told_so_too(
    tmp_path: Path, printed: Printed, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "neckyoke.toml").write_text('site = "larkmoor"\ncolour = 1\n')
    capsys.readouterr()
    problems = printed("check", str(tmp_path / "neckyoke.toml"), code=2)["problems"]

    assert {"file", "where", "what", "hint"} == set(problems[0])
    assert any("colour" in problem["where"] for problem in problems)


def test_an_answer_is_passed_on_as_it_came(shed: Path, printed: Printed, monkeypatch: pytest.MonkeyPatch) -> None:
    async def daemon(_socket: Path, request: dict[str, Any]) -> dict[str, Any]:
        return {"done": True, "text": request["kind"], "weighing": "w"}

    monkeypatch.setattr("neckyoke.bridge.asking.socket.ask", daemon)
    assert printed("tell", "zero") == {"done": True, "text": "zero", "weighing": "w"}
