"""What is heavy is loaded only where it is needed: a Raspberry Pi feels every module at its start."""

import subprocess
import sys

import pytest

from tests.support.daemon import ROOT

HEAVY = ("aiomqtt", "paho", "bleak", "dbus_fast", "serial", "starlette", "uvicorn", "simulators")


@pytest.mark.parametrize(
    ("modules", "allowed"),
    [
        ("commands.run daemon.build asking.socket telling.systemd", set()),
        ("commands.status asking.socket", set()),
        ("commands.tell asking.socket", set()),
        ("outlets.mqtt", {"aiomqtt", "paho"}),
        ("links.serial.port", {"serial"}),
    ],
)
def test_heavy_modules_wait(modules: str, allowed: set[str]) -> None:
    named = ", ".join(f"neckyoke.bridge.{name}" for name in modules.split())
    program = f"import {named}, sys; print(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True, capture_output=True, text=True)
    loaded = {name.removeprefix("neckyoke.").partition(".")[0] for name in ran.stdout.split()}
    assert loaded & set(HEAVY) <= allowed
