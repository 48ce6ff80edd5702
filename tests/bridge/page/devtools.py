"""The DevTools protocol over two pipes: a browser of our own starting, and commands that wait for their answers.

Each message is a JSON object that ends with a zero byte; a command has an `id` that its answer repeats, all else is an
event (https://chromedevtools.github.io/devtools-protocol/).  The browser reads descriptor 3 and writes descriptor 4.
"""

import json
import os
import select
import shutil
import signal
import subprocess
import time
from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import Any

SHELL = "chromium-headless-shell"
DEADLINE_S = 120.0


class DevTools:
    """A browser process, and the commands it takes.  `events` holds what it told meanwhile, in order."""

    def __init__(self, flags: Sequence[str], log: Path) -> None:
        shell = shutil.which(SHELL)
        assert shell, f"{SHELL} is missing; .ci/needs installs it"
        self.events: deque[dict[str, Any]] = deque()
        self._log, self._rest, self._count = log, b"", 0
        reads, self._out = os.pipe()
        self._in, writes = os.pipe()
        wired = f'exec "$0" "$@" 3<&{reads} 4>&{writes}'
        with log.open("wb") as out:
            self._process = subprocess.Popen(
                ["bash", "-c", wired, shell, "--remote-debugging-pipe", *flags],
                stdin=subprocess.DEVNULL, stdout=out, stderr=out,
                pass_fds=[reads, writes],
                start_new_session=True,  # Debian's is a script: the browser is its child
            )  # fmt: skip
        os.close(reads)
        os.close(writes)

    @property
    def ended(self) -> bool:
        """Whether it has ended by itself."""
        return self._process.poll() is not None

    def end(self) -> None:
        """End the browser."""
        os.close(self._out)
        os.close(self._in)
        self.kill(signal.SIGTERM)

    def kill(self, number: signal.Signals) -> None:
        """Send the browser a signal that ends it, and wait until it has ended."""
        if not self.ended:
            os.killpg(self._process.pid, number)
        self._process.wait(DEADLINE_S)

    def call(self, method: str, session: str | None = None, /, **parameters: Any) -> dict[str, Any]:
        """Send a command to the browser or to a page of it; return its result."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": parameters}
        if session is not None:
            message["sessionId"] = session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self._out, data) :]
        end = time.monotonic() + DEADLINE_S
        while True:
            told = self._next(end, f"the answer to {method}")
            if told.get("id") == self._count:
                assert "error" not in told, f"{method}: {told['error']}"
                result: dict[str, Any] = told["result"]
                return result
            self.events.append(told)
            assert told["method"] != "Inspector.targetCrashed", "the page has crashed"

    def wait(self, what: str) -> None:
        """Wait until the browser has told something more."""
        self.events.append(self._next(time.monotonic() + DEADLINE_S, what))

    def _next(self, end: float, what: str) -> dict[str, Any]:
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._in], [], [], max(0.0, end - time.monotonic()))
            assert ready, f"the browser does not give {what}: {self._log.read_text(errors='replace')}"
            more = os.read(self._in, 1 << 20)
            assert more, f"the browser has ended instead of giving {what}: {self._log.read_text(errors='replace')}"
            self._rest += more
        one, _, self._rest = self._rest.partition(b"\0")
        told: dict[str, Any] = json.loads(one)
        return told
