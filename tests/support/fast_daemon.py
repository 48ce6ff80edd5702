"""The real daemon with a clock that runs some times as fast.

    python -m tests.support.fast_daemon SPEED CONFIG BEGAN-S SYNCHRONISED

A simulated yard played as many times as fast is then the same day to it, in less of ours.  The clocks begin to run so
fast at BEGAN-S of the machine's monotonic clock, and so go on through a restart; SYNCHRONISED is `yes` or `no`.
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


async def _serve(speed: float, config: Path, began_s: float, *, synchronised: bool) -> None:
    stop = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    wall = time.time() - (time.monotonic() - began_s)

    def elapsed() -> float:
        return (time.monotonic() - began_s) * speed

    clock = WallClock(monotonic=elapsed, realtime=lambda: wall + elapsed(), probe=lambda: synchronised)
    service = await build(load_config(config), clock)
    await service.run(stop)


if __name__ == "__main__":
    log.configure()
    speed, config, began_s, synchronised = sys.argv[1:]
    asyncio.run(_serve(float(speed), Path(config), float(began_s), synchronised=synchronised == "yes"))
