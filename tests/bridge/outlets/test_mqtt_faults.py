"""The MQTT outlet and a real mosquitto that goes away, freezes, does not answer, or comes late: nothing is lost."""

import asyncio
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.bridge.outlets.test_mqtt_outlet import VERSIONS, drained, listens
from tests.support.broker import Broker
from tests.support.events import weighed
from tests.support.outlet import Yard, yard
from tests.support.running import run, until


@pytest.mark.parametrize(("protocol", "persistence"), [("5", "true"), ("3.1.1", "false")])
def test_a_broker_that_comes_and_goes_loses_nothing(
    make_broker: Callable[..., Broker], tmp_path: Path, protocol: str, persistence: str
) -> None:
    """Twenty restarts, by SIGTERM and SIGKILL in turn, with and without persistence of the broker's own."""
    store = (f"persistence {persistence}", f"persistence_location {tmp_path}/", "autosave_on_changes true")
    broker = make_broker(["allow_anonymous true", *store, "autosave_interval 1"])
    received: list[list[int]] = []

    async def day() -> None:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            one.outlet._backoff._longest_s = 0.05
            for turn in range(20):
                recorder = broker.record("neckyoke/larkmoor/crush/weighing")
                await one.journal.append([weighed(turn * 10 + number) for number in range(10)])
                messages = await asyncio.to_thread(recorder.wait_for, 10, "weighing")
                received.append([message.event["data"]["number"] for message in messages])
                await drained(one)  # acknowledged, so that the next broker is not given it again
                broker.stop(signal.SIGTERM if turn % 2 else signal.SIGKILL)
                recorder.close()
                await asyncio.to_thread(broker.start)

    run(day())
    assert received == [list(range(turn * 10, turn * 10 + 10)) for turn in range(20)]


def test_a_frozen_broker_is_noticed_and_what_it_had_is_sent_again(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record("neckyoke/larkmoor/crush/weighing")

    async def day() -> Yard:
        async with yard(tmp_path, broker.url, keepalive_s=2) as one:
            await one.journal.append([weighed(1)])
            await drained(one)
            broker.freeze()
            await one.journal.append([weighed(2)])
            await until(lambda: one.abouts() == ["outlet-farm"], "the freeze is noticed, by the keepalive")
            assert one.health().backlog == 1
            broker.thaw()
            await drained(one)
            return one

    one = run(day())
    numbers = [message.event["data"]["number"] for message in recorder.wait_for(2, "weighing")]
    assert sorted(set(numbers)) == [1, 2]
    assert len(numbers) <= 3  # the one that was under way may come twice, with the same id
    assert "is out of reach" in one.said[0].text


def test_a_message_no_one_acknowledges_is_given_up(
    broker: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("neckyoke.bridge.outlets.mqtt.connection.ACKNOWLEDGEMENT_S", 0.3)

    async def day() -> Yard:
        async with yard(tmp_path, broker.url) as one:
            await listens(broker)
            broker.freeze()
            await one.journal.append([weighed(2)])
            await until(lambda: bool(one.said), "it is said")
            broker.thaw()
            await drained(one)
            return one

    assert "has acknowledged nothing" in run(day()).said[0].text


@VERSIONS
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_a_broker_that_stops_is_said_to_have_stopped(
    broker: Broker, tmp_path: Path, protocol: str, number: signal.Signals
) -> None:
    async def day() -> Yard:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            await until(lambda: "Sending SUBACK" in broker.logged(), "connected, and done with greeting")
            broker.stop(number)
            await until(lambda: bool(one.said), "it is said")
            return one

    assert f"{broker.url} hung up or was shut down" in run(day()).said[0].text


def test_it_starts_without_a_broker_and_says_so_once(tmp_path: Path, make_broker: Callable[..., Broker]) -> None:
    broker = make_broker()
    broker.stop()

    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            one.outlet._backoff._first_s = one.outlet._backoff._next_s = one.outlet._backoff._longest_s = 0.01
            await one.journal.append([weighed(number) for number in range(30)])
            await until(lambda: one.abouts() == ["outlet-farm"], "it is said")
            await until(lambda: one.outlet._troubles._standing.all()[0].times > 20, "it is tried again")
            assert len(one.said) == 1
            assert "No event is lost" in one.said[0].text
            await asyncio.to_thread(broker.start)
            await drained(one)

    run(day())


def test_trouble_is_over_when_the_connection_has_held(
    broker: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A broker that lets in and throws out at once, again and again, is one trouble and not hundreds."""

    async def day() -> Yard:
        async with yard(tmp_path, broker.url) as one:
            one.outlet._backoff._first_s = one.outlet._backoff._next_s = one.outlet._backoff._longest_s = 0.01
            one.broker.steady_s = 100.0
            for turn in range(5):
                await until(lambda: one.health().connections > turn, "connected")  # noqa: B023
                if turn == 4:
                    one.broker.steady_s = 0.1
                broker.stop()
                await asyncio.to_thread(broker.start)
            await until(lambda: one.abouts(over=True) == ["outlet-farm"], "it is over")
            return one

    one = run(day())
    assert one.abouts() == ["outlet-farm"]
    assert one.said[-1].lasted_s is not None


def test_a_mistake_of_our_own_is_said_and_does_not_end_the_outlet(
    broker: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def day() -> Yard:
        async with yard(tmp_path, broker.url) as one:
            one.outlet._backoff._next_s = 0.01
            with monkeypatch.context() as patch:
                patch.setattr(one.broker._delivery, "post", lambda *_: 1 / 0)
                await one.journal.append([weighed(1)])
                await until(lambda: bool(one.said), "it is said")
            await drained(one)
            return one

    assert "please report it: ZeroDivisionError" in run(day()).said[0].text
