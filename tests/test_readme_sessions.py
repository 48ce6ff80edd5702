"""Every block of the README and of the pages of reference is tried: sessions, lines of commands, and the installation.

The first two blocks of the README are run by `.ci/run`, its installation on a real root by `tests/bench/clean_root.sh`;
here that runs with stand-ins for what would change this machine.
"""

import contextlib
import json
import re
import shlex
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.help import commands
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Tag, Weighing, Weight
from neckyoke.bridge.outlets.database.tables import schema, statements
from tests.support.crush import LAMBS, STEERS, Crush
from tests.support.daemon import ROOT
from tests.support.readme import BLOCK, PAGES, README, blocks, text

TEXT = text()
ELSEWHERE = (  # how a block begins that a test of its own holds
    r'\{"specversion"',  # below
    r"neckyoke\.weighing ",  # below
    r"neckyoke/<site>/status",  # outlets/…/test_asyncapi.py has the same topics from the code
    r"user crush\n",  # below
    r"listener 1883",  # daemon/test_many_sheds.py, with two real brokers
    r"select w\.tag",  # below
)


DAY = ROOT / "tests" / "days" / "larkmoor"


def _plain() -> list[str]:
    """Return the blocks that are neither code nor shown by `tests.support.readme`."""
    every = re.findall(r"^```([a-z]*)\n(.*?)^```$", BLOCK.sub("", TEXT), re.DOTALL | re.MULTILINE)
    return [block for kind, block in every if not kind]


def test_no_block_goes_untried() -> None:
    for block in _plain():
        is_lines = all(
            re.match(r"(\$ )?neckyoke \w+|\s|[A-Z]|selection|sheet\.toml:|\.\.\.", one) for one in block.splitlines()
        )
        assert is_lines or re.match("|".join(ELSEWHERE), block), block
    assert set(re.findall(r"^```([a-z]+)$", TEXT, re.MULTILINE)) == {"sh", "toml", "json", "python"}


def _lines() -> list[str]:
    found = [line for block in _plain() for line in block.splitlines()]
    return [re.split(r" {2,}", one.removeprefix("$ "))[0] for one in found if re.match(r"(\$ )?neckyoke [a-z]+ ?", one)]


@pytest.mark.parametrize("line", sorted({one for one in _lines() if not one.startswith(("neckyoke.", "neckyoke/"))}))
def test_every_line_of_a_command_can_be_typed(line: str) -> None:
    name, *words = shlex.split(line)[1:]
    parser = {name: parser for name, _, parser in commands()}[name]

    parser.parse_intermixed_args([word.replace("…", "0") for word in words])  # ends the program where it is wrong


@pytest.mark.parametrize("listed", [True, False])
def test_the_sheet_of_the_night_before_is_checked_as_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *, listed: bool
) -> None:
    """With a roster of the columns that it names; and with the line left out, where there is none."""
    (sheet,) = (block for block in blocks("toml", README.read_text(encoding="utf-8")) if "[[treatments]]" in block)
    (columns,) = re.findall(r"# its columns: (.*);$", sheet, re.MULTILINE)
    monkeypatch.chdir(tmp_path)
    Path("sheet.toml").write_text(sheet if listed else re.sub(r"^roster = .*\n", "", sheet, flags=re.MULTILINE))
    rows = (f"99900000000{n},{n},2025-09-01,steer,300,2026-10-13," for n in range(1000, 1039))
    Path("roster.csv").write_text("\n".join([columns.replace(" ", ""), *rows]) + "\n")
    (session,) = (block for block in _plain() if block.startswith("$ neckyoke check sheet.toml"))
    shown = session.partition("\n")[2]

    assert main(["check", "sheet.toml"]) == 0
    assert capsys.readouterr().out == (shown if listed else shown.replace(", 39 animals on the roster", ""))


def test_the_session_of_two_jobs_is_what_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    crush = Crush(tmp_path)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "steers.toml").write_text(STEERS)
    (tmp_path / "lambs.toml").write_text(LAMBS)

    async def daemon(_socket: Path, request: dict[str, Any]) -> dict[str, Any]:
        answer = crush.say(request.pop("kind"), **request)
        return {"done": answer.done, "text": answer.text}

    monkeypatch.setattr("neckyoke.bridge.asking.socket.ask", daemon)

    def resumed() -> None:
        crush.wait(600.0)  # the other mob is fetched

    meanwhile: dict[str, Callable[[], object]] = {
        "steers": lambda: crush.weigh(0, 2),
        "pause": lambda: crush.weigh(2, 3),
        "resume": resumed,
        "lambs": lambda: crush.weigh(3),
    }
    said = []
    (session,) = (block for block in _plain() if block.startswith("$ neckyoke tell begin"))
    for line in re.findall(r"^\$ neckyoke (.*)$", session, re.MULTILINE):
        main(shlex.split(line))
        shown = capsys.readouterr()
        said.append(f"$ neckyoke {line}\n{shown.out}{shown.err}")
        for word, animals in meanwhile.items():
            if word in line:
                animals()
    assert "".join(said) == session

    (jobs,) = (block for block in _plain() if block.startswith("$ neckyoke jobs"))
    lines = (event.to_json() for event in crush.events)
    (tmp_path / "events.jsonl").write_text("\n".join(lines) + "\n")
    assert main(["jobs", "events.jsonl", "--timezone", "Pacific/Auckland"]) == 0
    listed = capsys.readouterr().out
    assert main(["export", "events.jsonl", "--title", "Heifers", "--timezone", "Pacific/Auckland"]) == 2
    assert f"$ neckyoke jobs\n{listed}$ neckyoke export --title Heifers\n{capsys.readouterr().err}" == jobs


def test_the_example_of_an_event_has_the_parts_of_one() -> None:
    (example,) = blocks("json")
    event = json.loads(example)
    weighing = event["data"]

    assert set(weighing) <= set(Weighing.model_fields)
    assert set(weighing["tag"]) <= set(Tag.model_fields)
    assert set(weighing["weight"]) <= set(Weight.model_fields)


STAND_INS = {
    "sudo": 'exec "$@"',
    "apt-get": 'echo "apt-get $*" >>"$T/log"',
    "systemctl": 'echo "systemctl $*" >>"$T/log"',
    "usermod": 'echo "usermod $*" >>"$T/log"',
    "python3": '[ "$1 $2" = "-m venv" ] && mkdir -p "$3/bin" && cp "$T/bin/neckyoke" "$T/bin/pip" "$3/bin/"',
    "pip": 'echo "pip $*" >>"$T/log"',
    "neckyoke": (
        'case "$1" in status) exit 0 ;; service) set -- "$@" --root "$T" --config "$T/etc/neckyoke/neckyoke.toml" ;;\n'
        'restore) set -- "$@" --config "$T/etc/neckyoke/neckyoke.toml" ;;\n'
        "check) set -- check ;;\n"
        'esac\ncd "$T/etc/neckyoke" && exec "$PYTHON" -m neckyoke.bridge.cli "$@"'
    ),
}
"""Programs of the installation, so that nothing of this machine is touched; `neckyoke` is the real one, in a folder."""


@pytest.mark.long
def test_the_installation_can_be_typed_from_its_first_word_to_its_last(tmp_path: Path) -> None:
    (tmp_path / "bin").mkdir()
    for program, does in STAND_INS.items():
        path = tmp_path / "bin" / program
        path.write_text(f"#!/bin/bash\n{does}\n")
        path.chmod(path.stat().st_mode | stat.S_IXUSR)
    (tmp_path / "usr/local/bin").mkdir(parents=True)
    installation = README.read_text().partition("## Install on")[2].partition("## When something")[0]
    typed = [block for block in blocks("sh", installation) if ".ci/deb" not in block]  # .ci/deb-check has that

    for block in typed:
        if "neckyoke restore" in block:  # on another box
            (tmp_path / "etc/neckyoke").rename(tmp_path / "etc/old")
            (tmp_path / "etc/neckyoke").mkdir()
            (tmp_path / "etc/old/larkmoor.backup").rename(tmp_path / "etc/neckyoke/larkmoor.backup")
        here = re.sub(r"(?<![\w.])/(opt|etc|usr/local)/", rf"{tmp_path}/\1/", block)
        environ = {
            "PATH": f"{tmp_path}/usr/local/bin:{tmp_path}/bin:/usr/bin:/bin",
            "T": str(tmp_path), "PYTHON": sys.executable, "PYTHONPATH": str(ROOT / ".src"), "USER": "pat",
        }  # fmt: skip
        if "neckyoke backup" in block:
            _weigh_one(tmp_path / "etc/neckyoke/neckyoke.db")
        ran = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", here],
            env=environ,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=False,
        )
        assert ran.returncode == 0, block + ran.stdout + ran.stderr
    log = (tmp_path / "log").read_text()
    assert "pip install .[page]" in log
    assert "usermod -aG dialout pat" in log
    assert log.count("systemctl enable --now neckyoke") == 2


def _weigh_one(journal: Path) -> None:
    from neckyoke.bridge.journal.journal import Journal
    from tests.support.events import weighed
    from tests.support.running import run

    async def weigh() -> None:
        store = await Journal.open(journal)
        await store.append([weighed(1)])
        await store.close()

    run(weigh())


def test_the_pages_are_all_read() -> None:
    assert len(PAGES) >= 12


def test_the_question_to_a_database_finds_who_is_not_clear_yet() -> None:
    """Asked of SQLite after the committed day, beside a plain reader of the same events."""
    (question,) = (block for block in _plain() if block.startswith("select w.tag"))
    newest: dict[str, dict[str, Any]] = {}
    with contextlib.closing(sqlite3.connect(":memory:")) as farm:
        for statement in schema():
            farm.execute(statement)
        for replayed in replay(read_capture(DAY / "capture.jsonl.gz"), load_config(DAY / "neckyoke.toml")):
            event = json.loads(replayed.to_json())
            for statement, values in statements(event):
                farm.execute(statement, values)
            if event["type"] == "neckyoke.weighing":
                newest[event["data"]["weighing"]] = event["data"]
        found = farm.execute(question).fetchall()

    expected = [
        ((data["tag"] or {}).get("id"), (data.get("animal") or {}).get("visual"), one["name"], one["withheld_until"])
        for data in newest.values()
        for one in data.get("treatments", [])
        if "voided" not in data["flags"] and not one.get("skipped") and (one.get("withheld_until") or "") > "2026-12-01"
    ]
    assert expected
    assert sorted(found, key=str) == sorted(expected, key=str)
