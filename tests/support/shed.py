"""A shed that publishes: a journal and the MQTT outlet of the daemon, without devices."""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Iterable
from pathlib import Path

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Event, wrap
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.follower import Follower
from tests.support.events import weighing
from tests.support.outlet import broker_outlet


class Shed:
    """One site's journal and outlet.  Made by `shed`."""

    def __init__(self, site: str, journal: Journal, outlet: Follower) -> None:
        self.site, self.journal, self.outlet = site, journal, outlet

    async def weigh(self, numbers: Iterable[int]) -> list[Event]:
        """Write weighings of so numbered animals."""
        events = []
        for number in numbers:
            data = weighing(number, run=self.site)
            events.append(wrap(data, site=self.site, time=data.off, key=f"{data.weighing}/1"))
        return await self.journal.append(events)

    def delivered(self) -> bool:
        """Return whether everything written has been acknowledged."""
        return bool(self.outlet.health().backlog == 0)


@contextlib.asynccontextmanager
async def shed(folder: Path, url: str, site: str) -> AsyncIterator[Shed]:
    """Open a shed in a folder of its own and let it publish."""
    await asyncio.to_thread(folder.mkdir, parents=True, exist_ok=True)
    journal = await Journal.open(folder / "journal.db", outlets=["farm"])

    async def answer(_station: str, _payload: bytes) -> str:
        return json.dumps({"done": False, "text": "nobody is here"})

    outlet = broker_outlet(folder, OutletTable(mqtt=url), journal, answer, site=site)
    running = asyncio.create_task(outlet.run())
    try:
        yield Shed(site, journal, outlet)
        await outlet.stop(5.0)
    finally:
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        await journal.close()
