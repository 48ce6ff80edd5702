"""The MQTT outlet over a bad wire: cut, stalled, slow, leading nowhere; and the machine around it unharmed."""

import asyncio
import random
import selectors
import socket
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.outlets.mqtt.broker import Broker as Where
from neckyoke.bridge.outlets.mqtt.broker import BrokerError
from neckyoke.bridge.outlets.mqtt.connection import Connection
from neckyoke.bridge.outlets.mqtt.delivery import WINDOW
from tests.support.broker import Broker, free_port
from tests.support.events import weighed
from tests.support.leaping import run_leaping
from tests.support.outlet import Yard, yard
from tests.support.proxy import Wire
from tests.support.running import run, until


async def drained(one: Yard) -> None:
    await until(lambda: one.health().backlog == 0, "everything is delivered")


def test_a_wire_cut_again_and_again_loses_nothing_and_keeps_the_order(broker: Broker, tmp_path: Path) -> None:
    """Every event arrives; repeats are whole windows at the most, have the same id, and are the only disorder."""
    recorder = broker.record("neckyoke/larkmoor/crush/weighing")
    chance = random.Random(3)
    cuts = 12

    async def day() -> None:
        async with Wire(broker.port, delay_s=0.005) as wire, yard(tmp_path, wire.url) as one:
            one.outlet._backoff._longest_s = 0.02
            await one.journal.append([weighed(number) for number in range(600)])
            for _ in range(cuts):
                goal = one.health().delivered + chance.randint(5, 40)
                await until(lambda: one.health().delivered >= goal, "some more are delivered")  # noqa: B023
                await wire.cut()
            await drained(one)

    run(day())
    recorder.wait_for(600, "weighing")
    ids = [message.event["id"] for message in recorder.messages()]
    numbers = [message.event["data"]["number"] for message in recorder.messages()]
    assert len(ids) - len(set(ids)) <= cuts * 20
    assert list(dict.fromkeys(numbers)) == list(range(600))  # the first of each comes in order


def test_a_slow_wire_is_kept_full_but_not_fuller(
    broker: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a wire of 20 ms each way, as many as the broker allows are under way (its own default is twenty)."""
    under_way: list[int] = []
    events: list[asyncio.Future[int]] = []
    post = Connection.post

    def counted(self: Connection, topic: str, *arguments: Any, **more: Any) -> "asyncio.Future[int]":
        future = post(self, topic, *arguments, **more)
        if topic.endswith("/weighing"):  # the status goes its own way
            events.append(future)
            under_way.append(sum(not one.done() for one in events))
        return future

    monkeypatch.setattr(Connection, "post", counted)

    async def day() -> None:
        async with Wire(broker.port, delay_s=0.02) as wire, yard(tmp_path, wire.url) as one:
            await one.journal.append([weighed(number) for number in range(300)])
            await drained(one)

    run(day())
    assert max(under_way) == WINDOW


def test_a_stalled_wire_is_given_up_and_the_next_one_used(broker: Broker, tmp_path: Path) -> None:
    async def day() -> None:
        async with Wire(broker.port) as wire, yard(tmp_path, wire.url, keepalive_s=2) as one:
            one.outlet._backoff._longest_s = 0.02
            await one.journal.append([weighed(1)])
            await drained(one)
            wire.flowing.clear()
            await one.journal.append([weighed(2)])
            await until(lambda: bool(one.said), "the stall is noticed")
            wire.flowing.set()
            await drained(one)

    run(day())


def where(port: int) -> Where:
    return Where("127.0.0.1", port, client_id="tidy", keepalive_s=15)


def test_attempts_that_fail_leave_no_descriptor(
    broker: Broker, monkeypatch: pytest.MonkeyPatch, no_leaks: None
) -> None:
    """Refused, hung up on, and never greeted: the last leaks a socket and a task each in the library alone."""
    monkeypatch.setattr("neckyoke.bridge.outlets.mqtt.connection.GREETING_S", 0.05)

    async def attempts() -> None:
        tasks = len(asyncio.all_tasks())
        broker.freeze()
        mute = socket.create_server(("127.0.0.1", 0))
        for port in (free_port(), broker.port, mute.getsockname()[1]):
            for _ in range(5):
                connection = Connection(where(port), "a/status", "gone", None)
                with pytest.raises(BrokerError):
                    await connection.enter()
        mute.close()
        await until(lambda: len(asyncio.all_tasks()) <= tasks, "no task is left")
        broker.thaw()

    run(attempts())


def test_giving_up_while_connecting_leaves_no_descriptor(broker: Broker, no_leaks: None) -> None:
    """The thread that connects cannot be stopped; what it brings back late is put away."""

    async def attempts() -> None:
        tasks = len(asyncio.all_tasks())
        for wait_s in (0.0, 0.0005, 0.001, 0.002, 0.005):
            connection = Connection(where(broker.port), "a/status", "gone", None)
            entering = asyncio.create_task(connection.enter())
            await asyncio.sleep(wait_s)
            entering.cancel()
            await asyncio.wait({entering})
            if not entering.cancelled():
                await connection.leave("bye")
        await until(lambda: len(asyncio.all_tasks()) <= tasks, "no task is left")

    run(attempts())


def test_the_loop_does_not_spin_when_nothing_is_left_to_write(broker: Broker) -> None:
    """The library asks to watch the socket in the next turn of the loop; by then all may have been written."""

    async def watched() -> bool:
        connection = Connection(where(broker.port), "a/status", "gone", None)
        await connection.enter()
        sock = connection._client.socket()
        connection._on_socket_register_write(connection._client, None, sock)
        connection._on_socket_unregister_write(connection._client, None, sock)
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        key = asyncio.get_running_loop()._selector.get_key(sock)  # type: ignore[attr-defined]
        await connection.leave("bye")
        return bool(key.events & selectors.EVENT_WRITE)

    assert not run(watched())


def test_more_than_the_wire_holds_is_written_when_there_is_room(broker: Broker) -> None:
    async def written() -> int:
        connection = Connection(where(broker.port), "a/status", "gone", None)
        await connection.enter()
        broker.freeze()
        futures = [connection.post("a/much", "x" * 1_000_000) for _ in range(15)]
        await asyncio.sleep(0.05)
        assert connection._client.want_write()
        broker.thaw()
        for future in futures:
            await connection.acknowledged(future)
        await connection.leave("bye")
        return len(futures)

    assert run(written()) == 15


def test_a_broker_that_dies_leaves_nothing_behind_in_us(broker: Broker, tmp_path: Path, no_leaks: None) -> None:
    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            one.outlet._backoff._longest_s = 0.02
            for turn in range(5):
                await one.journal.append([weighed(turn)])
                await drained(one)
                broker.stop()
                await until(lambda: not one.health().connected, "noticed")
                await asyncio.to_thread(broker.start)
                await until(lambda: one.health().connected, "back")

    run(day())


def test_stopping_does_not_wait_for_a_broker_that_is_away(tmp_path: Path) -> None:
    async def day() -> float:
        async with yard(tmp_path, f"mqtt://127.0.0.1:{free_port()}") as one:
            await one.journal.append([weighed(1)])
            await until(lambda: bool(one.said), "it is away")
            begin = asyncio.get_running_loop().time()
            await one.outlet.stop(20.0)
            assert one.journal.position("farm") == 0
            return asyncio.get_running_loop().time() - begin

    assert run(day()) < 10.0


def test_stopping_does_not_wait_long_for_a_broker_that_is_frozen(broker: Broker, tmp_path: Path) -> None:
    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            await until(lambda: one.health().connected, "connected")
            broker.freeze()
            await one.journal.append([weighed(1)])
            await one.outlet.stop(0.05)
            assert not one.running.done()
            one.running.cancel()
            await asyncio.wait({one.running}, timeout=20)
            assert one.running.done()  # its farewell is given two seconds
        broker.thaw()

    run(day())


def test_a_day_without_a_broker_is_said_in_a_line(tmp_path: Path) -> None:
    async def day() -> tuple[Yard, int]:
        async with yard(tmp_path, f"mqtt://127.0.0.1:{free_port()}") as one:
            await asyncio.sleep(24 * 3600)
            return one, one.outlet._troubles._standing.all()[0].times

    one, times = run_leaping(day())
    assert len(one.said) == 1
    assert 24 * 60 < times < 24 * 120 * 1.1  # a try every half to whole minute
