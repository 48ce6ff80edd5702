"""An outlet from its table."""

import json
from collections.abc import Callable
from datetime import datetime
from typing import Any, Protocol

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Event
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.files.file import FileOutlet
from neckyoke.bridge.outlets.follower import Follower, Taker
from neckyoke.bridge.telling.alerts import Say
from neckyoke.bridge.telling.status import OutletStatus, PlatformView, Status


class AnswerRequest(Protocol):
    """Answers a request that came in by some way; `station` is the one it was sent to, when the way says so."""

    async def __call__(self, raw: dict[str, Any] | str | bytes, station: str | None = None) -> dict[str, Any]:
        """Answer it."""


class Outlet(Protocol):
    """What the service asks of an outlet."""

    async def run(self) -> None:
        """Follow the journal until stopped."""

    async def stop(self, grace_s: float) -> None:
        """Deliver what is left, for at most `grace_s` seconds, and end."""

    def show(self, station: str, view: PlatformView) -> None:
        """Show a platform as it is now, where that has a place."""

    def give_unsafe(self, event: Event) -> None:
        """Deliver at once an event that the journal cannot take, where that helps; it is delivered again when safe."""

    def health(self) -> OutletStatus:
        """Return the figures of the outlet."""


def make_outlet(
    name: str,
    table: OutletTable,
    config: Config,
    journal: Journal,
    *,
    say: Say,
    ask: AnswerRequest,
    status: Callable[[], Status],
) -> Outlet:
    """Make the outlet that a table describes."""
    if table.file is not None:
        return FileOutlet(
            name,
            config.state_path(table.file),
            journal,
            rotate_mb=table.rotate_mb,
            rotate_daily=table.rotate_daily,
            say=say,
            today=lambda: datetime.now(config.zone).date(),
        )
    if table.mqtt is None:
        taker, where = far_side(table, config)
        return Follower(name, table.far_kind, taker, journal, where=where, say=say)
    from neckyoke.bridge.outlets.mqtt.outlet import MqttOutlet  # paho and TLS are slow to import; a file needs neither

    async def answer(station: str, payload: bytes) -> str:
        return json.dumps(await ask(payload, station or None))

    return MqttOutlet(name, table, config.site, journal, folder=config.folder, answer=answer, status=status, say=say)


def far_side(table: OutletTable, config: Config) -> tuple[Taker, str]:
    """Make what takes the events of an outlet with http, influx or sql, and say where that is."""
    if table.sql is not None:
        from neckyoke.bridge.outlets.database.sql import database_of

        return database_of(table, config.folder, config.state_path("."))
    from neckyoke.bridge.outlets.web.client import Client
    from neckyoke.bridge.outlets.web.cloud_events import CloudEvents
    from neckyoke.bridge.outlets.web.influx import LineProtocol

    if table.influx is not None:
        client = Client(table, table.influx, config.folder, "Token")
        return LineProtocol(client), client.where
    assert table.http is not None
    client = Client(table, table.http, config.folder, "Bearer")
    return CloudEvents(client, table.events), client.where
