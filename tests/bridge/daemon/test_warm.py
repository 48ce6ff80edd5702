"""A daemon that is forked is as one that Python starts: `tests/support/warm.py`, by which most tests have theirs."""

import os
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import pytest

from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.daemon import CONFIG, Daemon, until
from tests.support.warm import ROOT, Forked

AT_REST = Counter({"/dev/pts/N": 2, "socket:[N]": 3})
"""Both ports; the socket that it listens on, and the two by which asyncio wakes its loop."""


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    with PtyEnd(tmp_path / "indicator"), PtyEnd(tmp_path / "panel"):
        urls = {name: f"serial:{tmp_path / name}?baud=9600" for name in ("indicator", "panel")}
        made = Daemon(tmp_path, CONFIG.format(**urls), 8.0)
        yield made
        made.close()


def _state(daemon: Daemon) -> dict[str, object]:
    """Return what the kernel says of it: signals that it blocks, ignores and catches, and what it holds open."""
    until(lambda: Counter(daemon.descriptors) >= AT_REST, "all is open")
    until(lambda: daemon.descriptors.count("socket:[N]") == AT_REST["socket:[N]"], "nobody asks any more")
    assert daemon.process is not None
    at = Path(f"/proc/{daemon.process.pid}")
    lines = dict(line.split(":\t") for line in (at / "status").read_text().splitlines())
    return {
        "signals": {name: lines[name] for name in ("SigBlk", "SigIgn", "SigCgt")},
        "descriptors": daemon.descriptors,
        "folder": (at / "cwd").readlink(),
        "group": (at / "stat").read_text().rpartition(")")[2].split()[2:4],
    }


def test_the_kernel_sees_no_difference(daemon: Daemon, monkeypatch: pytest.MonkeyPatch) -> None:
    states = []
    for started in (False, True):
        if started:
            monkeypatch.setattr("tests.support.daemon.Forked", _start)
        daemon.start()
        states.append(_state(daemon))
        assert daemon.stop() == 0
    assert states[0] == states[1]


def _start(module: str, *words: str, stdout: IO[bytes], stderr: IO[bytes]) -> "subprocess.Popen[bytes]":
    command = [sys.executable, "-m", module, *words]
    return subprocess.Popen(command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=stdout, stderr=stderr)


@pytest.mark.parametrize(("words", "code"), [(["--help"], 0), (["--none-such"], 2), (["/nowhere"], None)])
def test_it_says_and_ends_as_python_itself_lets_it(words: list[str], code: int | None, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "json.tool", *words]  # of the standard library: any will do
    ran = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    with (tmp_path / "errors").open("w+b") as errors:
        forked = Forked("json.tool", *words, folder=tmp_path, stderr=errors)
        assert forked.stdout is not None
        with forked:
            assert forked.stdout.read() == ran.stdout
            assert forked.wait() == ran.returncode
        errors.seek(0)
        assert errors.read().decode().splitlines()[-1:] == ran.stderr.splitlines()[-1:]  # of a traceback, the last
    assert code is None or ran.returncode == code


def test_each_is_a_process_of_its_own_that_can_be_killed(tmp_path: Path) -> None:
    far = [Forked("tests.support.web_recorder", "0", str(tmp_path)) for _ in range(2)]
    try:
        assert len({os.getpid(), *(one.pid for one in far)}) == 3
        far[0].kill()
        assert far[0].wait() == -signal.SIGKILL
        assert far[1].poll() is None
        os.kill(far[1].pid, 0)
        far[1].send_signal(signal.SIGTERM)
        assert far[1].wait() == -signal.SIGTERM
        far[1].kill()  # has ended: nobody else is meant
    finally:
        for one in far:
            one.kill()
            one.__exit__()
