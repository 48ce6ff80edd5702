"""A stand-in for systemd's Type=notify with a watchdog: starts a program, hears it, kills it when it falls silent.

As systemd.service(5), sd_notify(3) and sd_watchdog_enabled(3) say: the program is told where to report and how often to
feed; silent for WatchdogSec it gets SIGABRT, and whatever way it ends it is started again.
"""

import contextlib
import os
import signal
import socket
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Self


class Supervisor:
    """One supervised program.  `heard` is all that it reported; `endings` how each of its lives ended."""

    def __init__(self, command: Sequence[str], folder: Path, watchdog_s: float, *, cwd: Path | None = None) -> None:
        self.heard: list[str] = []
        self.endings: list[int] = []
        self._command = list(command)
        self._cwd = cwd
        self._watchdog_s = watchdog_s
        self._log = (folder / "supervised.log").open("ab")
        self._address = folder / "notify"
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(self._address))
        self._socket.settimeout(0.05)
        self.process = self._start()

    def _start(self) -> "subprocess.Popen[bytes]":
        given = {"NOTIFY_SOCKET": str(self._address), "WATCHDOG_USEC": str(int(self._watchdog_s * 1e6))}
        self._fed_at: float | None = None  # the watchdog counts from READY=1
        return subprocess.Popen(
            self._command, env={**os.environ, **given}, cwd=self._cwd, stdout=self._log, stderr=self._log
        )

    def turn(self) -> None:
        """Do what there is to do, for a moment."""
        with contextlib.suppress(TimeoutError):
            states = self._socket.recv(4096).decode().splitlines()
            self.heard += states
            if {"READY=1", "WATCHDOG=1"} & set(states):
                self._fed_at = time.monotonic()
        if self._fed_at is not None and time.monotonic() - self._fed_at > self._watchdog_s:
            self.process.send_signal(signal.SIGABRT)
            self.process.wait(30)
        if (code := self.process.poll()) is not None:
            self.endings.append(code)
            self.process = self._start()

    def until_heard(self, state: str, times: int = 1, deadline_s: float = 240.0) -> None:
        """Go on until a state was heard so many times."""
        end = time.monotonic() + deadline_s
        while self.heard.count(state) < times:
            assert time.monotonic() < end, f"{state} not heard {times} times in {deadline_s} s: {self.heard}"
            self.turn()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.process.kill()
        self.process.wait(30)
        self._socket.close()
        self._log.close()
