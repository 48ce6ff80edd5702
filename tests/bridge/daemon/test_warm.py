"""A daemon that is forked is as one that Python starts: `tests/support/warm.py`, by which most tests have theirs."""

import contextlib
import os
import resource
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import pytest

from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.daemon import CONFIG, Daemon, until
from tests.support.warm import ROOT, Forked


@pytest.fixture
def daemons(tmp_path: Path) -> Iterator[list[Daemon]]:
    """Two on ports and folders of their own."""
    with contextlib.ExitStack() as stack:
        made = []
        for name in ("forked", "started"):
            folder = tmp_path / name
            folder.mkdir()
            urls = {}
            for port in ("indicator", "panel"):
                stack.enter_context(PtyEnd(folder / port))
                urls[port] = f"serial:{folder / port}?baud=9600"
            made.append(Daemon(folder, CONFIG.format(**urls), 8.0))
            stack.callback(made[-1].close)
        yield made


def _state(daemon: Daemon) -> dict[str, object]:
    """Return what the kernel says of it: signals that it blocks, ignores and catches, and what it holds open."""
    assert daemon.process is not None
    at = Path(f"/proc/{daemon.process.pid}")
    lines = dict(line.split(":\t") for line in (at / "status").read_text().splitlines())
    return {
        "signals": {name: lines[name] for name in ("SigBlk", "SigIgn", "SigCgt")},
        "descriptors": [one.replace(f"/{daemon.folder.name}/", "/") for one in daemon.descriptors],
        "limit": next(one for one in (at / "limits").read_text().splitlines() if one.startswith("Max open files")),
        "folder": (at / "cwd").readlink(),
        "group": (at / "stat").read_text().rpartition(")")[2].split()[2:4],
    }


def test_the_kernel_sees_no_difference(daemons: list[Daemon], monkeypatch: pytest.MonkeyPatch) -> None:
    forked, started = daemons
    forked.start()
    monkeypatch.setattr("tests.support.daemon.Forked", _start)
    started.start()

    until(lambda: all("".join(one.descriptors).count("/dev/pts/") == 2 for one in daemons), "all ports are open")
    until(lambda: _state(forked) == _state(started), "them to be alike, once both are at rest", 60.0)

    assert [daemon.stop() for daemon in daemons] == [0, 0]


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


def test_its_limit_of_descriptors_is_that_of_who_asked_for_it(tmp_path: Path) -> None:
    """Not of the one that is forked, which began at another time."""

    def forked() -> Forked:
        return Forked("tests.support.web_recorder", "0", str(tmp_path))

    now, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    made = [forked()]
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (now - 1, most))
        made.append(forked())
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (now, most))
    try:
        for one, limit in zip(made, (now, now - 1), strict=True):
            pid = one.pid
            until(lambda: resource.prlimit(pid, resource.RLIMIT_NOFILE) == (limit, most), "it has its limit", 60.0)  # noqa: B023
    finally:
        for one in made:
            one.kill()
            one.__exit__()
