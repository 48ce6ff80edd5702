"""Serial lines over Bluetooth, on a stand-in for BlueZ and on a socket of our own."""

import asyncio
import socket
from typing import Any

import pytest

from neckyoke.bridge.config.address import parse_address
from neckyoke.bridge.links.bluetooth import rfcomm
from neckyoke.bridge.links.bluetooth.rfcomm import RfcommLink
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.simulators.bluetooth.bluez import BlueZ, PrivateBus, Refused
from neckyoke.simulators.bluetooth.ends import RfcommEnd
from tests.support.radio import PANEL, SCALE, OnAir, fails
from tests.support.running import run, until
from tests.support.wires import opened

pytestmark = pytest.mark.usefixtures("no_leaks")


def test_troubles_of_rfcomm_are_said(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        unknown = await fails(f"rfcomm:{SCALE}")
        assert unknown.missing
        assert "pair it once" in unknown.text
        end = RfcommEnd(bluez, PANEL, "panel")
        end.refusals.append(Refused("org.bluez.Error.AuthenticationFailed", "Authentication Failed"))
        assert "pair it again" in (await fails(f"rfcomm:{PANEL}")).text
        end.refusals.append(Refused("org.bluez.Error.Failed", "Protocol not available"))
        assert f"sudo rfcomm bind 0 {PANEL} 1" in (await fails(f"rfcomm:{PANEL}")).text
        end.unplug()
        assert (await fails(f"rfcomm:{PANEL}")).missing
        end.plug()
        first = await opened(f"rfcomm:{PANEL}")
        assert len(bluez.profiles) == 1
        await first.link.close()
        await until(lambda: not bluez.profiles, "the profile is given back")

    on_air(work)


def test_rfcomm_links_share_one_registration(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        ends = [RfcommEnd(bluez, f"AA:BB:CC:DD:EE:{number:02}", "panel") for number in range(3)]
        listeners = await asyncio.gather(*(opened(f"rfcomm:{end.address}") for end in ends))
        for end, listener in zip(ends, listeners, strict=True):
            end.write(end.address.encode())
            await listener.has(end.address.encode())
        await listeners[0].link.close()
        ends[1].write(b" still")
        await listeners[1].has(ends[1].address.encode() + b" still")
        for listener in listeners[1:]:
            await listener.link.close()
        assert sum(member == "RegisterProfile" for _, member in bluez.calls) == 1

    on_air(work)


def test_a_channel_is_connected_to_directly_where_python_can(monkeypatch: pytest.MonkeyPatch) -> None:
    ours, theirs = socket.socketpair()
    dialled: list[Any] = []

    async def work() -> None:
        async def dial(_: socket.socket, target: Any) -> None:
            dialled.append(target)

        monkeypatch.setattr(asyncio.get_running_loop(), "sock_connect", dial)
        got, lost = bytearray(), list[LinkTrouble]()
        link = RfcommLink(
            parse_address(f"rfcomm:{PANEL}?channel=3"), got.extend, lost.append, make_socket=lambda: theirs
        )
        await link.open()
        assert dialled == [(PANEL, 3)]
        ours.sendall(b"999 000000112233\r\n")
        await until(lambda: bytes(got) == b"999 000000112233\r\n", "the tag")
        ours.close()
        await until(lambda: len(lost) == 1, "the loss")
        await link.close()

    run(work())


def test_a_channel_that_refuses_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    async def work() -> None:
        async def dial(_: socket.socket, __: Any) -> None:
            raise ConnectionRefusedError(111, "Connection refused")

        monkeypatch.setattr(asyncio.get_running_loop(), "sock_connect", dial)
        link = RfcommLink(
            parse_address(f"rfcomm:{PANEL}?channel=3"),
            lambda _: None,
            lambda _: None,
            make_socket=lambda: socket.socket(socket.AF_UNIX),
        )
        with pytest.raises(LinkTrouble, match="refuses channel 3"):
            await link.open()

    run(work())
    assert rfcomm.bluetooth_socket() is None or hasattr(socket, "AF_BLUETOOTH")
