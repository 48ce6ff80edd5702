"""Every event reaches every phone once and in order, whatever the phone slept through; stopping waits for nobody."""

import asyncio
import contextlib
import http.client
import json
import time
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from neckyoke.bridge.events import Event, LinkState, wrap
from neckyoke.bridge.journal.journal import JournalError
from neckyoke.bridge.page.stream import RING, TOO_FAR, Broadcast, Phone
from neckyoke.bridge.telling.alerts import Troubles, unheard
from neckyoke.bridge.telling.fanout import EVENTS_KEPT, Hub, Live
from tests.bridge.page.asking import ask
from tests.bridge.page.yard import STATION, Yard, view, weighing
from tests.support.running import until


class Line:
    """One phone's stream, read as a browser reads it."""

    def __init__(self, yard: Yard, after: int | str = 0, last_event_id: str | None = None) -> None:
        self._http = http.client.HTTPConnection("127.0.0.1", yard.port, timeout=120)
        headers = {} if last_event_id is None else {"last-event-id": last_event_id}
        self._http.request("GET", f"/events?after={after}", headers=headers)
        self.answer = self._http.getresponse()
        self.last_id = ""

    def messages(self) -> Iterator[tuple[str, Any]]:
        """Yield (event name, data) as they come, until the stream ends."""
        name, data = "message", ""
        for raw in self.answer:
            field, _, value = raw.decode().rstrip("\n").partition(": ")
            if field == "event":
                name = value
            elif field == "id":
                self.last_id = value
            elif field == "data":
                data = value
            elif not field and data:
                yield name, json.loads(data)
                name, data = "message", ""

    def events(self, count: int) -> list[dict[str, Any]]:
        """Wait for so many events of the journal."""
        found: list[dict[str, Any]] = []
        for name, data in self.messages():
            if name == "message":
                found.append(data)
                if len(found) == count:
                    break
        return found

    def close(self) -> None:
        """Hang up."""
        self.answer.close()
        self._http.close()


def _sequences(events: list[dict[str, Any]]) -> list[int]:
    return [int(event["sequence"]) for event in events]


def test_a_phone_gets_what_was_there_before_it_and_then_what_happens(yard: Yard) -> None:
    yard.tell(weighing(1, 300.0), weighing(2, 301.0))
    line = Line(yard)
    assert _sequences(line.events(2)) == [1, 2]

    yard.tell(weighing(3, 302.0))

    assert _sequences(line.events(1)) == [3]
    assert line.last_id == "3"
    line.close()


def test_dialling_again_goes_on_after_the_last_event_id_whatever_the_address_says(yard: Yard) -> None:
    yard.tell(*(weighing(number, 300.0) for number in range(1, 6)))

    line = Line(yard, after=0, last_event_id="3")

    assert _sequences(line.events(2)) == [4, 5]
    line.close()


def test_a_phone_that_slept_for_longer_than_the_ring_is_caught_up_from_the_journal(yard: Yard) -> None:
    count = RING * 3 + 7
    yard.tell(*(weighing(number, 300.0) for number in range(1, count)))
    line = Line(yard)
    yard.tell(weighing(count, 300.0))

    assert _sequences(line.events(count)) == list(range(1, count + 1))
    line.close()


def test_several_phones_each_get_everything(yard: Yard) -> None:
    lines = [Line(yard) for _ in range(8)]
    for number in range(1, 31):
        yard.tell(weighing(number, 300.0))

    assert all(_sequences(line.events(30)) == list(range(1, 31)) for line in lines)
    for line in lines:
        line.close()


def test_the_newest_live_view_is_given_to_a_phone_that_comes_later(yard: Yard) -> None:
    yard.show(view("standing", 101.0, 1))
    yard.show(view("standing", 102.0, 1))
    line = Line(yard)

    assert next(data for name, data in line.messages() if name == "live")["kg"] == 102.0
    line.close()


def test_a_sign_of_life_comes_though_nothing_happens(yard: Yard) -> None:
    line = Line(yard)

    beats = [data for name, data in _first(line, 3) if name == "beat"]

    assert len(beats) == 2
    line.close()


def _first(line: Line, count: int) -> list[tuple[str, Any]]:
    return [message for _, message in zip(range(count), line.messages(), strict=False)]


def test_a_position_that_is_none_is_refused(yard: Yard) -> None:
    for after in ("-1", "x", "1e3", "9" * 30, "\u0663".encode().decode("latin-1"), "9223372036854775808"):
        assert ask(yard, "GET", "/events", headers={"last-event-id": after}).status == 400


@pytest.mark.parametrize("position", [TOO_FAR + 50, 9223372036854775807])
def test_a_phone_of_another_journal_is_told_to_begin_afresh(yard: Yard, position: int) -> None:
    yard.tell(weighing(1, 300.0))
    line = Line(yard, after=position)

    assert next(line.messages()) == ("afresh", 1)
    line.close()


def test_stopping_is_not_held_up_by_open_streams(yard: Yard) -> None:
    lines = [Line(yard) for _ in range(20)]
    for line in lines:
        next(line.messages())

    yard.wait(yard.page.stop())  # uvicorn alone never ends while a stream is open: this would fail after 30 s

    for line in lines:  # each has ended, by itself
        list(line.messages())
        line.close()


def test_a_phone_that_hangs_up_is_forgotten(yard: Yard) -> None:
    line = Line(yard)
    next(line.messages())
    assert yard.page.phones == 1

    line.close()

    _until(lambda: yard.page.phones == 0)


def _until(condition: Any) -> None:
    end = time.monotonic() + 120
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.02)


# -- the broadcast by itself ---------------------------------------------------------------------------------------


EVENT = wrap(LinkState(link="indicator", state="up"), site="larkmoor", time=datetime(2026, 11, 24, tzinfo=UTC), key="1")


class Shelf:
    """A journal in memory that can be away."""

    def __init__(self) -> None:
        self.rows: list[str] = []
        self.away = False

    @property
    def last(self) -> int:
        return len(self.rows)

    async def read(self, after: int, limit: int = 256) -> list[tuple[int, str]]:
        if self.away:
            raise JournalError("the disk is full")
        return [(after + at + 1, row) for at, row in enumerate(self.rows[after : after + limit])]

    async def weighings(self, **_: Any) -> list[Event]:
        return []

    def write(self, count: int) -> list[Event]:
        """Make so many events with their sequences."""
        made = []
        for _ in range(count):
            sequence = f"{len(self.rows) + 1:010d}"
            event = EVENT.model_copy(update={"sequence": sequence})
            self.rows.append(event.to_json())
            made.append(event)
        return made


@contextlib.asynccontextmanager
async def _broadcast(shelf: Shelf, hub: Hub) -> AsyncIterator[Broadcast]:
    made = Broadcast(hub, shelf, lambda: {"site": "larkmoor"}, Troubles(unheard, time.monotonic))
    made.start()
    await until(lambda: bool(hub.watchers), "it watches")
    try:
        yield made
    finally:
        await made.stop()


async def _take(chunks: AsyncIterator[bytes], count: int) -> list[int]:
    """Read a stream until so many sequences have come."""
    found: list[int] = []
    async with asyncio.timeout(20):
        async for chunk in chunks:
            found += [int(line[4:]) for line in chunk.decode().splitlines() if line.startswith("id: ")]
            if len(found) >= count:
                return found
    return found


def test_what_the_hub_passed_over_is_read_in_the_journal() -> None:
    async def told() -> list[int]:
        shelf, hub = Shelf(), Hub()
        async with _broadcast(shelf, hub) as broadcast:
            chunks = broadcast.follow(Phone(0))
            for event in shelf.write(EVENTS_KEPT * 2 + 5):  # at one go: the hub keeps only so many for a watcher
                hub.put(event)
            return await _take(chunks, EVENTS_KEPT * 2 + 5)

    assert asyncio.run(told()) == list(range(1, EVENTS_KEPT * 2 + 6))


def test_a_journal_that_is_away_for_a_while_costs_only_time() -> None:
    async def told() -> list[int]:
        shelf, hub = Shelf(), Hub()
        shelf.write(RING + 5)
        shelf.away = True
        async with _broadcast(shelf, hub) as broadcast:
            chunks = broadcast.follow(Phone(0))
            assert await anext(chunks) == b"retry: 1000\n\n"
            waiting = asyncio.ensure_future(_take(chunks, RING + 5))
            await asyncio.sleep(0)
            shelf.away = False
            hub.put(Live(STATION, view("empty", 0.0)))
            return await waiting

    assert asyncio.run(told()) == list(range(1, RING + 6))


def test_a_phone_that_reads_slowly_skips_live_views_but_no_event() -> None:
    async def told() -> tuple[list[int], int]:
        shelf, hub = Shelf(), Hub()
        async with _broadcast(shelf, hub) as broadcast:
            chunks = broadcast.follow(Phone(0))
            await anext(chunks)
            for number, event in enumerate(shelf.write(40)):
                hub.put(event)
                hub.put(Live(STATION, view("standing", float(number))))
                await asyncio.sleep(0)
                await asyncio.sleep(0)
            chunk = (await anext(chunks)).decode()
            return [int(line[4:]) for line in chunk.splitlines() if line.startswith("id: ")], chunk.count("event: live")

    sequences, views = asyncio.run(told())
    assert sequences == list(range(1, 41))
    assert views == 1


def test_what_was_known_while_nobody_listened_is_not_told_as_new() -> None:
    async def told() -> str:
        hub, known = Hub(), {"site": "larkmoor", "troubles": ["old"]}
        made = Broadcast(hub, Shelf(), lambda: known, Troubles(unheard, time.monotonic))
        made.start()
        first = Phone(0)
        chunks = made.follow(first)
        await anext(chunks)
        await chunks.aclose()
        known["troubles"] = []
        chunks = made.follow(Phone(0))
        await anext(chunks)
        text = (await anext(chunks)).decode()
        await made.stop()
        return text

    assert '"troubles": []' in asyncio.run(told())


def test_the_same_event_told_twice_is_passed_on_once() -> None:
    async def told() -> list[int]:
        shelf, hub = Shelf(), Hub()
        async with _broadcast(shelf, hub) as broadcast:
            chunks = broadcast.follow(Phone(0))
            events = shelf.write(3)
            for event in [*events, *events, *shelf.write(1)]:
                hub.put(event)
            return await _take(chunks, 4)

    assert asyncio.run(told()) == [1, 2, 3, 4]
