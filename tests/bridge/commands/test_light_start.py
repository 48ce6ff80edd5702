"""What is heavy is loaded only where it is needed: a Raspberry Pi feels every module at its start."""

import subprocess
import sys

import pytest

from tests.support.daemon import ROOT

HEAVY = ("aiomqtt", "paho", "bleak", "dbus_fast", "serial", "starlette", "uvicorn", "matplotlib", "simulators")


@pytest.mark.parametrize(
    ("modules", "allowed"),
    [
        (
            "neckyoke.bridge.commands.run, neckyoke.bridge.daemon.service, neckyoke.bridge.asking.socket, neckyoke.bridge.telling.systemd",
            set(),
        ),
        ("neckyoke.bridge.commands.status, neckyoke.bridge.asking.socket", set()),
        ("neckyoke.bridge.commands.tell, neckyoke.bridge.asking.socket", set()),
        ("neckyoke.bridge.outlets.mqtt", {"aiomqtt", "paho"}),
        ("neckyoke.bridge.links.serial.port", {"serial"}),
    ],
)
def test_heavy_modules_wait(modules: str, allowed: set[str]) -> None:
    program = f"import {modules}, sys; print(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True, capture_output=True, text=True)
    loaded = {name.partition(".")[0] for name in ran.stdout.split()}
    assert loaded & set(HEAVY) <= allowed
