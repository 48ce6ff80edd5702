"""Processes of our own programs that start in a twentieth of the time: forked from one that has imported the daemon.

They are real: a pid, signals, descriptors and an end of their own.  Where the start itself is the point, or the command
line, or a terminal, a test starts Python; that the two are alike is held by tests/bridge/daemon/test_warm.py.
"""

import atexit
import json
import os
import resource
import signal
import socket
import subprocess
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import IO, Any, Self

ROOT = Path(__file__).parents[2]
DEADLINE_S = 300.0


@cache
def _parent(_tests: int) -> socket.socket:
    """Start the one that is forked, once in each process of tests; return the way to it."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    command = [sys.executable, "-m", "tests.support.warm_parent", str(theirs.fileno())]
    process = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.DEVNULL, pass_fds=[theirs.fileno()])
    theirs.close()

    def end() -> None:
        ours.close()
        process.wait(DEADLINE_S)

    atexit.register(end)
    return ours


class Forked:
    """`python -m MODULE WORDS`, as subprocess.Popen would start it; where `stdout` is none, it is a pipe of text."""

    def __init__(
        self,
        module: str,
        *words: str,
        folder: Path = ROOT,
        environ: Mapping[str, str] = os.environ,
        stdout: IO[bytes] | int | None = None,
        stderr: IO[bytes] | int = 2,
    ) -> None:
        request: dict[str, Any] = {"module": module, "words": words, "folder": str(folder), "environ": dict(environ)}
        request["descriptors"] = resource.getrlimit(resource.RLIMIT_NOFILE)  # as a child of this process would have it
        self._answers, theirs = socket.socketpair()
        self.returncode: int | None = None
        self.stdout: IO[str] | None = None
        pipe = -1
        if stdout is None:
            read, pipe = os.pipe()
            self.stdout = os.fdopen(read)
        with theirs, Path(os.devnull).open("r+b", 0) as nothing:
            given = [nothing, pipe if stdout is None else stdout, stderr]
            given = [nothing if one == subprocess.DEVNULL else one for one in given]
            numbers = [one if isinstance(one, int) else one.fileno() for one in given]
            socket.send_fds(_parent(os.getpid()), [json.dumps(request).encode()], [theirs.fileno(), *numbers])
        if pipe >= 0:
            os.close(pipe)
        self.pid = self._told(DEADLINE_S)

    def _told(self, timeout_s: float) -> int:
        self._answers.settimeout(timeout_s)
        told = self._answers.recv(4)
        assert len(told) == 4, "the one that is forked has died"
        return int.from_bytes(told, "big", signed=True)

    def wait(self, timeout_s: float = DEADLINE_S) -> int:
        """Wait for its end; return its exit code, as subprocess.Popen says it."""
        if self.returncode is None:
            self.returncode = self._told(timeout_s)
            self._answers.close()
        return self.returncode

    def poll(self) -> int | None:
        """Return its exit code, if it has ended."""
        try:
            return self.wait(0.0)
        except BlockingIOError:
            return None

    def send_signal(self, number: int) -> None:
        """Send it a signal, if it lives."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        """Kill it."""
        self.send_signal(signal.SIGKILL)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.stdout is not None:
            self.stdout.close()
        self.wait()
