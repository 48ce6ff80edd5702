"""Outlets with all that they need, to be tested on real files and a real broker."""

import asyncio
import contextlib
import json
import random
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.files.file import EventsFile
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.outlets.mqtt.outlet import BrokerSide, Handler
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.status import BrokerStatus
from tests.support.events import SITE
from tests.support.status import status_of


def file_outlet(path: Path, journal: Journal, say: Say = unheard, *, rotate_mb: float = 50.0) -> Follower:
    """Make the outlet `events` into a file."""
    return Follower("events", EventsFile(path, rotate_mb=rotate_mb), journal, say=say)


def broker_outlet(
    folder: Path,
    table: OutletTable,
    journal: Journal,
    answer: Handler,
    *,
    site: str = SITE,
    say: Say = unheard,
    now: Callable[[], float] = time.monotonic,
    chance: Callable[[], float] = random.random,
) -> Follower:
    """Make the outlet `farm` into a broker."""
    troubles = Troubles(say, now)
    side = BrokerSide(
        "farm", table, site, journal, folder=folder, answer=answer, status=status_of, troubles=troubles, now=now,
        chance=chance,
    )  # fmt: skip
    return Follower("farm", side, journal, say=say, troubles=troubles, now=now, chance=chance)


class Yard:
    """A journal and one MQTT outlet, `farm`, following it.  `said` collects what a person would be told."""

    def __init__(self, folder: Path, outlet: dict[str, Any]) -> None:
        self.said: list[Attention] = []
        self.asked: list[tuple[str, bytes]] = []
        self.table = OutletTable.model_validate(outlet)
        self.folder = folder
        self.journal: Journal
        self.outlet: Follower
        self.running: asyncio.Task[None]

    async def answer(self, station: str, payload: bytes) -> str:
        self.asked.append((station, payload))
        return json.dumps({"done": True, "text": "noted"})

    @property
    def broker(self) -> BrokerSide:
        """The outlet's far side."""
        assert isinstance(self.outlet.taker, BrokerSide)
        return self.outlet.taker

    def health(self) -> BrokerStatus:
        """Return the outlet's figures."""
        found = self.outlet.health()
        assert isinstance(found, BrokerStatus)
        return found

    def abouts(self, *, over: bool = False) -> list[str]:
        return [one.about for one in self.said if one.over is over]


@contextlib.asynccontextmanager
async def yard(folder: Path, url: str, **outlet: Any) -> AsyncIterator[Yard]:
    """Open the journal, run the outlet, and end both in the daemon's order."""
    one = Yard(folder, {"mqtt": url, **outlet})
    one.journal = await Journal.open(folder / "journal.db", outlets=["farm"])
    now = asyncio.get_running_loop().time
    one.outlet = broker_outlet(
        folder, one.table, one.journal, one.answer, say=one.said.append, now=now, chance=lambda: 0.9
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
