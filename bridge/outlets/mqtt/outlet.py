"""A broker as a far side: it takes events, shows what is live, and passes requests on.

    PREFIX/SITE/status               retained: online with the health figures, or offline and why (also the will)
    PREFIX/SITE/link/LINK            retained: the link's latest event
    PREFIX/SITE/STATION/weighing     every weighing event; likewise settled, tag and attention.  QoS 1, never retained
    PREFIX/SITE/attention            what concerns no one station
    PREFIX/SITE/STATION/last         retained: the latest weighing event of the station's last weighing
    PREFIX/SITE/STATION/platform     what the platform shows now (bridge/outlets/mqtt/live.py)
    PREFIX/SITE/STATION/request      in; answered on .../answer, or where an MQTT 5 request says
    PREFIX/SITE/request              likewise, for what belongs to no station, such as the herd book
    PREFIX/SITE/animal               an animal, whenever anything is known of it anew.  QoS 1, never retained

Payloads are the events as the journal has them (CloudEvents JSON).  Delivery is in order and at least once
(bridge/outlets/mqtt/delivery.py).
"""

import asyncio
import contextlib
import json
import random
import secrets
import time
from collections import deque
from collections.abc import Awaitable, Callable, Coroutine, Iterator, Sequence
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeAlias

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Event
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.outlets.mqtt.broker import BrokerError, TooLargeError, broker_of, tls_context
from neckyoke.bridge.outlets.mqtt.connection import Connection, Incoming
from neckyoke.bridge.outlets.mqtt.delivery import Delivery
from neckyoke.bridge.outlets.mqtt.discovery import announcements
from neckyoke.bridge.outlets.mqtt.live import Showcase
from neckyoke.bridge.outlets.taker import Followed, Row, Taken, Taker
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.keep import keep, mistake
from neckyoke.bridge.telling.status import BrokerStatus, Offline, Online, PlatformView, Status

UNSAFE_KEPT = 1000
"""Events kept to be given before they are safe; the oldest are let go first."""
SOON_S = 10.0
"""A connection that is lost sooner may have been taken over by another program."""
STATUS_EVERY_S = 30.0

Handler: TypeAlias = Callable[[str, bytes], Awaitable[str]]
"""Takes a station ("" for none) and a request's payload, gives the answer as JSON.  Never raises on what was sent."""


class BrokerSide(Taker):
    """One broker.  `troubles` are those of its outlet `name`."""

    batch = 256

    def __init__(
        self,
        name: str,
        table: OutletTable,
        site: str,
        journal: Journal,
        *,
        folder: Path,
        answer: Handler,
        status: Callable[[], Status],
        troubles: Troubles,
        now: Callable[[], float] = time.monotonic,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self.name = name
        self._table = table
        self._folder = folder
        self._answer = answer
        self._status = status
        self._now = now
        self._top = f"{table.prefix}/{site}"
        self._client_id = table.client_id or f"neckyoke-{site}-{name}"
        self._troubles = troubles
        self._about = f"outlet-{name}"
        self._chance = chance
        self._showcases: dict[str, Showcase] = {}
        self._more_showcases = asyncio.Event()
        self._unsafe: deque[str] = deque(maxlen=UNSAFE_KEPT)
        self._has_unsafe = asyncio.Event()
        self._connection: Connection | None = None
        self._connected_since: float | None = None
        self._session = ""
        self._connections = 0
        self._requests = 0
        self._delivery = Delivery(self._top, journal)

    def show(self, station: str, view: PlatformView) -> None:
        """Show what a platform shows now; what cannot be sent is replaced by what comes after it."""
        if station not in self._showcases:
            self._showcases[station] = Showcase(
                station, self._make, self._top, self._troubles, self._about, self._chance
            )
            self._more_showcases.set()
        self._showcases[station].show(view)

    def give_unsafe(self, event: Event) -> None:
        """Deliver what the journal cannot take, as soon as there is a connection; it is delivered again when safe."""
        self._unsafe.append(event.to_json())
        self._has_unsafe.set()

    async def open(self) -> bool:
        """Connect, and tell that the daemon is there; what is retained is put right."""
        broker = await asyncio.to_thread(broker_of, self._table, self._client_id, self._folder)
        self._reached = broker, await asyncio.to_thread(tls_context, broker)
        self.where = str(broker)
        self._session = secrets.token_hex(4)
        connection = self._make("", f"{self._top}/status", _offline(self._session, "lost"))
        await connection.enter()
        self._connection = connection
        self._connections += 1
        self._connected_since = self._now()
        with self._hinted():
            await self._tell_online(connection)
            await self._delivery.assert_kept(connection)
        return True

    async def take(self, rows: Sequence[Row]) -> Taken:
        """Deliver a batch."""
        assert self._connection is not None, "opened"
        with self._hinted():
            async with contextlib.aclosing(self._delivery.take(self._connection, rows)) as taken:
                async for one in taken:
                    yield one

    async def beside(self) -> None:
        """Do all else that a connection is for.  Raises BrokerError when it is lost."""
        connection = self._connection
        assert connection is not None, "opened"
        works = {
            "live": self._show_live,
            "unsafe": self._give_unsafe,
            "requests": self._take_requests,
            "status": self._tell_status,
        }
        tasks = {self._beside(name, partial(work, connection)) for name, work in works.items()}
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            with self._hinted():
                for task in done:
                    task.result()  # raises what it raised
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    @contextlib.contextmanager
    def _hinted(self) -> Iterator[None]:
        """Say of a connection that is lost soon after it was made what may be behind it."""
        try:
            yield
        except BrokerError as error:
            known = error.slow or error.too_large or self._delivery.misfits.careful
            if known or self._connected_since is None or self._now() - self._connected_since >= SOON_S:
                raise
            name = self._reached[0].client_id
            hint = f"if that comes again and again, another program may use the client_id {name!r}"
            raise BrokerError(f"{error}, soon after connecting; {hint}") from error

    async def close(self, *, stopped: bool) -> None:
        """Take leave of the broker."""
        connection, self._connection, self._connected_since = self._connection, None, None
        if connection is not None:
            await connection.leave(_offline(self._session, "stopped" if stopped else "failed"))

    def _make(self, station: str, will_topic: str, will: str) -> Connection:
        """Make a connection as they are made now: the one that delivers, or the one that shows a station."""
        broker, context = self._reached
        name = f"{broker.client_id}-{station}" if station else broker.client_id
        return Connection(replace(broker, client_id=name), will_topic, will, context)

    def _beside(self, name: str, work: Callable[[], Coroutine[Any, Any, None]]) -> "asyncio.Task[None]":
        """Begin what stands beside the delivery and must not hold it up; only a lost connection ends both."""
        lets_pass = (BrokerError, JournalError)
        return asyncio.create_task(keep(f"outlet {self.name} {name}", work, self._troubles, lets_pass))

    async def _show_live(self, connection: Connection) -> None:
        """Show every platform that there is to show, for as long as events are delivered."""
        shown: dict[str, asyncio.Task[None]] = {}
        try:
            while True:
                self._more_showcases.clear()
                for station, showcase in list(self._showcases.items()):
                    if station not in shown:
                        await self._announce(connection, station)
                        shown[station] = self._beside(f"live {station}", showcase.run)
                await self._more_showcases.wait()
        finally:
            for task in shown.values():
                task.cancel()
            await asyncio.gather(*shown.values(), return_exceptions=True)

    async def _announce(self, connection: Connection, station: str) -> None:
        """Tell home automation of a station, where that is wanted; a broker that refuses it is told of once."""
        if self._table.discovery is None:
            return
        about = f"{self._about}-discovery"
        try:
            for topic, text in announcements(self._table.discovery, self._top, station, version("neckyoke")):
                await connection.acknowledged(connection.post(topic, text, retain=True))
            self._troubles.end(about, f"{connection.broker} takes {self._table.discovery}/# again.")
        except (BrokerError, TooLargeError) as error:
            if not getattr(error, "slow", True):
                raise
            text = f"{connection.broker} does not take {self._table.discovery}/#: let this user write there, or leave "
            self._troubles.begin(about, f"{text}discovery out. Events are delivered all the same.")

    async def _give_unsafe(self, connection: Connection) -> None:
        while True:
            self._has_unsafe.clear()
            while self._unsafe:
                with contextlib.suppress(TooLargeError):
                    await connection.acknowledged(self._delivery.post(connection, 0, self._unsafe[0]))
                self._unsafe.popleft()
            await self._has_unsafe.wait()

    async def _tell_status(self, connection: Connection) -> None:
        while True:
            await asyncio.sleep(STATUS_EVERY_S)
            await self._tell_online(connection)

    async def _tell_online(self, connection: Connection) -> None:
        """Publish that the daemon is there and its status; without its status where that cannot be made."""
        about = f"{self._about}-status"
        try:
            text = self._online()
            self._troubles.end(about, "The status is told whole again.")
        except Exception as error:  # noqa: BLE001  # said; what is weighed is delivered all the same
            self._troubles.begin(about, f"The status cannot be told: {mistake(error)}")
            text = json.dumps({"state": "online", "session": self._session})
        with contextlib.suppress(TooLargeError):  # of a broker that takes next to nothing; said of the first event
            await connection.acknowledged(connection.post(f"{self._top}/status", text, retain=True))

    def _online(self) -> str:
        """Spell the status: all that matters of the daemon now."""
        return Online(session=self._session, **dict(self._status())).model_dump_json()

    async def _take_requests(self, connection: Connection) -> None:
        topic = f"{self._top}/+/request"
        if await connection.hear(topic, f"{self._top}/request"):
            self._troubles.end(f"{self._about}-requests", f"{connection.broker} passes requests on again.")
        else:
            text = f"{connection.broker} refuses our subscription to {topic}; allow it in its access list."
            self._troubles.begin(f"{self._about}-requests", f"{text} Events are delivered all the same.")
        async for message in connection.incoming():
            if message.retained:
                continue  # it would be done again at every connection
            self._requests += 1
            station = "" if message.topic == f"{self._top}/request" else message.topic.split("/")[-2]
            answer = await self._answer(station, message.payload)
            properties = connection.properties(ContentType="application/json", PayloadFormatIndicator=1)
            if properties is not None and message.correlation is not None:
                properties.CorrelationData = message.correlation
            topic = self._answer_topic(station, message)
            try:
                await connection.acknowledged(connection.post(topic, answer, properties=properties))
            except BrokerError as error:
                if not error.slow:
                    raise
                # the broker lets us not answer there; whoever asked for that must not stop the events by it
            except TooLargeError:
                continue

    def _answer_topic(self, station: str, message: Incoming) -> str:
        """Answer where an MQTT 5 request asks, but never under our own topics, where an answer would pass for news."""
        own = f"{self._top}/{station}/answer" if station else f"{self._top}/answer"
        asked = message.response_topic
        if not asked or set(asked) & set("+#") or asked.startswith(("$", f"{self._top}/")):
            return own
        return asked

    def status(self, followed: Followed) -> BrokerStatus:
        """Return its figures."""
        return BrokerStatus(
            connected=self._connected_since is not None,
            connections=self._connections,
            requests=self._requests,
            **followed._asdict(),
        )


def _offline(session: str, reason: str) -> str:
    """Spell the status of a daemon that is not there; `session` tells an old will from the present one."""
    return Offline(session=session, reason=reason).model_dump_json()
