"""Brokers and receivers of others, in two languages, from their registries: every event is seen, and found valid.

aedes (npm) and amqtt (Python Package Index) as brokers beside mosquitto; MQTT.js and the CloudEvents SDK for JavaScript
as receivers.
"""

import asyncio
import contextlib
import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.support.broker import Broker, free_port, wait_until
from tests.support.events import link_state, weighed
from tests.support.far_side import shed as following
from tests.support.npm import npm_packages
from tests.support.outlet import yard
from tests.support.pypi import pypi_package
from tests.support.running import run, until

STRANGERS = Path(__file__).parents[2] / "support" / "strangers"
AMQTT = ("amqtt", "0.12.1")
"""The last there is."""
COUNT = 60

pytestmark = pytest.mark.timeout(600)


class Stranger:
    """A program of somebody else's parts; it prints a word when it is ready."""

    def __init__(self, log: Path, command: list[str], **environ: str) -> None:
        self._log = log
        with log.open("wb") as out:
            self._process = subprocess.Popen(
                command, stdout=out, stderr=subprocess.STDOUT, env={**os.environ, **environ}, start_new_session=True
            )

    def said(self) -> list[str]:
        text = self._log.read_text()
        return text[: text.rfind("\n") + 1].splitlines()

    def ready(self, word: str) -> "Stranger":
        wait_until(lambda: word in self.said() or self._process.poll() is not None, f"{self._log} says {word}", 60.0)
        assert self._process.poll() is None, self.said()
        return self

    def events(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.said() if line.startswith("{")]

    def close(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait(10)


def in_javascript(config: pytest.Config, log: Path, script: str, *arguments: str) -> Stranger:
    return Stranger(log, ["node", str(STRANGERS / script), *arguments], NODE_PATH=str(npm_packages(config)))


@pytest.fixture(params=["aedes", "amqtt", "mosquitto"])
def url(request: pytest.FixtureRequest, tmp_path: Path, pytestconfig: pytest.Config) -> Iterator[str]:
    """Yield the address of a broker of each make."""
    if request.param == "mosquitto":
        broker: Broker = request.getfixturevalue("broker")
        yield broker.url
        return
    port = str(free_port())
    if request.param == "aedes":
        stranger = in_javascript(pytestconfig, tmp_path / "broker.log", "broker.js", port)
    else:
        folder = str(pypi_package(pytestconfig, *AMQTT, patience_s=240.0))
        stranger = Stranger(
            tmp_path / "broker.log", [sys.executable, str(STRANGERS / "broker.py"), port], PYTHONPATH=folder
        )
    try:
        stranger.ready("listens")
        yield f"mqtt://127.0.0.1:{port}"
    finally:
        stranger.close()


def test_every_event_is_seen_by_mqtt_js_at_every_broker(
    url: str, tmp_path: Path, pytestconfig: pytest.Config, request: pytest.FixtureRequest
) -> None:
    protocol = "5" if request.node.callspec.params["url"] == "mosquitto" else "3.1.1"
    version = {"5": "5", "3.1.1": "4"}[protocol]
    receiver = in_javascript(pytestconfig, tmp_path / "receiver.log", "subscriber.js", url, version)
    sent = []

    async def day() -> None:
        async with yard(tmp_path, url, protocol=protocol) as one:
            for number in range(1, COUNT + 1):
                events = [weighed(number), link_state(number)]
                if number % 7 == 0:
                    events.append(weighed(number, revision=2, kg=300.0))
                sent.extend(await one.journal.append(events))
            await until(lambda: one.health().backlog == 0, "everything is acknowledged", 60.0)
            await until(lambda: {one["id"] for one in receiver.events()} == {event.id for event in sent}, "all", 60.0)
            assert one.said == []

    try:
        receiver.ready("subscribed")
        run(day(), 150)
        seen = receiver.events()
    finally:
        receiver.close()
    by_id = {event.id: event.data.model_dump(mode="json") for event in sent}
    assert {one["id"]: one["data"] for one in seen} == by_id
    for kind, ending in (("neckyoke.weighing", "/weighing"), ("neckyoke.link", "/link/panel")):
        came = [one["sequence"] for one in seen if one["topic"].endswith(ending)]
        there = [event.sequence for event in sent if event.type == kind]
        assert sorted(set(came)) == there
        assert [one for at, one in enumerate(came) if one not in came[at + 1 :]] == there, "in order"
    assert len([one for one in seen if one["topic"].endswith("/weighing")]) == COUNT + COUNT // 7, "each once"


@pytest.mark.parametrize("mode", ["structured", "binary", "batch"])
def test_every_event_is_read_by_the_sdk_from_every_mode_of_http(
    mode: str, tmp_path: Path, pytestconfig: pytest.Config
) -> None:
    port = str(free_port())
    receiver = in_javascript(pytestconfig, tmp_path / "receiver.log", "server.js", port)

    async def day() -> list[Any]:
        async with following(tmp_path, {"http": f"http://127.0.0.1:{port}/", "events": mode}) as one:
            sent = await one.journal.append([weighed(number) for number in range(1, COUNT + 1)])
            await one.drained()
            await asyncio.to_thread(wait_until, lambda: len(receiver.events()) == COUNT, "all are printed", 30.0)
            assert one.said == []
            return sent

    try:
        receiver.ready("listens")
        sent = run(day(), 150)
        found = receiver.events()
    finally:
        receiver.close()
    assert [(one["id"], one["sequence"]) for one in found] == [(event.id, event.sequence) for event in sent]
    assert [one["data"] for one in found] == [event.data.model_dump(mode="json") for event in sent]
