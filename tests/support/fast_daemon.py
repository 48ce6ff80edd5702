"""The real daemon with a clock that runs some times as fast: `python -m tests.support.fast_daemon SPEED CONFIG`.

A simulated yard played as many times as fast is then the same day to it, in less of ours.
"""

import asyncio
import signal
import sys
import time
from pathlib import Path

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.telling import log


async def _serve(speed: float, config: Path) -> None:
    stop = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    began, wall = time.monotonic(), time.time()

    def elapsed() -> float:
        return (time.monotonic() - began) * speed

    clock = WallClock(monotonic=elapsed, realtime=lambda: wall + elapsed(), probe=lambda: True)
    service = await build(load_config(config), clock)
    await service.run(stop)


if __name__ == "__main__":
    log.configure()
    asyncio.run(_serve(float(sys.argv[1]), Path(sys.argv[2])))
