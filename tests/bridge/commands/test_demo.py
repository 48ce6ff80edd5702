"""The demo as a stranger meets it: it speaks at once, runs only what was installed, and says what to do next."""

import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from neckyoke.bridge.cli import COMMANDS, main

PROGRAM = Path(sys.executable).with_name("neckyoke")
ANIMALS = 8


def test_a_folder_of_the_same_names_is_not_run_and_a_pipe_hears_at_once(tmp_path: Path) -> None:
    for name in ("neckyoke", "neckyoke/bridge", "bridge"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "__init__.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()\n")
    with subprocess.Popen([PROGRAM, "demo"], cwd=tmp_path, stdout=subprocess.PIPE, text=True) as demo:
        assert demo.stdout is not None
        first, second = (next(line for line in demo.stdout if line.strip()) for _ in range(2))
        header = next(line for line in demo.stdout if "tag" in line)
        waited_for = {"indicator: up", "panel: up"}  # in either order; told also when up before the demo watched
        for line in demo.stdout:  # ends by itself with the demo's day, should one of them never be told
            waited_for -= {line.strip(" ·\n")}
            if not waited_for:
                break
        running = demo.poll() is None
        demo.send_signal(signal.SIGINT)

    assert first.startswith("Larkmoor, crush.  8 simulated steers")
    assert "the first animal is weighed in a quarter of a minute" in second
    assert header.split()[:3] == ["no.", "tag", "weight"]
    assert not waited_for
    assert running
    assert not (tmp_path / "ran").exists()


def test_it_ends_at_once_and_quietly_when_nobody_reads_on(tmp_path: Path) -> None:
    with subprocess.Popen(
        [PROGRAM, "demo"], cwd=tmp_path, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as demo:
        assert demo.stdout is not None
        assert demo.stderr is not None
        next(line for line in demo.stdout if "tag" in line)
        demo.stdout.close()  # as `| head` does
        said = demo.stderr.read()

    assert demo.returncode == 0
    assert not said
    weighed = (tmp_path / "neckyoke-demo" / "events.jsonl").read_text().count("neckyoke.weighing")
    assert weighed < ANIMALS / 2


def test_it_ends_with_what_to_do_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "--fast", "--animals", "2"]) == 0

    told = capsys.readouterr().out.partition("What next:\n")[2]
    lines = [line.strip().split("   ")[0] for line in told.splitlines()]
    named = [re.fullmatch(r"neckyoke (\S+) .*|neckyoke (\S+)", line) for line in lines]
    assert {found and (found[1] or found[2]) for found in named} <= set(COMMANDS)
    for line in (line for line in lines if "neckyoke-demo/" in line):
        assert main(line.split()[1:]) == 0
