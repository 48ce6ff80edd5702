"""The real daemon with a clock that runs some times as fast.

    python -m tests.support.fast_daemon SPEED CONFIG CLOCK SYNCHRONISED

A simulated yard played as many times as fast is then the same day to it, in less of ours.  CLOCK is the file of the
clock that it shares with the yard (`yard_clock.py`), and so goes on through a restart; SYNCHRONISED is `yes` or `no`.
"""

import asyncio
import signal
import sys
from pathlib import Path

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon import pace
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.telling import log
from tests.support.yard_clock import YardClock


async def _serve(config: Path, fast: YardClock, *, synchronised: bool) -> None:
    stop = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    clock = WallClock(monotonic=fast, realtime=fast.wall, probe=lambda: synchronised)
    service = await build(load_config(config), clock)
    await service.run(stop)


if __name__ == "__main__":
    log.configure()
    speed, config, shared, synchronised = sys.argv[1:]
    clock = YardClock(float(speed), Path(shared))
    pace.TICK_S = clock.stall_s / 2  # it must not seem asleep between two ticks
    asyncio.run(_serve(Path(config), clock, synchronised=synchronised == "yes"))
