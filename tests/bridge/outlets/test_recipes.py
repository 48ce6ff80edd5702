"""The recipes that the README gives to integrators, run as they are against a real broker and a real daemon."""

import json
import os
import runpy
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory
from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker, Recorder
from tests.support.daemon import CONFIG, ROOT, Daemon, latest, until
from tests.support.npm import npm_packages

RECIPES = ROOT / "tests" / "recipes"
SPEED = 8.0


class Running:
    """Recipes that run, each in a folder of its own."""

    def __init__(self, folder: Path, broker: Broker) -> None:
        self._folder, self._broker = folder, broker
        self._processes: list[subprocess.Popen[bytes]] = []

    def start(self, name: str, program: str, needs: Path | None = None) -> Path:
        """Start a recipe; return the folder it runs in, with its output in `out`."""
        folder = self._folder / name
        folder.mkdir()
        shutil.copy(RECIPES / name, folder)
        if needs is not None:
            (folder / "node_modules").symlink_to(needs)
        before = self._subscriptions()
        with (folder / "out").open("wb") as out:
            command = [program, name, "127.0.0.1", str(self._broker.port)]
            self._processes.append(
                subprocess.Popen(command, cwd=folder, stdout=out, stderr=out, start_new_session=True)
            )
        until(lambda: self._subscriptions() > before, f"{name} subscribes")
        return folder

    def _subscriptions(self) -> int:
        return self._broker.logged().count("Sending SUBACK")

    def close(self) -> None:
        for process in self._processes:
            os.killpg(process.pid, 9)
            process.wait(10)


@pytest.fixture
def running(tmp_path: Path, broker: Broker) -> Iterator[Running]:
    made = Running(tmp_path, broker)
    yield made
    made.close()


def weigh_some(folder: Path, broker: Broker, recorder: Recorder) -> dict[str, dict[str, Any]]:
    """Let a real daemon weigh a few animals and amend one; return the truth by weighing."""
    config = CONFIG.format(indicator=f"serial:{folder}/indicator", panel=f"serial:{folder}/panel")
    daemon = Daemon(folder, config + f'[outlets.farm]\nmqtt = "{broker.url}"\n', SPEED)
    yard = Yard.named("larkmoor", seed=3, animals=3)
    with PtyEnd(folder / "indicator") as indicator, PtyEnd(folder / "panel") as panel:
        try:
            daemon.start()
            daemon.play(yard.items(), {"indicator": indicator, "panel": panel})
            until(lambda: len(daemon.weighings()) == len(yard.truth), "the weighings")
            assert daemon.ask({"kind": "note", "number": 1, "text": "lame, near hind"})["done"]
            until(lambda: any(data["notes"] for data in daemon.weighings().values()), "the note")
            events = [event for event in daemon.events() if event["type"] == "neckyoke.weighing"]
            until(lambda: len(recorder.on("/weighing")) >= len(events), "the broker has them")
            assert daemon.stop() == 0
        finally:
            daemon.close()
    return latest(daemon.events())


def send_again(broker: Broker, recorder: Recorder) -> None:
    """Send everything again, as delivery at least once may, the old revisions last."""
    messages = sorted(recorder.on("/weighing"), key=lambda one: -one.event["data"]["revision"])
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    for message in messages:
        client.publish(message.topic, message.payload, qos=1).wait_for_publish(30)
    client.publish("neckyoke/larkmoor/crush/weighing", marker(messages[0].event), qos=1).wait_for_publish(30)
    client.disconnect()
    client.loop_stop()


def marker(event: dict[str, Any]) -> str:
    """Make one more weighing, by whose arrival everything before it has arrived."""
    data = {**event["data"], "weighing": "the-last-one", "revision": 1}
    return json.dumps({**event, "id": "the-last-one", "data": data}, separators=(",", ":"))


def test_three_recorders_keep_the_same_truth(
    tmp_path: Path, broker: Broker, running: Running, pytestconfig: pytest.Config
) -> None:
    recorder = broker.record()
    python = running.start("recorder.py", sys.executable)
    shell = running.start("recorder.sh", "sh")
    node = running.start("recorder.mjs", "node", npm_packages(pytestconfig))
    truth = weigh_some(tmp_path, broker, recorder)
    assert {data["revision"] for data in truth.values()} >= {1, 2}

    send_again(broker, recorder)

    for path in (shell / "out", node / "weighings.jsonl"):
        until(lambda path=path: "the-last-one" in read(path), f"{path} has them all")  # type: ignore[misc]
        lines = [json.loads(line) for line in read(path).splitlines()][:-1]
        assert latest(lines) == truth
        assert len({line["id"] for line in lines}) == len(lines)
    until(lambda: "the-last-one" in rows(python), "the database has them all")
    kept = rows(python)
    del kept["the-last-one"]
    assert kept == {name: (data["revision"], data["weight"]["kg"]) for name, data in truth.items()}


def read(path: Path) -> str:
    return path.read_text() if path.exists() else ""


def rows(folder: Path) -> dict[str, tuple[int, float]]:
    connection = sqlite3.connect(folder / "farm.db")
    try:
        return {
            name: (revision, kg) for name, revision, kg in connection.execute("select id, revision, kg from weighing")
        }
    finally:
        connection.close()


def settled(*, may_leave: bool, kg: float) -> str:
    return json.dumps({"type": "neckyoke.settled", "data": {"may_leave": may_leave, "weight": {"kg": kg}}})


def test_the_lamp_is_lit_only_for_an_animal_that_may_leave(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """By gpiozero's own stand-in for the pins of a Raspberry Pi."""
    factory = MockFactory()
    monkeypatch.setattr(Device, "pin_factory", factory)
    for may_leave in (False, True):
        monkeypatch.setattr(sys, "stdin", StringIO(settled(may_leave=may_leave, kg=318.5) + "\n"))
        lamp = runpy.run_path(str(RECIPES / "lamp.py"))["lamp"]
        assert bool(lamp.is_active or lamp.pin.state) is may_leave
        lamp.close()
    assert capsys.readouterr().out == "\a 318.5 kg\n"
    factory.reset()


def test_the_lamp_hears_the_broker(tmp_path: Path, broker: Broker) -> None:
    """The line in the recipe's own words, the broker's address aside."""
    text = (RECIPES / "lamp.py").read_text()
    line = next(line for line in text.splitlines() if line.startswith("mosquitto_sub"))
    line = line.replace("broker.local", f"127.0.0.1 -p {broker.port}").replace(
        "python3 lamp.py", f"{sys.executable} lamp.py"
    )
    shutil.copy(RECIPES / "lamp.py", tmp_path)
    environ = {**os.environ, "GPIOZERO_PIN_FACTORY": "mock"}
    environ.pop("PYTHONUNBUFFERED", None)  # people have none: what is beeped comes at once all the same
    with (tmp_path / "out").open("wb") as out:
        process = subprocess.Popen(line, shell=True, cwd=tmp_path, env=environ, stdout=out, start_new_session=True)
    try:
        until(lambda: "Sending SUBACK" in broker.logged(), "the lamp listens")
        client = paho.Client(CallbackAPIVersion.VERSION2)
        client.connect("127.0.0.1", broker.port)
        client.loop_start()
        topic = "neckyoke/larkmoor/crush/settled"
        client.publish(topic, settled(may_leave=True, kg=402.0), qos=1).wait_for_publish(30)
        client.disconnect()
        client.loop_stop()
        until(lambda: "402.0 kg" in read(tmp_path / "out"), "the beep")
    finally:
        os.killpg(process.pid, 9)
        process.wait(10)
