"""Delivers the journal's events to a broker: in order, at least once, a window at a time.

At most `WINDOW` messages are under way, and the position moves only over those acknowledged, so that a cut repeats at
most a window.
"""

import asyncio
import contextlib
import json
from collections import deque
from typing import Any, NamedTuple

from neckyoke.bridge.events import Attention
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.store import Store
from neckyoke.bridge.outlets.follow import more
from neckyoke.bridge.outlets.mqtt.broker import BrokerError, TooLargeError
from neckyoke.bridge.outlets.mqtt.connection import Connection
from neckyoke.bridge.outlets.mqtt.misfits import LARGE, Misfits
from neckyoke.bridge.telling.alerts import Say

WINDOW = 20
"""Messages under way at once: mosquitto's and paho's own limit, and enough (measured: no faster beyond it)."""
READ = 256
SAVE_EVERY = 64
"""Acknowledgements between two saves of the position while a backlog drains."""


class Last(NamedTuple):
    """The last weighing of a station as it stands at the broker; `sequence`: of the journal, when it was the newest."""

    weighing: str
    revision: int
    sequence: int


class Delivery:
    """How far one outlet has got, over all its connections.  `top` begins every topic."""

    def __init__(self, name: str, top: str, journal: Journal, say: Say) -> None:
        self._name, self._top, self._journal, self._say = name, top, journal, say
        self._about = f"outlet-{name}"
        self.position = journal.position(name)
        self.delivered = self.set_aside = 0
        self.misfits = Misfits()
        self._unsaved = 0
        self._links: dict[str, int] = {}
        self._jobs: dict[str, int] = {}
        self._last: dict[str, Last] = {}

    @property
    def backlog(self) -> int:
        """Events not acknowledged yet."""
        return max(0, self._journal.last - self.position)

    async def deliver(self, connection: Connection, stopping: asyncio.Event) -> None:
        """Deliver until it is time to stop and nothing is left.  Raises BrokerError when the connection is lost."""
        under_way: deque[tuple[int, int, asyncio.Future[int]]] = deque()
        try:
            await self._deliver_all(connection, under_way, stopping)
        except BrokerError as error:
            self.misfits.lost([(sequence, size) for sequence, size, _ in under_way], error)
            raise

    async def _deliver_all(
        self,
        connection: Connection,
        under_way: deque[tuple[int, int, "asyncio.Future[int]"]],
        stopping: asyncio.Event,
    ) -> None:
        """Deliver; `under_way` are those sent and not acknowledged, with their bytes."""
        rows: deque[tuple[int, str]] = deque()
        sent = self.position
        while True:
            while len(under_way) < (1 if self.misfits.careful else WINDOW) and (rows or self._journal.last > sent):
                if not rows:
                    rows.extend(await self._journal.read(sent, READ))
                sent, body = rows.popleft()
                under_way.append((sent, len(body), self._post_or_set_aside(connection, sent, body)))
            if under_way:
                sequence, _, future = under_way[0]
                await connection.acknowledged(future)
                under_way.popleft()
                self.misfits.acknowledged(sequence)
                self._acknowledge(sequence)
                continue
            self.save()
            if not await more(self._journal, sent, stopping):
                return

    def _post_or_set_aside(self, connection: Connection, sequence: int, body: str) -> "asyncio.Future[int]":
        """Send an event; one that the broker does not take is told of and passed over, and stays in the journal."""
        try:
            if sequence != self.misfits.misfit:
                return self.post(connection, sequence, body)
            why = f"{connection.broker} hangs up on it"
        except TooLargeError as error:
            why = str(error)
        self.set_aside += 1
        text = f"Event {sequence} ({len(body.encode())} bytes) was not sent: {why}. It is in the journal and in events "
        text += "files. Raise the broker's largest packet (mosquitto: max_packet_size)."
        self._say(Attention(station=None, about=f"{self._about}-set-aside", text=text, over=True, lasted_s=0.0))
        taken: asyncio.Future[int] = asyncio.get_running_loop().create_future()
        taken.set_result(0)
        return taken

    def post(self, connection: Connection, sequence: int, body: str) -> "asyncio.Future[int]":
        """Send an event on its topic.  Raises TooLargeError, or BrokerError when the connection is lost."""
        event = json.loads(body)
        kind = event["type"].removeprefix("neckyoke.")
        retain = False
        if kind == "link":
            link = event["data"]["link"]
            topic = f"{self._top}/link/{link}"
            if retain := sequence >= self._links.get(link, 0):  # an old state must not stand as the present one
                self._links[link] = sequence
        else:
            station = event["data"].get("station")
            topic = f"{self._top}/{station}/{kind}" if station else f"{self._top}/{kind}"
            if kind == "job":  # a late word on an earlier job must not stand as the present one
                retain = event["data"]["turn"] >= self._jobs.get(station, 0)
                self._jobs[station] = max(event["data"]["turn"], self._jobs.get(station, 0))
        future = connection.post(topic, body, retain=retain, properties=connection.of_events)
        if kind == "weighing" and sequence and len(body) < LARGE and self._is_last(sequence, event["data"]):
            with contextlib.suppress(TooLargeError):
                connection.post(f"{self._top}/{station}/last", body, retain=True, properties=connection.of_events)
        return future

    def _is_last(self, sequence: int, data: dict[str, Any]) -> bool:
        """Return whether a weighing event is the present word on its station's last weighing.

        A backlog's are not: what stands is the journal's newest (`assert_kept`), and only what comes after it is newer.
        """
        last = self._last.get(data["station"], Last("", 0, 0))
        newer = data["revision"] > last.revision if data["weighing"] == last.weighing else data["revision"] == 1
        if not newer or sequence <= last.sequence:
            return False
        self._last[data["station"]] = Last(data["weighing"], data["revision"], sequence)
        return True

    def _acknowledge(self, sequence: int) -> None:
        self.position = sequence
        self.delivered += 1
        self._unsaved += 1
        if self._unsaved >= SAVE_EVERY:
            self.save()

    def save(self) -> None:
        """Let the journal know how far it is.  Raises JournalError."""
        if self._unsaved:
            self._journal.note_position(self._name, self.position)
            self._unsaved = 0

    async def assert_kept(self, connection: Connection) -> None:
        """Publish what is retained again, as it is now: a broker may have lost it, or still have what was."""
        end = self._journal.last
        for station, body in (await self._journal.ask(Store.last_weighings)).items():
            data = json.loads(body)["data"]
            self._last[station] = Last(data["weighing"], data["revision"], end)
            if len(body) >= LARGE:  # a broker may hang up on it, and would at every connection
                continue
            try:
                await self._keep(connection, f"{station}/last", body)
            except BrokerError as error:  # an access list of before there was such a topic must not hold events up
                if not error.slow:
                    raise
        for link, body in (await self._journal.kept("link")).items():
            event = json.loads(body)
            self._links[link] = int(event["sequence"])
            await self._keep(connection, f"link/{link}", body)
        for station, body in (await self._journal.kept("job")).items():
            self._jobs[station] = json.loads(body)["data"]["turn"]
            await self._keep(connection, f"{station}/job", body)

    async def _keep(self, connection: Connection, topic: str, body: str) -> None:
        post = connection.post(f"{self._top}/{topic}", body, retain=True, properties=connection.of_events)
        await connection.acknowledged(post)
