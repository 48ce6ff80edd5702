"""The real daemon, to be made to hang: `python -m tests.support.stuck_daemon CONFIG`.

SIGUSR1 blocks its event loop for good, SIGUSR2 the journal's thread.
"""

import asyncio
import signal
import sys
import time
from pathlib import Path

from neckyoke.bridge.commands import run
from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.daemon import build
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.journal.journal import Journal

FOR_EVER_S = 3600.0
PATIENCE_S = 1.0
"""A thread that has been at one thing for so long is stuck: the real 20 s in a test's time."""


async def build_stuck(config: Config) -> Service:
    """Make a service that a signal makes hang."""
    service = await build.build(config)
    held = set[asyncio.Future[None]]()

    def hold_the_journal() -> None:
        held.add(asyncio.ensure_future(service.journal.ask(lambda _: time.sleep(FOR_EVER_S))))

    loop = asyncio.get_running_loop()
    loop.add_signal_handler(signal.SIGUSR1, time.sleep, FOR_EVER_S)
    loop.add_signal_handler(signal.SIGUSR2, hold_the_journal)
    return service


if __name__ == "__main__":
    Journal.alive.__defaults__ = (PATIENCE_S,)
    sys.exit(asyncio.run(run.serve(load_config(Path(sys.argv[1])), build_stuck)))
