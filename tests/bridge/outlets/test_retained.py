"""What a broker retains is true, whoever dies: the platform's state, and the last weighing of a station."""

import asyncio
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.events import Flag, Weighing, wrap
from tests.support.broker import Broker, find, free_port, wait_until
from tests.support.daemon import ROOT
from tests.support.events import SITE, weighed, weighing
from tests.support.outlet import Yard, yard
from tests.support.running import run, until
from tests.support.status import view_of

PLATFORM = "neckyoke/larkmoor/crush/platform"
LAST = "neckyoke/larkmoor/crush/last"
VERSIONS = pytest.mark.parametrize("protocol", ["5", "3.1.1"])


def retained(broker: Broker, topic: str) -> dict[str, Any] | None:
    """Return what somebody who comes late is given: None when nothing is retained."""
    command = [find("mosquitto_sub"), "-h", "127.0.0.1", "-p", str(broker.port), "-t", topic, "-C", "1", "-W", "1"]
    found = subprocess.run(command, check=False, capture_output=True, text=True, timeout=20).stdout
    return json.loads(found) if found.strip() else None


def publish(broker: Broker, topic: str, payload: str) -> None:
    command = [find("mosquitto_pub"), "-h", "127.0.0.1", "-p", str(broker.port), "-t", topic, "-m", payload, "-r"]
    subprocess.run([*command, "-q", "1"], check=True)


def letting_go(folder: Path, broker: Broker, protocol: str) -> "subprocess.Popen[str]":
    command = [sys.executable, "-m", "tests.support.letting_go", str(folder), broker.url, protocol]
    process = subprocess.Popen(
        command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "shown\n"
    return process


@VERSIONS
@pytest.mark.parametrize("how", ["killed", "stopped"])
def test_nobody_is_let_go_by_a_daemon_that_is_gone(broker: Broker, tmp_path: Path, protocol: str, how: str) -> None:
    recorder = broker.record(PLATFORM)
    process = letting_go(tmp_path, broker, protocol)
    try:
        wait_until(lambda: any('"may_leave":true' in one.payload for one in recorder.messages()), "it is shown")
        if how == "killed":
            process.kill()
            process.communicate(timeout=10)
        else:
            process.communicate("\n", 20)
        wait_until(lambda: '"state":"offline"' in recorder.messages()[-1].payload, "those who were there hear of it")
    finally:
        process.kill()
        process.communicate(timeout=10)
    late = retained(broker, PLATFORM)
    assert late is not None
    assert (late["state"], late["may_leave"], late["kg"]) == ("offline", False, None)


@VERSIONS
def test_what_a_crash_left_is_replaced_on_connecting(broker: Broker, tmp_path: Path, protocol: str) -> None:
    publish(broker, PLATFORM, view_of(state="settled", kg=318.5, may_leave=True).model_dump_json())

    async def day() -> dict[str, Any] | None:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            one.outlet.show("crush", view_of(state="empty", kg=0.0))
            await until(lambda: one.health().connected, "connected")
            recorder = broker.record(PLATFORM)
            await asyncio.to_thread(
                wait_until, lambda: any('"state":"empty"' in one.payload for one in recorder.messages()), "it is shown"
            )
            return await asyncio.to_thread(retained, broker, PLATFORM)

    late = run(day())
    if protocol == "5":
        assert late is not None
        assert late["may_leave"] is False
    else:
        assert late is None, "3.1.1 cannot let it lapse, so nothing is retained"


def test_a_broker_that_refuses_the_small_connection_gets_the_events_all_the_same(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    """Its access list lets this user write everything but the platform."""
    access = tmp_path / "acl"
    access.write_text(
        "topic read #\n" + "".join(f"topic write neckyoke/larkmoor/{t}\n" for t in ("+/weighing", "status"))
    )
    broker = make_broker(["allow_anonymous true", f"acl_file {access}"])

    async def day() -> list[str]:
        async with yard(tmp_path, broker.url) as one:
            one.outlet.show("crush", view_of())
            await one.journal.append([weighed(1), weighed(2)])
            await until(lambda: one.health().backlog == 0, "the events are there")
            return one.abouts()

    assert "outlet-farm" not in run(day())


async def last_is(broker: Broker, number: int, revision: int) -> dict[str, Any]:
    """Wait until that is the last weighing."""
    found: dict[str, Any] = {}

    def there() -> bool:
        late = retained(broker, LAST)
        if late is not None:
            found.update(late["data"])
        return (found.get("number"), found.get("revision")) == (number, revision)

    await asyncio.to_thread(wait_until, there, f"weighing {number} revision {revision} is the last")
    return found


@VERSIONS
def test_who_comes_late_is_given_the_last_weighing_and_its_newest_revision(
    broker: Broker, tmp_path: Path, protocol: str
) -> None:
    publish(broker, LAST, json.dumps({"data": {"number": 99, "revision": 1}}))

    async def day() -> None:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            await one.journal.append([weighed(1), weighed(2)])
            await last_is(broker, 2, 1)
            await one.journal.append([weighed(1, revision=2)])
            await one.journal.append([weighed(2, revision=2)])
            await last_is(broker, 2, 2)
            void = weighing(2, revision=3).model_copy(update={"flags": (Flag.VOIDED,)})
            await one.journal.append([wrap(void, site=SITE, time=void.off, key="2/3"), weighed(1, revision=3)])
            assert (await last_is(broker, 2, 3))["flags"] == ["voided"]

    run(day())


def test_a_backlog_never_stands_as_the_last_weighing(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record(LAST)

    async def before(one: Yard) -> None:
        await one.journal.append([weighed(number) for number in range(1, 301)])

    async def day() -> None:
        broker.freeze()
        async with yard(tmp_path, broker.url) as one:
            await before(one)
            broker.thaw()
            await until(lambda: one.health().backlog == 0, "everything is delivered")
            await one.journal.append([weighed(301)])
            await last_is(broker, 301, 1)

    run(day())
    numbers = [one.event["data"]["number"] for one in recorder.messages()]
    assert numbers == [300, 301]


def test_over_websocket(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    """The same outlet at mosquitto's WebSocket listener (RFC 6455, MQTT 5.0 section 6)."""
    port = free_port()
    broker = make_broker(["allow_anonymous true", f"listener {port} 127.0.0.1", "protocol websockets"])
    recorder = broker.record("neckyoke/larkmoor/crush/#")

    async def day() -> None:
        async with yard(tmp_path, f"ws://127.0.0.1:{port}/mqtt") as one:
            one.outlet.show("crush", view_of(kg=12.0))
            await one.journal.append([weighed(number) for number in range(1, 201)])
            await until(lambda: one.health().backlog == 0, "everything is delivered")
            await asyncio.to_thread(recorder.wait_for, 200, "/weighing")  # what is acknowledged may be on its way to it
            broker.stop()
            await one.journal.append([weighed(number) for number in range(201, 221)])
            broker.start()
            await until(lambda: one.health().backlog == 0, "everything is delivered after the broker came back")

    run(day())
    assert [one.event["data"]["number"] for one in recorder.on("/weighing")][:200] == list(range(1, 201))


def test_the_last_weighing_is_a_weighing_event() -> None:
    assert isinstance(weighed(1).data, Weighing)
