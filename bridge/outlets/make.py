"""An outlet from its table."""

import json
import time
from collections.abc import Callable
from datetime import datetime
from typing import Any, Protocol

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.files.file import EventsFile
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.outlets.taker import FarSide, Taker
from neckyoke.bridge.telling.alerts import Say, Troubles
from neckyoke.bridge.telling.status import Status


class AnswerRequest(Protocol):
    """Answers a request that came in by some way; `station` is the one it was sent to, when the way says so."""

    async def __call__(self, raw: dict[str, Any] | str | bytes, station: str | None = None) -> dict[str, Any]:
        """Answer it."""


def make_outlet(
    name: str,
    table: OutletTable,
    config: Config,
    journal: Journal,
    *,
    say: Say,
    ask: AnswerRequest,
    status: Callable[[], Status],
) -> Follower:
    """Make the outlet that a table describes."""
    troubles = Troubles(say, time.monotonic)
    taker = _broker(name, table, config, journal, troubles, ask, status) if table.mqtt else _taker(table, config)
    return Follower(name, taker, journal, say=say, troubles=troubles)


def _broker(
    name: str,
    table: OutletTable,
    config: Config,
    journal: Journal,
    troubles: Troubles,
    ask: AnswerRequest,
    status: Callable[[], Status],
) -> Taker:
    from neckyoke.bridge.outlets.mqtt.outlet import BrokerSide  # paho and TLS are slow to import; a file needs neither

    async def answer(station: str, payload: bytes) -> str:
        return json.dumps(await ask(payload, station or None))

    return BrokerSide(
        name, table, config.site, journal, folder=config.folder, answer=answer, status=status, troubles=troubles
    )


def _taker(table: OutletTable, config: Config) -> Taker:
    if table.file is None:
        return far_side(table, config)
    return EventsFile(
        config.state_path(table.file),
        rotate_mb=table.rotate_mb,
        rotate_daily=table.rotate_daily,
        today=lambda: datetime.now(config.zone).date(),
    )


def far_side(table: OutletTable, config: Config) -> FarSide:
    """Make what takes the events of an outlet with http, influx or sql."""
    if table.sql is not None:
        from neckyoke.bridge.outlets.database.sql import database_of

        return database_of(table, config.folder, config.state_path("."))
    from neckyoke.bridge.outlets.web.client import Client
    from neckyoke.bridge.outlets.web.cloud_events import CloudEvents
    from neckyoke.bridge.outlets.web.influx import LineProtocol

    if table.influx is not None:
        return LineProtocol(Client(table, table.influx, config.folder, "Token"))
    assert table.http is not None
    return CloudEvents(Client(table, table.http, config.folder, "Bearer"), table.events)
