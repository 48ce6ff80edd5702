"""A Bluetooth LE device through bleak: serial lines over GATT, the weight scale service, any notifying characteristic.

Opening searches for the device anew every time, connects, and asks for notifications.  Notifications of a serial line
are bytes, cut anywhere.  A weight measurement is no part of a byte stream; it is delivered as a line, `2A9D:` and its
bytes in hex, which the layout "gatt-weight" reads and a person finds again in a capture.

The link ends when the device disconnects, and when bluetoothd or the bus ends, which bleak alone would not notice.  The
client is always disconnected, also after its own end: one that is merely dropped goes on notifying, and its successor
would hear everything twice.
"""

import asyncio
import contextlib

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakDeviceNotFoundError,
)

from neckyoke.bridge.config.address import Address
from neckyoke.bridge.links.bluetooth.bluez import ADAPTER, DEVICE, NO_DAEMON, BlueZ
from neckyoke.bridge.links.bluetooth.gatt_choice import Characteristics, choose_characteristics
from neckyoke.bridge.links.bluetooth.radio import TROUBLES, forget, radio
from neckyoke.bridge.links.wires.link import Link, LinkTrouble, OnBytes, OnLost
from neckyoke.protocols.scale.ble import LINE

FIND_S = 15.0
CONNECT_S = 20.0
NOTIFY_S = 10.0
WRITE_S = 5.0
DISCONNECT_S = 3.0
RADIO_OFF = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: "this machine has no Bluetooth adapter; plug one in",
    BleakBluetoothNotAvailableReason.POWERED_OFF: "the Bluetooth adapter is off: bluetoothctl power on "
    "(or: sudo rfkill unblock bluetooth)",
}


def spell_measurement(packet: bytes) -> bytes:
    """Spell a weight measurement as a line."""
    return LINE + packet.hex().encode() + b"\n"


class BleLink(Link):
    """A Bluetooth LE device by address; see the module."""

    def __init__(self, address: Address, layout: str, on_bytes: OnBytes, on_lost: OnLost) -> None:
        super().__init__(on_bytes, on_lost)
        self._address = address.target
        self._options = address.options
        self._adapter = address.options.get("adapter")
        self._layout = layout
        self._bluez: BlueZ | None = None
        self._client: BleakClient | None = None
        self._choice: Characteristics | None = None
        self._daemon_gone = False
        self._stale = False

    async def _connect(self) -> None:
        self._bluez = BlueZ(self._on_daemon_gone)
        await self._bluez.open()
        try:
            await self._free_ghost(self._bluez)
            device = await radio(self._adapter).find(self._address, FIND_S)
        except TimeoutError:
            raise LinkTrouble(
                f"{self._address} is not heard: is it on, near, and not connected to a phone or another program?",
                missing=True,
            ) from None
        except TROUBLES as error:
            raise self._explain(error) from error
        try:
            async with asyncio.timeout(2 * CONNECT_S), radio(self._adapter).quiet():  # another may be connecting first
                self._client = BleakClient(
                    device, disconnected_callback=self._on_disconnected, timeout=CONNECT_S, bluez={}
                )
                await self._client.connect()
            self._stale = True  # until it has what we want, BlueZ's memory of its services may be wrong
            self._choice = choose_characteristics(
                self._client.services.characteristics.values(), self._options, self._layout
            )
            async with asyncio.timeout(NOTIFY_S):
                await self._client.start_notify(self._choice.notify, self._on_packet)
            self._stale = False
        except TROUBLES as error:
            raise self._explain(error) from error

    async def _free_ghost(self, bluez: BlueZ) -> None:
        """Disconnect the device if a program that has gone left it connected: else it does not advertise."""
        known = await bluez.find(self._address, self._adapter)
        if known is not None and known[1].get("Connected"):
            await bluez.call(known[0], DEVICE, "Disconnect")

    async def _forget_services(self, bluez: BlueZ) -> None:
        """Have BlueZ forget a device whose services were not as wanted: it keeps them from firmware to firmware.

        A paired device is kept: it would have to be paired again.
        """
        with contextlib.suppress(*TROUBLES):
            known = await bluez.find(self._address, self._adapter)
            if known is not None and not known[1].get("Paired"):
                await bluez.call(known[0].rpartition("/")[0], ADAPTER, "RemoveDevice", "o", known[0])

    def _explain(self, error: BaseException) -> LinkTrouble:
        match error:
            case LinkTrouble():
                return LinkTrouble(f"{self._address}: {error.text}", missing=error.missing)
            case BleakBluetoothNotAvailableError():
                return LinkTrouble(RADIO_OFF.get(error.reason, str(error.args[0])), missing=True)
            case BleakDeviceNotFoundError():
                return LinkTrouble(f"{self._address} was heard and is gone again", missing=True)
            case TimeoutError():
                return LinkTrouble(f"{self._address} does not answer to a connection: too far, or already connected?")
            case BleakDBusError() if error.dbus_error.endswith(("ServiceUnknown", "NameHasNoOwner")):
                return LinkTrouble(NO_DAEMON)
        return LinkTrouble(f"{self._address} cannot be connected: {error}")

    def _on_packet(self, characteristic: BleakGATTCharacteristic, packet: bytearray) -> None:
        del characteristic
        weight = self._choice is not None and self._choice.weight
        self._deliver(spell_measurement(bytes(packet)) if weight else bytes(packet))

    def _on_disconnected(self, client: BleakClient) -> None:
        del client
        self._lose(LinkTrouble(f"{self._address} disconnected: switched off, out of range, or its battery is flat"))

    def _on_daemon_gone(self, text: str) -> None:
        self._daemon_gone = True
        self._lose(LinkTrouble(text))

    async def _send(self, data: bytes) -> None:
        if self._client is None or self._choice is None or self._choice.write is None:
            raise LinkTrouble(f"{self._address} has nothing to write to; name it with ?write=")
        to = self._choice.write
        whole = "write-without-response" in to.properties
        size = to.max_write_without_response_size
        try:
            async with asyncio.timeout(WRITE_S):
                for start in range(0, len(data), size):
                    await self._client.write_gatt_char(to, data[start : start + size], response=not whole)
        except TROUBLES as error:
            raise LinkTrouble(f"{self._address} takes no bytes ({error})") from error

    async def _release(self) -> None:
        client, self._client = self._client, None
        bluez, self._bluez = self._bluez, None
        if client is not None:
            with contextlib.suppress(*TROUBLES):
                async with asyncio.timeout(DISCONNECT_S):
                    await client.disconnect()
        if bluez is not None:
            if self._stale:
                await self._forget_services(bluez)
            await bluez.close()
        if self._daemon_gone:
            await forget()
