"""The MQTT outlet against a real mosquitto, received by mosquitto_sub: topics, properties, order, live, requests."""

import asyncio
import json
import subprocess
import sys
from pathlib import Path

import pytest

from neckyoke.bridge.events import Attention, read_event, wrap
from neckyoke.bridge.outlets.mqtt.live import WORTH_S
from tests.support.broker import Broker, find, wait_until
from tests.support.events import DAY, SITE, link_state, weighed
from tests.support.outlet import Yard, yard
from tests.support.running import run, until
from tests.support.status import view_of

VERSIONS = pytest.mark.parametrize("protocol", ["5", "3.1.1"])


async def listens(broker: Broker) -> None:
    """Wait until the outlet has subscribed to requests, the last thing it does on connecting."""
    await asyncio.to_thread(wait_until, lambda: "larkmoor/+/request" in broker.logged(), "it listens")


async def drained(one: Yard) -> None:
    await until(lambda: one.health().backlog == 0, "everything is delivered")


@VERSIONS
def test_events_arrive_in_order_on_their_topics(broker: Broker, tmp_path: Path, protocol: str, no_leaks: None) -> None:
    recorder = broker.record()
    alone = wrap(Attention(station=None, about="disk", text="full"), site=SITE, time=DAY, key="1")
    here = wrap(Attention(station="crush", about="zero-off", text="clean it"), site=SITE, time=DAY, key="2")

    async def day() -> None:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            await one.journal.append([link_state(1), *(weighed(number) for number in range(1, 201)), alone, here])
            await drained(one)
            await until(lambda: one.journal.position("farm") == 203, "the position is kept")

    run(day())
    weighings = recorder.wait_for(200, "neckyoke/larkmoor/crush/weighing")
    assert [read_event(message.payload).data.number for message in weighings] == list(range(1, 201))  # type: ignore[union-attr]
    assert [message.event["sequence"] for message in weighings] == [f"{number:010d}" for number in range(2, 202)]
    assert {message.qos for message in weighings} == {1}
    assert recorder.wait_for(1, "larkmoor/attention")[0].event["data"]["about"] == "disk"
    assert recorder.wait_for(1, "crush/attention")[0].event["data"]["about"] == "zero-off"
    assert recorder.wait_for(1, "larkmoor/link/panel")[0].event["data"]["state"] == "up"
    if protocol == "5":
        assert weighings[0].properties == {
            "content-type": "application/cloudevents+json; charset=utf-8",
            "payload-format-indicator": 1,
        }
    late = broker.record("neckyoke/#")
    states = late.wait_for(3, "")
    kept = [f"neckyoke/larkmoor/{topic}" for topic in ("crush/last", "link/panel", "status")]
    assert sorted(message.topic for message in states) == kept
    assert all(message.retained for message in states)  # and no event is


def test_the_prefix_is_a_setting(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record()

    async def day() -> None:
        async with yard(tmp_path, broker.url, prefix="farm/yards") as one:
            await one.journal.append([weighed(1)])
            await drained(one)

    run(day())
    recorder.wait_for(1, "farm/yards/larkmoor/crush/weighing")


def states(messages: list[object]) -> list[tuple[str, str | None]]:
    return [(one["state"], one.get("reason")) for one in (json.loads(message.payload) for message in messages)]  # type: ignore[attr-defined]


def test_a_clean_stop_says_farewell(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record("+/+/status")

    async def day() -> None:
        async with yard(tmp_path, broker.url):
            await asyncio.to_thread(recorder.wait_for, 1, "status")

    run(day())
    messages = recorder.wait_for(2, "status")
    assert states(list(messages)) == [("online", None), ("offline", "stopped")]
    assert messages[0].event["loop_lag_s"] == 0.0
    assert messages[0].event["session"] == messages[1].event["session"]


def test_an_exception_says_farewell_too(broker: Broker, tmp_path: Path) -> None:
    """A clean disconnect on the way out of an exception sends no will, and "online" would stand for ever."""
    recorder = broker.record("+/+/status")

    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            await asyncio.to_thread(recorder.wait_for, 1, "status")
            one.running.cancel()
            await asyncio.wait({one.running})

    run(day())
    assert states(list(recorder.wait_for(2, "status"))) == [("online", None), ("offline", "failed")]


def test_a_daemon_that_is_killed_leaves_a_will(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record("+/+/status")
    program = (
        "import asyncio, sys\nfrom pathlib import Path\nfrom tests.support.outlet import yard\n"
        "async def day():\n    async with yard(Path(sys.argv[1]), sys.argv[2]):\n        await asyncio.sleep(60)\n"
        "asyncio.run(day())\n"
    )
    daemon = subprocess.Popen([sys.executable, "-c", program, tmp_path, broker.url])
    recorder.wait_for(1, "status")
    daemon.kill()
    daemon.wait()
    assert states(list(recorder.wait_for(2, "status"))) == [("online", None), ("offline", "lost")]


def test_link_states_are_retained_but_never_an_old_one(broker: Broker, tmp_path: Path) -> None:
    """A backlog of link events must not show old states as present ones while it drains."""

    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            await drained(one)
            broker.stop()
            await one.journal.append([link_state(1, "lost"), link_state(2, "up"), link_state(3, "silent")])
            broker.start()
            watcher = broker.record("neckyoke/larkmoor/link/#", "--retain-as-published")
            await drained(one)
            messages = await asyncio.to_thread(watcher.wait_for, 4, "panel")
            assert [(message.event["data"]["state"], message.retained) for message in messages] == [
                ("silent", True),  # the present state, asserted on connecting
                ("lost", False),
                ("up", False),
                ("silent", True),
            ]

    run(day())


def test_live_state_is_the_latest_and_at_most_five_a_second(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record("neckyoke/larkmoor/crush/platform")

    async def day() -> float:
        loop = asyncio.get_running_loop()
        async with yard(tmp_path, broker.url) as one:
            await drained(one)
            begin = loop.time()
            for number in range(200):
                one.outlet.show("crush", view_of(kg=float(number)))
                await asyncio.sleep(0.005)
            await asyncio.to_thread(
                wait_until,
                lambda: any("199.0" in message.payload for message in recorder.messages()),
                "the last one is received",
            )
            took = loop.time() - begin
            late = broker.record("neckyoke/larkmoor/crush/platform")
            first = (await asyncio.to_thread(late.wait_for, 1, "platform"))[0]
            assert first.retained
            assert first.event["kg"] == 199.0
            assert int(first.properties["message-expiry-interval"]) <= WORTH_S
            return took

    took = run(day())
    messages = [message for message in recorder.messages() if "offline" not in message.payload]
    assert len(messages) <= took * 5 + 2
    assert {message.qos for message in messages} == {0}


def publish(broker: Broker, topic: str, message: str, *more: str) -> None:
    subprocess.run(
        [
            find("mosquitto_pub"),
            "-h",
            "127.0.0.1",
            "-p",
            str(broker.port),
            "-V",
            "5",
            "-q",
            "1",
            "-t",
            topic,
            "-m",
            message,
            *more,
        ],
        check=True,
    )


@VERSIONS
def test_requests_are_answered_where_they_ask(broker: Broker, tmp_path: Path, protocol: str) -> None:
    recorder = broker.record()
    topic = "neckyoke/larkmoor/crush/request"
    publish(broker, topic, '{"kind":"zero","id":"retained"}', "-r")  # done again at each connection, were it heeded

    async def day() -> Yard:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            await listens(broker)
            await asyncio.to_thread(publish, broker, topic, '{"kind":"note","text":"lame"}')
            await asyncio.to_thread(recorder.wait_for, 1, "crush/answer")
            asks = ("-D", "publish", "correlation-data", "c-1", "-D", "publish", "response-topic")
            await asyncio.to_thread(publish, broker, topic, "{}", *asks, "my/answers")
            await until(lambda: len(one.asked) == 2, "the second request is taken")
            await asyncio.to_thread(publish, broker, topic, "{}", *asks, "neckyoke/larkmoor/crush/weighing")
            await until(lambda: len(one.asked) == 3, "the third request is taken")
            await asyncio.to_thread(recorder.wait_for, 2, "crush/answer")
            return one

    one = run(day())
    assert one.asked == [("crush", b'{"kind":"note","text":"lame"}'), ("crush", b"{}"), ("crush", b"{}")]
    answers = recorder.on("answer")
    assert json.loads(answers[0].payload) == {"done": True, "text": "noted"}
    assert not any(message.retained for message in answers)
    assert not recorder.on("crush/weighing")  # an answer must not pass for an event
    if protocol == "5":
        (elsewhere,) = recorder.wait_for(1, "my/answers")
        assert elsewhere.properties["correlation-data"] == "c-1"
