"""Bluetooth on a stand-in for BlueZ: what to bind to, what radios do, and what bluetoothd does."""

import asyncio

import pytest
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.service import BleakGATTService

from neckyoke.bridge.links.bluetooth import ble as bluetooth
from neckyoke.bridge.links.bluetooth import bluez as bluez_links
from neckyoke.bridge.links.bluetooth.gatt_choice import choose_characteristics
from neckyoke.bridge.links.bluetooth.in_range import find_in_range
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import Reject, WeightReading
from neckyoke.protocols.scale.ble import WEIGHT_MEASUREMENT
from neckyoke.simulators.bluetooth.bluez import BlueZ, PrivateBus, Refused
from neckyoke.simulators.bluetooth.ends import UART, UART_LISTENS, UART_SERVICE, UART_SPEAKS, WEIGHT, BleEnd, RfcommEnd
from tests.support.radio import PANEL, SCALE, OnAir, fails
from tests.support.running import until
from tests.support.wires import Listener, opened

OTHER_SERVICE = "0000fff0-0000-1000-8000-00805f9b34fb"


OTHER_SPEAKS = "0000fff1-0000-1000-8000-00805f9b34fb"


pytestmark = pytest.mark.usefixtures("no_leaks")


@pytest.mark.parametrize("merge", [False, True])
@pytest.mark.parametrize("mtu", [23, 185])
def test_packets_cut_anywhere_make_the_same_readings(on_air: OnAir, *, mtu: int, merge: bool) -> None:
    lines = b"".join(b"ST,GS,+%07.1fkg\r\n" % (400 + number / 2) for number in range(40))

    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        end = BleEnd(bluez, SCALE, "scale", mtu=mtu, merge=merge)
        listener = await opened(f"ble:{SCALE}")
        end.write(lines)
        whole = len(lines) // (mtu - 3) * (mtu - 3) if merge else len(lines)
        await listener.has(lines[:whole])
        readings = [one for one in scale_decoder().feed(bytes(listener.got)) if isinstance(one, WeightReading)]
        assert len(readings) == lines[:whole].count(b"\r")
        await listener.link.close()

    on_air(work)


def test_the_weight_scale_service_comes_as_lines_that_its_layout_reads(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        end = BleEnd(bluez, SCALE, "scale", WEIGHT)
        listener = await opened(f"ble:{SCALE}", layout="gatt-weight")
        # vectors of public sources, gathered with their sources in protocols/scale/test_ble.py; the first is 65.000 kg
        for packet in ("0ec832e9070c1f173b3a02d400db06", "00fffe", "00ffff", "00"):
            end.packet(bytes.fromhex(packet))
        await listener.has(b"2A9D:0ec832e9070c1f173b3a02d400db06\n2A9D:00fffe\n2A9D:00ffff\n2A9D:00\n")
        outcomes = scale_decoder("gatt-weight").feed(bytes(listener.got))
        assert scale_decoder("auto").feed(bytes(listener.got)) == outcomes
        assert isinstance(outcomes[0], WeightReading)
        assert outcomes[0].kg == 65.0
        assert [isinstance(outcome, Reject) for outcome in outcomes] == [False, False, True, True]
        await listener.link.close()

    on_air(work)


def test_any_characteristic_can_be_named(on_air: OnAir) -> None:
    services = {**UART, OTHER_SERVICE: {OTHER_SPEAKS: ["notify"]}}

    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        end = BleEnd(bluez, SCALE, "scale", services)
        end._speaks = next(path for path, tree in end._tree if OTHER_SPEAKS in str(tree))
        listener = await opened(f"ble:{SCALE}?notify=fff1&write={UART_LISTENS}")
        end.write(b"999 000000112233\r\n")
        await listener.has(b"999 000000112233\r\n")
        await listener.link.write(b"\x05")
        await until(lambda: bytes(end.written) == b"\x05", "what was written")
        await listener.link.close()
        text = (await fails(f"ble:{SCALE}?notify=fff9")).text
        assert OTHER_SPEAKS in text
        assert UART_SPEAKS in text

    on_air(work)


def characteristics(services: dict[str, dict[str, list[str]]]) -> list[BleakGATTCharacteristic]:
    found = []
    for number, (uuid, inside) in enumerate(services.items()):
        service = BleakGATTService(None, number, uuid)
        found += [
            BleakGATTCharacteristic(None, 100 * number + at, name, properties, lambda: 20, service)  # type: ignore[arg-type]
            for at, (name, properties) in enumerate(inside.items())
        ]
    return found


def test_what_to_listen_to_is_chosen_by_identifier_and_property() -> None:
    both = characteristics({**WEIGHT, **UART})
    assert choose_characteristics(both, {}, "auto").notify.uuid == UART_SPEAKS
    assert choose_characteristics(both, {}, "gatt-weight").notify.uuid == WEIGHT_MEASUREMENT
    assert choose_characteristics(both, {}, "gatt-weight").weight
    uart = choose_characteristics(characteristics(UART), {}, "auto")
    assert uart.write is not None
    assert (uart.write.uuid, uart.weight) == (UART_LISTENS, False)
    swapped = {UART_SERVICE: {UART_SPEAKS: ["write"], UART_LISTENS: ["notify"]}}
    assert (
        choose_characteristics(characteristics(swapped), {}, "auto").notify.uuid == UART_LISTENS
    )  # it is what can speak
    alone = {"0000180f-0000-1000-8000-00805f9b34fb": {"battery": ["notify"]}, OTHER_SERVICE: {OTHER_SPEAKS: ["notify"]}}
    assert choose_characteristics(characteristics(alone), {}, "auto").notify.uuid == OTHER_SPEAKS
    with pytest.raises(LinkTrouble, match=r"add \?notify="):
        choose_characteristics(characteristics({OTHER_SERVICE: {"one": ["notify"], "two": ["notify"]}}), {}, "auto")
    with pytest.raises(LinkTrouble, match="none"):
        choose_characteristics(characteristics({OTHER_SERVICE: {"one": ["read"]}}), {}, "auto")


def test_bluetoothd_that_ends_ends_the_links_and_both_come_back(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        scale, panel = BleEnd(bluez, SCALE, "scale"), RfcommEnd(bluez, PANEL, "panel")
        for _round in range(3):
            listeners = [await opened(f"ble:{SCALE}"), await opened(f"rfcomm:{PANEL}")]
            await bluez.crash()
            for listener in listeners:
                await listener.is_lost()
                await listener.link.close()
                assert len(listener.lost) == 1
            assert "bluetoothd" in (await fails(f"ble:{SCALE}")).text
            assert "sudo rfcomm bind 0 " + PANEL in (await fails(f"rfcomm:{PANEL}")).text
            await bluez.start()
            panel.known()
            for url, end in ((f"ble:{SCALE}", scale), (f"rfcomm:{PANEL}", panel)):
                listener = await opened(url)
                end.write(b"after\r\n")
                await listener.has(b"after\r\n")
                await listener.link.close()

    on_air(work)


def test_a_bus_that_ends_ends_the_links(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, bus: PrivateBus) -> None:
        BleEnd(bluez, SCALE, "scale")
        RfcommEnd(bluez, PANEL, "panel")
        listeners = [await opened(f"ble:{SCALE}"), await opened(f"rfcomm:{PANEL}")]
        bus.kill()
        for listener in listeners:
            await listener.is_lost()
            await listener.link.close()
            assert len(listener.lost) == 1
        assert "apt install" in (await fails(f"ble:{SCALE}")).text

    on_air(work)


def test_a_device_left_connected_by_a_program_that_crashed_is_freed(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        end = BleEnd(bluez, SCALE, "scale")
        end.haunt()
        listener = await opened(f"ble:{SCALE}")
        assert (end.path, "Disconnect") in bluez.calls
        end.write(b"0.0 kg\r\n")
        await listener.has(b"0.0 kg\r\n")
        await listener.link.close()
        assert not end.notifying

    on_air(work)


def test_services_remembered_from_an_older_firmware_are_forgotten(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        end = BleEnd(bluez, SCALE, "scale", {OTHER_SERVICE: {OTHER_SPEAKS: ["read"]}})
        assert "not known" in (await fails(f"ble:{SCALE}")).text
        assert (bluez.adapter, "RemoveDevice") in bluez.calls
        bluez.calls.clear()
        end._services = UART
        end._tree = end._gatt()
        await (await opened(f"ble:{SCALE}")).link.close()
        assert (bluez.adapter, "RemoveDevice") not in bluez.calls

    on_air(work)


def test_links_share_one_search_and_a_missing_device_holds_up_no_other(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        ends = [BleEnd(bluez, f"AA:BB:CC:DD:EE:{number:02}", "scale") for number in range(4)]
        missing = asyncio.ensure_future(Listener("ble:AA:BB:CC:DD:EE:99").link.open())
        listeners = await asyncio.gather(*(opened(f"ble:{end.address}") for end in ends))
        assert not missing.done()  # the others did not wait for its time-out
        for end, listener in zip(ends, listeners, strict=True):
            end.write(end.address.encode())
            await listener.has(end.address.encode())
            await listener.link.close()
        missing.cancel()
        await asyncio.wait({missing})
        assert missing.cancelled()

    on_air(work)


def test_troubles_of_the_radio_are_said(on_air: OnAir, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bluetooth, "FIND_S", 0.3)
    monkeypatch.setattr(bluetooth, "CONNECT_S", 0.3)

    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        end = BleEnd(bluez, SCALE, "scale")
        end.refusals.append(Refused("org.bluez.Error.Failed", "br-connection-canceled"))
        assert "br-connection-canceled" in (await fails(f"ble:{SCALE}")).text
        end.hang = True
        assert "does not answer to a connection" in (await fails(f"ble:{SCALE}")).text
        end.hang, end.resolves = False, False
        assert "does not answer to a connection" in (await fails(f"ble:{SCALE}")).text
        end.resolves = True
        end.notify_refusal = Refused("org.bluez.Error.NotPermitted", "Notify not permitted")
        assert "Notify not permitted" in (await fails(f"ble:{SCALE}")).text
        end.notify_refusal = None
        assert not end.notifying
        bluez.power(on=False)
        await asyncio.sleep(0.05)
        off = await fails(f"ble:{SCALE}")
        assert "bluetoothctl power on" in off.text
        assert off.missing
        bluez.power(on=True)
        await (await opened(f"ble:{SCALE}")).link.close()

    on_air(work)


def test_a_bluetoothd_that_hangs_is_said_to_hang_and_holds_nothing_up(
    on_air: OnAir, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        BleEnd(bluez, SCALE, "scale")
        RfcommEnd(bluez, PANEL, "panel")
        await (await opened(f"ble:{SCALE}")).link.close()
        monkeypatch.setattr(bluez_links.BlueZ.call, "__kwdefaults__", {"seconds": 0.2})
        bluez.frozen = True
        for url in (f"ble:{SCALE}", f"rfcomm:{PANEL}"):
            assert "sudo systemctl restart bluetooth" in (await fails(url)).text
        bluez.frozen = False
        for url in (f"ble:{SCALE}", f"rfcomm:{PANEL}"):
            await (await opened(url)).link.close()

    on_air(work)


def test_what_is_in_range_is_told_with_what_to_write(on_air: OnAir) -> None:
    async def work(bluez: BlueZ, _: PrivateBus) -> None:
        BleEnd(bluez, SCALE, "crush scale")
        BleEnd(bluez, "AA:BB:CC:DD:EE:03", "kitchen", WEIGHT)
        BleEnd(bluez, "AA:BB:CC:DD:EE:04", "watch", {OTHER_SERVICE: {OTHER_SPEAKS: ["notify"]}})
        panel = RfcommEnd(bluez, PANEL, "panel")
        bluez.change(panel.path, "org.bluez.Device1", Paired=panel._properties([])["org.bluez.Device1"]["Paired"])
        found = {one.name: one for one in await find_in_range(0.3)}
        assert found["crush scale"].toml == f'url = "ble:{SCALE}"'
        assert "serial line" in found["crush scale"].what
        assert found["kitchen"].toml.endswith('layout = "gatt-weight"')
        assert "327.67" in found["kitchen"].what
        assert found["watch"].what == ""
        assert "panel" not in found  # not paired

    on_air(work)
