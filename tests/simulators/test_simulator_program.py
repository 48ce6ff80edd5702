"""`python -m neckyoke.simulators` as a person runs it."""

import json
import os
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from neckyoke.simulators.__main__ import main

DEADLINE_S = 120.0


def test_a_capture_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["calm", "--animals", "3", "--capture", str(tmp_path / "day.jsonl")])
    assert capsys.readouterr().out.startswith("3 stays, ")
    lines = (tmp_path / "day.jsonl").read_text().splitlines()
    assert json.loads(lines[0])["site"] == "larkmoor"
    assert {json.loads(line)["link"] for line in lines[1:]} == {"indicator", "panel"}


def test_an_unknown_scenario_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["storm"])
    assert "larkmoor" in capsys.readouterr().err


def test_ptys_carry_the_day_until_it_is_stopped(tmp_path: Path) -> None:
    program = [
        sys.executable,
        "-m",
        "neckyoke.simulators",
        "calm",
        "--animals",
        "9",
        "--folder",
        str(tmp_path),
        "--speed",
        "4",
    ]
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        offered = [running.stdout.readline() for _ in range(2)]
        paths = [Path(found[1]) for line in offered if (found := re.search(r'"serial:(.*)"', line))]
        assert [path.name for path in paths] == ["indicator", "panel"]
        port = os.open(paths[0], os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        heard, until = b"", time.monotonic() + DEADLINE_S
        while heard.count(b"kg\r\n") < 50 and time.monotonic() < until:
            if select.select([port], [], [], 1.0)[0]:
                heard += os.read(port, 4096)
        os.close(port)
        assert heard.count(b"kg\r\n") >= 50
        running.send_signal(signal.SIGINT)
        running.wait(DEADLINE_S)
    assert running.returncode == 0
    assert not any(path.is_symlink() for path in paths)


def test_tcp_ports_are_offered() -> None:
    program = [
        sys.executable,
        "-m",
        "neckyoke.simulators",
        "tags-two-readers",
        "--animals",
        "0",
        "--tcp",
        "--speed",
        "100",
    ]
    done = subprocess.run(program, capture_output=True, text=True, check=True, timeout=DEADLINE_S)
    assert re.findall(r"^(\w+) +url = \"tcp://127.0.0.1:\d+\"$", done.stdout, re.MULTILINE) == [
        "indicator",
        "panel",
        "race",
    ]
