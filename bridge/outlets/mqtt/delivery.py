"""Delivers a batch of events to a broker: in order, at least once, a window at a time.

Each message is told of as taken once it is acknowledged.  A broker may refuse one and take the ones behind it, which
then come before it.  MQTT has no word against that, so what is sent behind another is little and has its reason:

    live --one at a time: nothing can overtake
    a backlog, more than a window of it --the first of a connection alone: a refusal that a person puts right, or a
                                           quota that has room again, ends between two connections
                                        --then `WINDOW` under way, so that a cut repeats at most a window
    one refused with others behind it --it and all behind it come again, in order; and from then on this outlet sends
                                        one at a time: what a broker did once it may do again
"""

import asyncio
import contextlib
import json
from collections import deque
from collections.abc import Sequence
from typing import Any, NamedTuple

from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.journal.store import Store
from neckyoke.bridge.outlets.mqtt.broker import BrokerError, TooLargeError
from neckyoke.bridge.outlets.mqtt.connection import Connection
from neckyoke.bridge.outlets.mqtt.misfits import LARGE, Misfits
from neckyoke.bridge.outlets.taker import Row, Taken

WINDOW = 20
"""Messages under way at once: mosquitto's and paho's own limit, and enough (measured: no faster beyond it)."""


class Last(NamedTuple):
    """The last weighing of a station as it stands at the broker; `sequence`: of the journal, when it was the newest."""

    weighing: str
    revision: int
    sequence: int


class UnderWay(NamedTuple):
    """An event that was sent, its bytes, and what tells of its acknowledgement; or why it was not sent."""

    sequence: int
    size: int
    acknowledgement: "asyncio.Future[int] | None"
    why: str = ""


class Delivery:
    """What one outlet has at its broker, over all its connections.  `top` begins every topic."""

    def __init__(self, top: str, journal: Journal) -> None:
        self._top, self._journal = top, journal
        self.misfits = Misfits()
        self._let_in = self._refused_within = False
        self._links: dict[str, int] = {}
        self._jobs: dict[str, int] = {}
        self._last: dict[str, Last] = {}

    async def take(self, connection: Connection, rows: Sequence[Row]) -> Taken:
        """Deliver a batch.  Raises BrokerError when the connection is lost."""
        under_way: deque[UnderWay] = deque()
        waiting = deque(rows)
        most = WINDOW if len(rows) > WINDOW else 1
        try:
            while waiting or under_way:
                while waiting and len(under_way) < (most if self._let_in and not self._careful else 1):
                    under_way.append(self._post_or_set_aside(connection, *waiting.popleft()))
                if (first := under_way[0]).acknowledgement is not None:
                    await connection.acknowledged(first.acknowledgement)
                under_way.popleft()
                self.misfits.acknowledged(first.sequence)
                self._let_in = True
                yield first.sequence, first.why
        except BrokerError as error:
            self.misfits.lost([(one.sequence, one.size) for one in under_way], error)
            self._refused_within |= error.refused and len(under_way) > 1
            raise

    @property
    def _careful(self) -> bool:
        return self._refused_within or self.misfits.careful

    def _post_or_set_aside(self, connection: Connection, sequence: int, body: str) -> UnderWay:
        """Send an event, or say why it never can be."""
        try:
            if sequence != self.misfits.misfit:
                return UnderWay(sequence, len(body), self.post(connection, sequence, body))
            why = f"{connection.broker} hangs up on its {len(body.encode())} bytes"
        except TooLargeError as error:
            why = str(error)
        return UnderWay(sequence, len(body), None, f"{why}; raise its largest packet (mosquitto: max_packet_size)")

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

    async def assert_kept(self, connection: Connection) -> None:
        """Publish what is retained again, as it is now: a broker may have lost it, or still have what was.

        To be called first of all on each connection.
        """
        self._let_in = False
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
