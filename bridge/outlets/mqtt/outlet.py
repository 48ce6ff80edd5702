"""The MQTT outlet: follows the journal to a broker, shows what is live, and takes requests.

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
(bridge/outlets/mqtt/delivery.py).  One loop goes round these states:

    away --connected--> serving --lost--> away (a wait that grows) --stopped--> farewell
                                --refused, not let in, bad certificate--> away (the longest wait at once)
"""

import asyncio
import contextlib
import json
import random
import secrets
import time
from collections import deque
from collections.abc import Awaitable, Callable, Coroutine
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeAlias

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Event
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.outlets.follow import NOTHING_LOST, Backoff, pause
from neckyoke.bridge.outlets.mqtt.broker import BrokerError, TooLargeError, broker_of, tls_context
from neckyoke.bridge.outlets.mqtt.connection import Connection, Incoming
from neckyoke.bridge.outlets.mqtt.delivery import Delivery
from neckyoke.bridge.outlets.mqtt.discovery import announcements
from neckyoke.bridge.outlets.mqtt.live import Showcase
from neckyoke.bridge.telling.alerts import Say, Troubles, unheard
from neckyoke.bridge.telling.keep import keep, mistake
from neckyoke.bridge.telling.status import BrokerStatus, Offline, Online, PlatformView, Status

UNSAFE_KEPT = 1000
"""Events kept to be given before they are safe; the oldest are let go first."""
STEADY_S = 10.0
"""A connection that has held for so long is a good one: the trouble is over and waits begin small again."""
STATUS_EVERY_S = 30.0

Handler: TypeAlias = Callable[[str, bytes], Awaitable[str]]
"""Takes a station ("" for none) and a request's payload, gives the answer as JSON.  Never raises on what was sent."""


class MqttOutlet:
    """One broker.  `run` follows the journal until `stop`, which lets it deliver what is there first."""

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
        say: Say = unheard,
        now: Callable[[], float] = time.monotonic,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self.name = name
        self._table = table
        self._folder = folder
        self._journal = journal
        self._answer = answer
        self._status = status
        self._now = now
        self._top = f"{table.prefix}/{site}"
        self._client_id = table.client_id or f"neckyoke-{site}-{name}"
        self._troubles = Troubles(say, now)
        self._about = f"outlet-{name}"
        self._backoff = Backoff(1.0, 60.0, chance)
        self._stopping = asyncio.Event()
        self._ended = asyncio.Event()
        self._chance = chance
        self._showcases: dict[str, Showcase] = {}
        self._more_showcases = asyncio.Event()
        self._unsafe: deque[str] = deque(maxlen=UNSAFE_KEPT)
        self._has_unsafe = asyncio.Event()
        self._connected_since: float | None = None
        self._connections = 0
        self._requests = 0
        self._delivery = Delivery(name, self._top, journal, say)

    def show(self, station: str, view: PlatformView) -> None:
        """Show what a platform shows now; what cannot be sent is replaced by what comes after it."""
        if station not in self._showcases:
            self._showcases[station] = Showcase(
                station, self._connection, self._top, self._troubles, self._about, self._chance
            )
            self._more_showcases.set()
        self._showcases[station].show(view)

    def give_unsafe(self, event: Event) -> None:
        """Deliver what the journal cannot take, as soon as there is a connection; it is delivered again when safe."""
        self._unsafe.append(event.to_json())
        self._has_unsafe.set()

    async def run(self) -> None:
        """Follow the journal until stopped.  Whatever is wrong with the broker is said once and tried again."""
        self._ended.clear()
        try:
            while not self._stopping.is_set():
                try:
                    await self._connect_and_serve()
                except (BrokerError, JournalError) as error:
                    self._fail(error)
                except Exception as error:  # noqa: BLE001  # said, and tried again
                    self._troubles.begin(self._about, f"{mistake(error)} {NOTHING_LOST}")
                else:
                    return
                await pause(self._backoff.wait_s(), self._stopping)
        finally:
            self._ended.set()

    def _fail(self, error: BrokerError | JournalError) -> None:
        if getattr(error, "slow", False):
            self._backoff.slow_down()
            self._troubles.begin(f"{self._about}-refused", f"{error}. Events wait in the journal meanwhile.")
        else:
            self._troubles.begin(self._about, f"{error}. {NOTHING_LOST}")

    async def _connect_and_serve(self) -> None:
        broker = await asyncio.to_thread(broker_of, self._table, self._client_id, self._folder)
        self._reached = broker, await asyncio.to_thread(tls_context, broker)
        session = secrets.token_hex(4)
        connection = self._connection("", f"{self._top}/status", _offline(session, "lost"))
        await connection.enter()
        self._connections += 1
        self._connected_since = self._now()
        reason = "failed"
        try:
            await self._serve(connection, session)
            reason = "stopped"
        except BrokerError as error:
            known = error.slow or error.too_large or self._delivery.misfits.careful
            if known or self._now() - self._connected_since >= STEADY_S:
                raise
            hint = f"if that comes again and again, another program may use the client_id {broker.client_id!r}"
            raise BrokerError(f"{error}, soon after connecting; {hint}") from error
        finally:
            self._connected_since = None
            if self._stopping.is_set():
                reason = "stopped"
            with contextlib.suppress(JournalError):
                self._delivery.save()
            await connection.leave(_offline(session, reason))

    def _connection(self, station: str, will_topic: str, will: str) -> Connection:
        """Make a connection as they are made now: the one that delivers, or the one that shows a station."""
        broker, context = self._reached
        name = f"{broker.client_id}-{station}" if station else broker.client_id
        return Connection(replace(broker, client_id=name), will_topic, will, context)

    async def _serve(self, connection: Connection, session: str) -> None:
        """Do all that a connection is for until stopped and drained.  Raises BrokerError when it is lost."""
        await self._tell_online(connection, session)
        await self._delivery.assert_kept(connection)
        delivering = asyncio.create_task(self._delivery.deliver(connection, self._stopping))
        tasks = {
            delivering,
            self._beside("live", partial(self._show_live, connection)),
            self._beside("unsafe", partial(self._give_unsafe, connection)),
            self._beside("requests", partial(self._take_requests, connection)),
            self._beside("status", partial(self._tell_status, connection, session)),
            self._beside("steady", partial(self._grow_steady, connection)),
        }
        try:
            waiting = set(tasks)
            while not delivering.done():
                done, waiting = await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
                for task in done:
                    task.result()  # raises what it raised
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

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

    async def _tell_status(self, connection: Connection, session: str) -> None:
        while True:
            await asyncio.sleep(STATUS_EVERY_S)
            await self._tell_online(connection, session)

    async def _tell_online(self, connection: Connection, session: str) -> None:
        """Publish that the daemon is there and its status; without its status where that cannot be made."""
        about = f"{self._about}-status"
        try:
            text = self._online(session)
            self._troubles.end(about, "The status is told whole again.")
        except Exception as error:  # noqa: BLE001  # said; what is weighed is delivered all the same
            self._troubles.begin(about, f"The status cannot be told: {mistake(error)}")
            text = json.dumps({"state": "online", "session": session})
        with contextlib.suppress(TooLargeError):  # of a broker that takes next to nothing; said of the first event
            await connection.acknowledged(connection.post(f"{self._top}/status", text, retain=True))

    def _online(self, session: str) -> str:
        """Spell the status: all that matters of the daemon now."""
        return Online(session=session, **dict(self._status())).model_dump_json()

    async def _grow_steady(self, connection: Connection) -> None:
        await asyncio.sleep(STEADY_S)
        self._backoff.reset()
        for about in (self._about, f"{self._about}-refused"):
            self._troubles.end(about, f"Events go to {connection.broker} again.")

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

    async def stop(self, grace_s: float = 5.0) -> None:
        """Let it deliver what is in the journal, for at most `grace_s`.  Then the task of `run` can be cancelled."""
        self._stopping.set()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._ended.wait(), grace_s)

    def health(self) -> BrokerStatus:
        """Return what matters of this outlet now."""
        return BrokerStatus(
            connected=self._connected_since is not None,
            position=self._delivery.position,
            backlog=self._delivery.backlog,
            delivered=self._delivery.delivered,
            connections=self._connections,
            requests=self._requests,
            set_aside=self._delivery.set_aside,
            trouble=self._troubles.standing,
        )


def _offline(session: str, reason: str) -> str:
    """Spell the status of a daemon that is not there; `session` tells an old will from the present one."""
    return Offline(session=session, reason=reason).model_dump_json()
