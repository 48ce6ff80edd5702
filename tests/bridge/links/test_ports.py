"""What is plugged in: found in a /dev, /sys and /proc laid out as Linux lays them out, and said with what to write."""

import asyncio
import os
import tomllib
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.ports import heard_text, port_text
from neckyoke.bridge.config.model import LinkTable
from neckyoke.bridge.links.bluetooth.in_range import InRange
from neckyoke.bridge.links.ports import Port, find_ports
from neckyoke.bridge.links.serial.devices import remedy
from neckyoke.simulators.bluetooth.ends import BleEnd
from tests.support.running import run
from tests.support.wires import radio_bench

USB = "devices/platform/soc/usb1/1-1"


class Machine:
    """A machine's /dev, /sys and /proc below a folder (the shape is that of a Raspberry Pi; from memory)."""

    def __init__(self, root: Path) -> None:
        self.dev, self.sys, self.proc = root / "dev", root / "sys", root / "proc"
        for folder in (self.dev / "serial" / "by-id", self.dev / "serial" / "by-path", self.sys / "class" / "tty"):
            folder.mkdir(parents=True)
        self.proc.mkdir()

    def adapter(self, node: str, port: str, serial: str | None, product: str = "USB Serial", maker: str = "") -> None:
        """Plug in a USB adapter: its device folder, the interface below, the tty below that."""
        device = self.sys / USB / f"1-1.{port}"
        tty = device / f"1-1.{port}:1.0" / node / "tty" / node
        tty.mkdir(parents=True)
        for name, text in (("idVendor", "1a86"), ("product", product), ("manufacturer", maker), ("serial", serial)):
            if text:
                (device / name).write_text(text + "\n")
        (tty / "device").symlink_to(device / f"1-1.{port}:1.0" / node)
        (self.sys / "class" / "tty" / node).symlink_to(tty)
        (self.dev / node).touch()
        by_id = f"usb-{product.replace(' ', '_')}{'_' + serial if serial else ''}-if00-port0"
        for folder, name in (("by-id", by_id), ("by-path", f"platform-soc-usb-0:1.{port}:1.0-port0")):
            link = self.dev / "serial" / folder / name
            link.unlink(missing_ok=True)  # of two that are named alike the later has the name, as with udev
            link.symlink_to(self.dev / node)

    def built_in(self, node: str, kind: str) -> None:
        """Have a port of the board: type 0 is a place without one."""
        tty = self.sys / "devices" / "platform" / "serial" / "tty" / node
        tty.mkdir(parents=True)
        (tty / "type").write_text(kind + "\n")
        (tty / "device").mkdir()
        (self.sys / "class" / "tty" / node).symlink_to(tty)
        (self.dev / node).touch()

    def held(self, node: str, pid: int, name: str) -> None:
        """Have a program hold a port."""
        (self.proc / str(pid) / "fd").mkdir(parents=True)
        (self.proc / str(pid) / "comm").write_text(name + "\n")
        (self.proc / str(pid) / "fd" / "3").symlink_to(self.dev / node)

    def ports(self) -> list[Port]:
        return find_ports(self.dev, self.sys, self.proc)


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def test_an_adapter_is_found_by_its_lasting_name(machine: Machine) -> None:
    machine.adapter("ttyUSB0", "2", "A50285BI", maker="Yard")
    (port,) = machine.ports()
    assert port.adapter == "Yard USB Serial"
    assert port.number == "A50285BI"
    assert port.name.endswith("by-id/usb-USB_Serial_A50285BI-if00-port0")
    assert port.notes == ()
    assert LinkTable(url=port.url).address.target == port.name


@pytest.mark.parametrize("serial", [None, "0", "0001"])
def test_adapters_without_a_number_are_named_by_their_socket_and_warned_of(
    machine: Machine, serial: str | None
) -> None:
    machine.adapter("ttyUSB0", "2", serial)
    machine.adapter("ttyUSB1", "3", serial)
    ports = machine.ports()
    assert [Path(port.name).name for port in ports] == [
        "platform-soc-usb-0:1.2:1.0-port0",
        "platform-soc-usb-0:1.3:1.0-port0",
    ]
    assert all("no serial number" in port.notes[0] for port in ports)
    assert [port.number for port in ports] == [None, None]


def test_an_adapter_without_lasting_names_is_warned_of(machine: Machine) -> None:
    machine.adapter("ttyUSB0", "2", "A50285BI")
    for name in ("by-id", "by-path"):
        for link in (machine.dev / "serial" / name).iterdir():
            link.unlink()
    (port,) = machine.ports()
    assert port.name == str(machine.dev / "ttyUSB0")
    assert "changes" in port.notes[0]


def test_places_for_ports_are_no_ports_and_ports_come_in_order(machine: Machine) -> None:
    for number in (10, 2, 0):
        machine.adapter(f"ttyUSB{number}", str(number), f"N{number}X")
    machine.built_in("ttyS0", "0")
    machine.built_in("ttyAMA0", "32")
    machine.built_in("tty1", "32")
    nodes = [Path(port.node).name for port in machine.ports()]
    assert nodes == ["ttyAMA0", "ttyUSB0", "ttyUSB2", "ttyUSB10"]


def test_a_tty_that_has_just_gone_is_left_out(machine: Machine) -> None:
    machine.adapter("ttyUSB0", "2", "A50285BI")
    (machine.dev / "ttyUSB0").unlink()
    assert machine.ports() == []
    assert find_ports(machine.dev / "none", machine.sys / "none", machine.proc) == []


def test_who_holds_a_port_is_named(machine: Machine) -> None:
    machine.adapter("ttyUSB0", "2", "A50285BI")
    machine.held("ttyUSB0", 4711, "modem-manager")
    machine.held("elsewhere", 4712, "other")
    (port,) = machine.ports()
    assert [str(holder) for holder in port.holders] == ["modem-manager (4711)"]
    assert "held by modem-manager (4711)" in port.notes[0]


def test_a_port_that_may_not_be_opened_is_said_with_the_command(
    machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    machine.adapter("ttyUSB0", "2", "A50285BI")
    monkeypatch.setattr(os, "access", lambda *_, **__: False)
    (port,) = machine.ports()
    assert not port.may_open
    assert remedy(machine.dev / "ttyUSB0", "$USER") in port.notes[0]
    assert "sudo usermod" in port.notes[0]


def test_what_is_printed_can_be_pasted(machine: Machine) -> None:
    machine.adapter("ttyUSB0", "2", "A50285BI")
    (port,) = machine.ports()
    heard = InRange("ble:AA:BB:CC:DD:EE:03", "kitchen", "a weight scale service", -60, "gatt-weight")
    for text in (port_text(port), heard_text(heard)):
        start = text.index("[links.NAME]")
        table = tomllib.loads(text[start:])["links"]["NAME"]
        LinkTable.model_validate(table)
    silent = InRange("ble:AA:BB:CC:DD:EE:04", "", "", -80)
    assert "links" not in heard_text(silent)


def test_the_command_prints_ports_and_what_is_in_range(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    async def work() -> None:
        async with radio_bench(tmp_path, monkeypatch) as (bluez, _):
            BleEnd(bluez, "AA:BB:CC:DD:EE:01", "crush scale")
            assert await asyncio.to_thread(main, ["ports", "--seconds", "0.5"]) == 0

    run(work())
    out = capsys.readouterr().out
    assert 'url = "ble:AA:BB:CC:DD:EE:01"' in out
    assert main(["ports", "--no-bluetooth"]) == 0
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    capsys.readouterr()
    assert main(["ports", "--seconds", "0.1"]) == 0
    assert "sudo apt install" in capsys.readouterr().out
