"""An MQTT outlet with all that it needs, to be tested on a real broker."""

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.mqtt.outlet import MqttOutlet
from tests.support.events import SITE
from tests.support.status import status_of


class Yard:
    """A journal and one MQTT outlet, `farm`, following it.  `said` collects what a person would be told."""

    def __init__(self, folder: Path, outlet: dict[str, Any]) -> None:
        self.said: list[Attention] = []
        self.asked: list[tuple[str, bytes]] = []
        self.table = OutletTable.model_validate(outlet)
        self.folder = folder
        self.journal: Journal
        self.outlet: MqttOutlet
        self.running: asyncio.Task[None]

    async def answer(self, station: str, payload: bytes) -> str:
        self.asked.append((station, payload))
        return json.dumps({"done": True, "text": "noted"})

    def abouts(self, *, over: bool = False) -> list[str]:
        return [one.about for one in self.said if one.over is over]


@contextlib.asynccontextmanager
async def yard(folder: Path, url: str, **outlet: Any) -> AsyncIterator[Yard]:
    """Open the journal, run the outlet, and end both in the daemon's order."""
    one = Yard(folder, {"mqtt": url, **outlet})
    one.journal = await Journal.open(folder / "journal.db", outlets=["farm"])
    one.outlet = MqttOutlet(
        "farm",
        one.table,
        SITE,
        one.journal,
        folder=folder,
        answer=one.answer,
        status=status_of,
        say=one.said.append,
        now=asyncio.get_running_loop().time,
        chance=lambda: 0.9,
    )
    one.running = asyncio.create_task(one.outlet.run())
    try:
        yield one
        await one.outlet.stop(5.0)
    finally:
        one.running.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await one.running
        await one.journal.close()
