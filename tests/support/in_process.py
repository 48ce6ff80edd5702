"""The daemon in the test's own process, its clock in the test's hands; and a day on which nothing is there."""

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
from structlog.testing import capture_logs

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.daemon.service import Service
from tests.support.broker import free_port
from tests.support.daemon import CONFIG
from tests.support.leaping import run_leaping


def configured(folder: Path, mqtt: str, crush: str = "[stations.crush]") -> Config:
    """Make a configuration of two terminals in a folder and a broker; `crush`: how the station's table begins."""
    urls = {name: f"serial:{folder / name}?baud=9600" for name in ("indicator", "panel")}
    (folder / "neckyoke.toml").write_text(
        CONFIG.format(**urls).replace("[stations.crush]", crush) + f'[outlets.farm]\nmqtt = "{mqtt}"\n'
    )
    return load_config(folder / "neckyoke.toml")


@contextlib.asynccontextmanager
async def in_process(
    folder: Path, mqtt: str, clock: WallClock, crush: str = "[stations.crush]"
) -> AsyncIterator[Service]:
    """Run the daemon so configured."""
    service = await build(configured(folder, mqtt, crush), clock)
    stop, ready = asyncio.Event(), asyncio.Event()
    running = asyncio.create_task(service.run(stop, ready.set))
    await asyncio.wait({running, asyncio.create_task(ready.wait())}, return_when=asyncio.FIRST_COMPLETED)
    try:
        yield service
    finally:
        stop.set()
        await running


def lines_of_a_quiet_day(folder: Path, hours: float) -> list[Any]:
    """Let hours pass without a device and without a broker; return the lines that were logged.

    Time and missing devices are looked at once a minute, or the day would take as long as its looking.
    """

    async def day() -> list[Any]:
        loop = asyncio.get_running_loop()
        began = time.time() - loop.time()
        clock = WallClock(monotonic=loop.time, realtime=lambda: began + loop.time())
        with capture_logs() as lines:
            async with in_process(folder, f"mqtt://127.0.0.1:{free_port()}", clock) as service:
                await asyncio.sleep(hours * 3600)
                assert service.clock.now() > hours * 3600
        return lines

    with pytest.MonkeyPatch.context() as monkeypatch:
        for name in (
            "neckyoke.bridge.daemon.pace.TICK_S",
            "neckyoke.bridge.daemon.pace.CLOCK_S",
            "neckyoke.bridge.links.supervise.GLANCE_S",
        ):
            monkeypatch.setattr(name, 60.0)
        return run_leaping(day())
