"""The flow for Node-RED, run as it is by Node-RED (of the npm registry) at a real broker."""

import json
import os
import shutil
import signal
import subprocess
from pathlib import Path

import pytest
from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from neckyoke.bridge.events import Flag, wrap
from tests.support.broker import Broker, free_port, wait_until
from tests.support.daemon import ROOT
from tests.support.events import SITE, weighed, weighing
from tests.support.npm import npm_package

NODE_RED = {"node-red": "4.1.8"}
"""The last that runs on Debian 12's Node.js."""


@pytest.mark.long
@pytest.mark.timeout(400)
def test_it_keeps_the_newest_of_each_weighing(broker: Broker, tmp_path: Path, pytestconfig: pytest.Config) -> None:
    modules = npm_package(pytestconfig, NODE_RED)
    shutil.copy(ROOT / "tests" / "recipes" / "flow.json", tmp_path)
    environ = {
        **os.environ,
        "BROKER_HOST": "127.0.0.1",
        "BROKER_PORT": str(broker.port),
        "NODE_RED_DISABLE_TELEMETRY": "1",
    }
    command = ["node", str(modules / "node-red" / "red.js"), "-u", str(tmp_path), "-p", str(free_port()), "flow.json"]
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(command, cwd=tmp_path, env=environ, stdout=log, stderr=log, start_new_session=True)
    try:
        wait_until(lambda: "node-red-recorder 1 neckyoke" in broker.logged(), "the flow has subscribed", 90.0)
        void = weighing(2, revision=2).model_copy(update={"flags": (Flag.VOIDED,)})
        struck = wrap(void, site=SITE, time=void.off, key="2")
        sent = [weighed(1), weighed(2), weighed(1, revision=2, kg=300.0), weighed(1), struck]
        client = paho.Client(CallbackAPIVersion.VERSION2)
        client.connect("127.0.0.1", broker.port)
        client.loop_start()
        for event in [*sent, *sent, weighed(9)]:
            client.publish("neckyoke/larkmoor/crush/weighing", event.to_json(), qos=1).wait_for_publish(30)
        client.disconnect()
        client.loop_stop()
        kept = tmp_path / "weighings.jsonl"
        last = weighing(9).weighing
        wait_until(lambda: kept.exists() and last in kept.read_text(), "the last one is written", 60.0)
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(10)
    lines = [json.loads(line) for line in kept.read_text().splitlines()]
    assert [(line["tag"][-1], line["revision"], line["kg"], line["struck_out"]) for line in lines] == [
        ("1", 1, 318.5, False),
        ("2", 1, 318.5, False),
        ("1", 2, 300.0, False),
        ("2", 2, 318.5, True),
        ("9", 1, 318.5, False),
    ]
