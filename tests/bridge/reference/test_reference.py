"""The pages of reference: made from the code, whole, and understood by the programs that they are for."""

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from neckyoke.bridge.asking.requests import KINDS
from neckyoke.bridge.cli import COMMANDS, main
from neckyoke.bridge.commands.help import TOPICS, commands
from neckyoke.bridge.config.model import Config, LinkTable
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import FLAG_TEXT
from neckyoke.bridge.job.sheet import Sheet


def page(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    capsys.readouterr()
    assert main(["help", *words]) == 0
    return capsys.readouterr().out


def test_without_a_topic_it_says_which_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(capsys)
    assert [line.split()[2] for line in said.splitlines()] == list(TOPICS)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_page_is_there_for_people_and_for_programs(capsys: pytest.CaptureFixture[str], topic: str) -> None:
    assert page(capsys, topic).strip()
    assert json.loads(page(capsys, topic, "--json"))


def test_every_flag_request_and_key_is_on_its_page(capsys: pytest.CaptureFixture[str]) -> None:
    flags, requests = json.loads(page(capsys, "flags", "--json")), json.loads(page(capsys, "requests", "--json"))
    assert flags == {flag.value: text for flag, text in FLAG_TEXT.items()}
    assert set(requests) == set(KINDS)
    assert all(requests.values())
    said = page(capsys, "keys")
    for model in (Config, LinkTable, OutletTable):
        for name, field in model.model_fields.items():
            assert field.exclude or re.search(rf"^  {name} |^\[+([\w.]+\.)?{name}[\].]", said, re.MULTILINE), name
    assert not re.search(r"^  (folder|source) ", said.split("[capture]")[0], re.MULTILINE), "what is ours is no key"
    assert all(re.search(rf"\b{field.alias or name}\b", page(capsys, "sheet"))
               for name, field in Sheet.model_fields.items() if not field.exclude)  # fmt: skip


def test_keys_say_what_they_take_and_what_holds_without_them(capsys: pytest.CaptureFixture[str]) -> None:
    lines = page(capsys, "keys").splitlines()
    assert '  layout               text, else "auto"' in lines
    assert "  capacity_kg          number, else 2000" in lines
    assert "  scale                text, needed" in lines
    assert '  position             "platform" or "ahead" or "hand", else "platform"' in lines
    assert "[[stations.NAME.readers]]" in lines


def test_the_manual_has_every_command_and_every_option(capsys: pytest.CaptureFixture[str]) -> None:
    manual = page(capsys, "man")
    for name, _, parser in commands():
        section = manual.partition(f".SS {name}\n")[2].split(".SS ")[0]
        assert section
        for option in (one for action in parser._actions for one in action.option_strings if action.dest != "help"):
            assert option.replace("-", r"\-") in section
    assert not [line for line in manual.splitlines() if line.startswith(("'", "..")) or re.search(r"(?<!\\)-", line)]


@pytest.mark.skipif(shutil.which("groff") is None, reason="groff sets manual pages; Debian's package groff-base has it")
def test_groff_has_nothing_against_the_manual(capsys: pytest.CaptureFixture[str]) -> None:
    set_ = subprocess.run(["groff", "-man", "-Tutf8", "-ww"], input=page(capsys, "man"), capture_output=True, text=True)  # noqa: PLW1510
    assert set_.stderr == ""
    assert "neckyoke - weigh animals" in " ".join(re.sub(r"\x1b\[[0-9;]*m|.\x08", "", set_.stdout).split())


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("neckyoke wat", ["watch"]),
        ("neckyoke tally --pi", ["--picture"]),
        ("neckyoke service in", ["install"]),
        ("neckyoke status --format op", ["openmetrics"]),
        ("neckyoke help exit", ["exit-codes"]),
    ],
)
def test_bash_completes(capsys: pytest.CaptureFixture[str], tmp_path: Path, typed: str, offered: list[str]) -> None:
    (tmp_path / "completion").write_text(page(capsys, "completion"))
    words = typed.split(" ")
    ask = (
        f"source {tmp_path}/completion; COMP_WORDS=({' '.join(map(repr, words))}); COMP_CWORD={len(words) - 1}; "
        f'_shtab_neckyoke neckyoke {words[-1]!r} {words[-2]!r}; printf "%s\\n" "${{COMPREPLY[@]}}"'
    )
    said = subprocess.run(["bash", "-c", ask], capture_output=True, text=True, check=False)
    assert said.stdout.split() == offered


def test_every_command_says_what_it_does() -> None:
    assert set(COMMANDS) == {name for name, _, _ in commands()}
