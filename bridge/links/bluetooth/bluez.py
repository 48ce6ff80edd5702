"""What is asked of BlueZ over the system bus directly: known devices, calls, and word of the daemon's end.

bleak does the rest of Bluetooth LE, but it notices neither that bluetoothd has ended (its clients stay "connected" for
ever) nor a device that a crashed program left connected (it does not advertise, so it is never found).
"""

import asyncio
import contextlib
import getpass
from collections.abc import Callable
from typing import Any

from dbus_fast import BusType, Message, MessageType
from dbus_fast.aio import MessageBus
from dbus_fast.errors import AuthError

from neckyoke.bridge.links.wires.link import LinkTrouble

SERVICE = "org.bluez"
ADAPTER = "org.bluez.Adapter1"
DEVICE = "org.bluez.Device1"
BUS = "org.freedesktop.DBus"
CALL_S = 5.0
ABSENT = {f"{BUS}.Error.ServiceUnknown", f"{BUS}.Error.NameHasNoOwner", f"{BUS}.Error.Spawn.ExecFailed"}
NO_DAEMON = "bluetoothd does not run: sudo systemctl enable --now bluetooth"


class BlueZError(LinkTrouble):
    """BlueZ refused; `name` is the D-Bus error, such as org.bluez.Error.Failed."""

    def __init__(self, name: str, text: str) -> None:
        super().__init__(text)
        self.name = name


class BlueZ:
    """A connection to the system bus for one link.  `on_gone(text)` is called once when bluetoothd or the bus ends."""

    def __init__(self, on_gone: Callable[[str], None]) -> None:
        self._on_gone = on_gone
        self._bus: MessageBus | None = None
        self._watch: asyncio.Task[None] | None = None

    async def open(self) -> None:
        """Connect.  Raises LinkTrouble when there is no bus or no bluetoothd."""
        bus = MessageBus(bus_type=BusType.SYSTEM, negotiate_unix_fd=True)
        try:
            async with asyncio.timeout(CALL_S):
                await bus.connect()
        except (OSError, EOFError, AuthError, TimeoutError) as error:
            bus.disconnect()  # releases what its constructor opened
            raise LinkTrouble(
                f"the D-Bus system bus cannot be reached ({error}): sudo apt install dbus bluez"
            ) from error
        self._bus = bus
        bus.add_message_handler(self._heard)
        rule = f"type='signal',sender='{BUS}',member='NameOwnerChanged',arg0='{SERVICE}'"
        await self._ask_bus("AddMatch", rule)
        (running,) = await self._ask_bus("NameHasOwner", SERVICE)
        if not running:
            raise LinkTrouble(NO_DAEMON)
        self._watch = asyncio.get_running_loop().create_task(self._until_lost(bus))

    async def close(self) -> None:
        """Disconnect; nothing is called any more."""
        self._on_gone = lambda _: None
        bus, self._bus = self._bus, None
        watch, self._watch = self._watch, None
        if bus is None:
            return
        bus.disconnect()
        # the watch is left to end by itself: cancelled, it would cancel the bus's own future with it
        await asyncio.wait({watch or asyncio.ensure_future(self._until_lost(bus))})

    @property
    def bus(self) -> MessageBus:
        """The open connection."""
        if self._bus is None:
            raise LinkTrouble("the link is not open")
        return self._bus

    async def call(
        self, path: str, interface: str, member: str, signature: str = "", *body: Any, seconds: float = CALL_S
    ) -> list[Any]:
        """Call a method of BlueZ; return what it answers.

        Raises BlueZError with BlueZ's own words, LinkTrouble when it does not answer within `seconds`.
        """
        try:
            async with asyncio.timeout(seconds):
                return await self._call(SERVICE, path, interface, member, signature, *body)
        except TimeoutError:
            raise LinkTrouble("bluetoothd does not answer: sudo systemctl restart bluetooth") from None

    async def devices(self) -> dict[str, dict[str, Any]]:
        """Return the properties of the devices that BlueZ knows, by object path."""
        (objects,) = await self.call("/", f"{BUS}.ObjectManager", "GetManagedObjects")
        return {
            path: {name: value.value for name, value in interfaces[DEVICE].items()}
            for path, interfaces in objects.items()
            if DEVICE in interfaces
        }

    async def find(self, address: str, adapter: str | None = None) -> tuple[str, dict[str, Any]] | None:
        """Return path and properties of the device with this address, None when BlueZ does not know it."""
        for path, known in (await self.devices()).items():
            if known.get("Address") == address and (adapter is None or path.startswith(f"/org/bluez/{adapter}/")):
                return path, known
        return None

    async def _ask_bus(self, member: str, argument: str) -> list[Any]:
        return await self._call(BUS, "/org/freedesktop/DBus", BUS, member, "s", argument)

    async def _call(
        self, destination: str, path: str, interface: str, member: str, signature: str, *body: Any
    ) -> list[Any]:
        message = Message(
            destination=destination, path=path, interface=interface, member=member, signature=signature, body=list(body)
        )
        try:
            answer = await self.bus.call(message)
        except (EOFError, OSError) as error:
            raise LinkTrouble(f"the D-Bus system bus has ended ({error})") from error
        if answer is None:
            raise LinkTrouble("the D-Bus system bus has ended")
        if answer.message_type is MessageType.ERROR:
            raise self._refusal(answer)
        return list(answer.body)

    @staticmethod
    def _refusal(answer: Message) -> LinkTrouble:
        name = answer.error_name or ""
        text = str(answer.body[0]) if answer.body else ""
        if name in ABSENT:
            return LinkTrouble(NO_DAEMON)
        if name == f"{BUS}.Error.AccessDenied":
            me = getpass.getuser()
            return LinkTrouble(f"{me} may not use Bluetooth: sudo usermod -aG bluetooth {me}   and log in again")
        return BlueZError(name, text or name)

    def _heard(self, message: Message) -> None:
        if message.message_type is MessageType.SIGNAL and message.member == "NameOwnerChanged":
            name, _, owner = message.body
            if name == SERVICE and not owner:
                self._over("bluetoothd has ended; it is looked for again")

    async def _until_lost(self, bus: MessageBus) -> None:
        with contextlib.suppress(Exception):  # why it ended makes no difference
            await bus.wait_for_disconnect()  # type: ignore[no-untyped-call]
        self._over("the D-Bus system bus has ended")

    def _over(self, text: str) -> None:
        on_gone, self._on_gone = self._on_gone, lambda _: None
        on_gone(text)
