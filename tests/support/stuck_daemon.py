"""The real daemon, to be made to hang: `python -m tests.support.stuck_daemon CONFIG`.

SIGUSR1 blocks its event loop for good, SIGUSR2 the journal's thread.
"""

import asyncio
import signal
import sys
import time
from pathlib import Path

from neckyoke.bridge.commands import run
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.journal.journal import Journal

FOR_EVER_S = 3600.0
PATIENCE_S = 1.0
"""A thread that has been at one thing for so long is stuck: the real 20 s in a test's time."""


class Stuck(Service):
    """A service that a signal makes hang."""

    async def _begin(self) -> None:
        await super()._begin()
        loop = asyncio.get_running_loop()
        loop.add_signal_handler(signal.SIGUSR1, time.sleep, FOR_EVER_S)
        loop.add_signal_handler(signal.SIGUSR2, self._hold_the_journal)

    def _hold_the_journal(self) -> None:
        self._held = asyncio.ensure_future(self.journal._ask(lambda _: time.sleep(FOR_EVER_S)))


if __name__ == "__main__":
    Journal.alive.__defaults__ = (PATIENCE_S,)
    sys.modules["neckyoke.bridge.daemon.service"].Service = Stuck  # type: ignore[attr-defined]
    sys.exit(asyncio.run(run.serve(load_config(Path(sys.argv[1])))))
