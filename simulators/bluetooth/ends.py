"""Bluetooth devices to test against, on the stand-in for BlueZ (bluez.py): the far ends of two more kinds of wire.

Like every end (ends.py) they are written to without waiting, and what nobody takes is lost and counted.  Their knobs
make the troubles that radios make: connections refused, hanging or without services, packets cut at 20 bytes or merged.
"""

import asyncio
import contextlib
import socket
from abc import ABC, abstractmethod
from typing import Any

from dbus_fast import Message, MessageType, Variant

from neckyoke.simulators.bluetooth.bluez import DEVICE, BlueZ, Interfaces, Refused

SERVICE = "org.bluez.GattService1"
CHARACTERISTIC = "org.bluez.GattCharacteristic1"
DESCRIPTOR = "org.bluez.GattDescriptor1"
PROFILE = "org.bluez.Profile1"

UART_SERVICE = "6e400001-b5a3-f393-e0a9-e50e24dcca9e"
UART_LISTENS = "6e400002-b5a3-f393-e0a9-e50e24dcca9e"
UART_SPEAKS = "6e400003-b5a3-f393-e0a9-e50e24dcca9e"
WEIGHT_SERVICE = "0000181d-0000-1000-8000-00805f9b34fb"
WEIGHT_MEASUREMENT = "00002a9d-0000-1000-8000-00805f9b34fb"
SERIAL_PORT = "00001101-0000-1000-8000-00805f9b34fb"

UART: dict[str, dict[str, list[str]]] = {
    UART_SERVICE: {UART_SPEAKS: ["notify"], UART_LISTENS: ["write", "write-without-response"]}
}
WEIGHT: dict[str, dict[str, list[str]]] = {WEIGHT_SERVICE: {WEIGHT_MEASUREMENT: ["indicate"]}}
BACKLOG = 500
"""Packets that may wait before more are lost."""


class BluetoothEnd(ABC):
    """What both kinds have: a place in BlueZ's tree, and a plug."""

    def __init__(self, bluez: BlueZ, address: str, name: str) -> None:
        self._bluez = bluez
        self.address = address
        self.name = name
        self.path = f"{bluez.adapter}/dev_{address.replace(':', '_')}"
        self.lost = 0
        self.written = bytearray()
        self.advertising = True
        self.refusals: list[Refused] = []
        """What the next connections are answered with, one each."""
        self.hang = False
        """Let connections wait for ever."""
        bluez.devices[self.path] = self

    def _properties(self, uuids: list[str]) -> Interfaces:
        return {
            DEVICE: {
                "Address": Variant("s", self.address),
                "AddressType": Variant("s", "random"),
                "Name": Variant("s", self.name),
                "Alias": Variant("s", self.name),
                "Adapter": Variant("o", self._bluez.adapter),
                "UUIDs": Variant("as", uuids),
                "RSSI": Variant("n", -60),
                **{
                    flag: Variant("b", False)  # noqa: FBT003
                    for flag in ("Paired", "Bonded", "Connected", "Trusted", "Blocked", "ServicesResolved")
                },
            }
        }

    def announce(self) -> None:  # noqa: B027  # optional: not every kind needs it
        """Be heard once by a scan."""

    @abstractmethod
    async def called(self, message: Message) -> Message | None:
        """Answer a call.  Raises Refused."""

    def forgotten(self) -> None:  # noqa: B027  # optional: not every kind needs it
        """Be removed from the tree; the next scan finds it again."""

    @abstractmethod
    def hang_up(self) -> None:
        """End the connection and go on being there."""

    def unplug(self) -> None:
        """Switch off."""
        self.advertising = False
        self.hang_up()

    def plug(self) -> None:
        """Switch on."""
        self.advertising = True

    async def _gate(self) -> None:
        """Let a connection through, or not."""
        if self.hang:
            await asyncio.Event().wait()
        if self.refusals:
            raise self.refusals.pop(0)
        if not self.advertising:
            raise Refused("org.bluez.Error.Failed", "br-connection-page-timeout")


class BleEnd(BluetoothEnd):
    """A Bluetooth LE device: `services` gives its services, their characteristics and the properties of those.

    `write` notifies the first characteristic that can, in packets of at most `mtu` - 3 bytes; with `merge` it collects
    that many bytes first, as some modules do.  Handles and the shape of the paths matter to clients.
    """

    def __init__(
        self,
        bluez: BlueZ,
        address: str,
        name: str,
        services: dict[str, dict[str, list[str]]] | None = None,
        *,
        mtu: int = 23,
        merge: bool = False,
    ) -> None:
        super().__init__(bluez, address, name)
        self._services = UART if services is None else services
        self._size = mtu - 3
        self._merge = merge
        self._kept = b""
        self.resolves = True
        """Whether services are found after connecting."""
        self.notify_refusal: Refused | None = None
        self._speaks = ""
        self._listeners: set[str] = set()
        self._tree = self._gatt()

    def _gatt(self) -> list[tuple[str, Interfaces]]:
        tree: list[tuple[str, Interfaces]] = []
        handle = 0x000A
        for service, characteristics in self._services.items():
            at = f"{self.path}/service{handle:04x}"
            tree.append(
                (
                    at,
                    {
                        SERVICE: {
                            "UUID": Variant("s", service),
                            "Device": Variant("o", self.path),
                            "Primary": Variant("b", True),  # noqa: FBT003
                        }
                    },
                )
            )
            for characteristic, properties in characteristics.items():
                handle += 3
                tree.append((f"{at}/char{handle:04x}", self._characteristic(at, characteristic, properties)))
                if not self._speaks and {"notify", "indicate"} & set(properties):
                    self._speaks = f"{at}/char{handle:04x}"
            handle += 8
        return tree

    def _characteristic(self, service: str, uuid: str, properties: list[str]) -> Interfaces:
        return {
            CHARACTERISTIC: {
                "UUID": Variant("s", uuid),
                "Service": Variant("o", service),
                "Value": Variant("ay", b""),
                "Notifying": Variant("b", False),  # noqa: FBT003
                "Flags": Variant("as", properties),
                "MTU": Variant("q", self._size + 3),
            }
        }

    def announce(self) -> None:  # optional: not every kind needs it
        """Be heard once by a scan."""
        if self.path in self._bluez.objects:
            self._bluez.change(self.path, DEVICE, RSSI=Variant("n", -60))
        else:
            self._bluez.add(self.path, self._properties(list(self._services)))

    @property
    def notifying(self) -> bool:
        """Return whether somebody listens."""
        return bool(self._listeners)

    def write(self, data: bytes) -> None:
        """Notify, or lose it."""
        if self._merge:
            self._kept += data
            whole = len(self._kept) // self._size * self._size
            data, self._kept = self._kept[:whole], self._kept[whole:]
        for start in range(0, len(data), self._size):
            self.packet(data[start : start + self._size])

    def packet(self, data: bytes) -> None:
        """Notify one packet as it is."""
        if not self._listeners or self._bluez.backlog > BACKLOG:
            self.lost += len(data)
        else:
            self._bluez.change(self._speaks, CHARACTERISTIC, Value=Variant("ay", data))

    def hang_up(self) -> None:
        """Disconnect, as at the end of a supervision time-out."""
        self._listeners.clear()
        self._kept = b""
        if not self._bluez.get(self.path, DEVICE, "Connected"):
            return
        off = Variant("b", False)  # noqa: FBT003
        self._bluez.change(self.path, DEVICE, ServicesResolved=off)
        for path, _ in reversed(self._tree):
            self._bluez.remove(path)
        self._bluez.change(self.path, DEVICE, Connected=off)

    def forgotten(self) -> None:  # optional: not every kind needs it
        """Be removed from the tree."""
        self.hang_up()

    def haunt(self) -> None:
        """Be left connected by a program that has gone: known and connected, so never heard."""
        self.announce()
        self._connect()

    def _connect(self) -> None:
        on = Variant("b", True)  # noqa: FBT003
        self._bluez.change(self.path, DEVICE, Connected=on)
        if self.resolves:
            for path, interfaces in self._tree:
                self._bluez.add(path, {name: dict(properties) for name, properties in interfaces.items()})
            self._bluez.change(self.path, DEVICE, ServicesResolved=on)

    async def called(self, message: Message) -> Message | None:
        """Answer a call of the device or of its characteristics."""
        match message.member:
            case "Connect":
                await self._gate()
                self._connect()
            case "Disconnect":
                self.hang_up()
            case "StartNotify":
                if self.notify_refusal is not None:
                    raise self.notify_refusal
                self._listeners.add(message.sender or "")
            case "StopNotify":
                self._listeners.discard(message.sender or "")
            case "WriteValue":
                self.written += bytes(message.body[0])
            case _:
                raise Refused("org.freedesktop.DBus.Error.UnknownMethod", str(message.member))
        return None


class RfcommEnd(BluetoothEnd):
    """A Bluetooth classic device with a serial port, paired already: BlueZ hands a socket to whoever connects it."""

    def __init__(self, bluez: BlueZ, address: str, name: str) -> None:
        super().__init__(bluez, address, name)
        self._ours: socket.socket | None = None
        self.known()

    def known(self) -> None:
        """Stand in the tree, as a paired device does also when it is away."""
        self._bluez.add(self.path, self._properties([SERIAL_PORT]))

    @property
    def connected(self) -> bool:
        """Return whether somebody listens."""
        return self._ours is not None

    def write(self, data: bytes) -> None:
        """Send, or lose it."""
        taken = 0
        if self._ours is not None:
            with contextlib.suppress(OSError):
                taken = self._ours.send(data)
        self.lost += len(data) - taken

    def read(self) -> bytes:
        """Return what the other side has sent, b"" when nothing."""
        with contextlib.suppress(OSError):
            return self._ours.recv(4096) if self._ours is not None else b""
        return b""

    def hang_up(self) -> None:
        """Disconnect."""
        ours, self._ours = self._ours, None
        if ours is not None:
            ours.close()

    def forgotten(self) -> None:  # optional: not every kind needs it
        """Lose the connection with the daemon that made it."""
        self.hang_up()

    async def called(self, message: Message) -> Message | None:
        """Answer a call of the device."""
        match message.member:
            case "ConnectProfile":
                await self._gate()
                await self._hand_over(message.body[0])
            case "DisconnectProfile" | "Disconnect":
                self.hang_up()
            case _:
                raise Refused("org.freedesktop.DBus.Error.UnknownMethod", str(message.member))
        return None

    async def _hand_over(self, uuid: str) -> None:
        """Make a connection and give its other end to the program that registered the profile."""
        if uuid not in self._bluez.profiles:
            raise Refused("org.bluez.Error.NotAvailable", "profile-unavailable")
        if self._ours is not None:
            raise Refused("org.bluez.Error.AlreadyConnected", "Already Connected")
        owner, path = self._bluez.profiles[uuid]
        ours, theirs = socket.socketpair()
        with theirs:
            body: list[Any] = [self.path, 0, {}]
            answer = await self._bluez.bus.call(
                Message(
                    destination=owner,
                    path=path,
                    interface=PROFILE,
                    member="NewConnection",
                    signature="oha{sv}",
                    body=body,
                    unix_fds=[theirs.fileno()],
                )
            )
        if answer.message_type is MessageType.ERROR:
            ours.close()
            raise Refused("org.bluez.Error.Failed", "br-connection-refused")
        ours.settimeout(0)
        self._ours = ours
