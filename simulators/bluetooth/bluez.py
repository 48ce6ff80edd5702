"""A stand-in for BlueZ on a private bus: Bluetooth tests without a radio, bluetoothd or root.

    with PrivateBus(folder) as bus:                 # point DBUS_SYSTEM_BUS_ADDRESS at bus.address
        async with BlueZ(bus.address) as bluez:
            scale = BleEnd(bluez, "AA:BB:CC:DD:EE:01", "scale")      # ends.py

It owns the name org.bluez on a dbus-daemon of its own, keeps a tree of objects (adapter, devices, their services), and
answers the calls that clients make; devices (ends.py) add what is theirs.  `crash` ends it as bluetoothd ends when
it is killed: no farewell signals.
"""

import asyncio
import contextlib
import select
import shutil
import subprocess
from collections import deque
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, Protocol, Self, TypeAlias

from dbus_fast import Message, MessageType, Variant
from dbus_fast.aio import MessageBus

MANAGER = "org.freedesktop.DBus.ObjectManager"
PROPERTIES = "org.freedesktop.DBus.Properties"
ADAPTER = "org.bluez.Adapter1"
DEVICE = "org.bluez.Device1"
PROFILES = "org.bluez.ProfileManager1"
OURS = ("org.bluez.", MANAGER, PROPERTIES)
ADVERTISE_S = 0.03
HOW_TO_GET_IT = "dbus-daemon is needed: apt-get install dbus-daemon (Debian's package)"

Properties: TypeAlias = dict[str, Variant]
Interfaces: TypeAlias = dict[str, Properties]

CONFIGURATION = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={socket}</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
  </policy>
</busconfig>
"""


class PrivateBus:
    """A dbus-daemon of our own, below `folder`."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._process: subprocess.Popen[str] | None = None
        self.address = ""

    def __enter__(self) -> Self:
        program = shutil.which("dbus-daemon")
        if program is None:
            raise RuntimeError(HOW_TO_GET_IT)
        file = self._folder / "bus.conf"
        file.write_text(CONFIGURATION.format(socket=self._folder / "bus"))
        self._process = subprocess.Popen(  # noqa: S603  # the program and its file are ours
            [program, f"--config-file={file}", "--nofork", "--nopidfile", "--print-address=1"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        assert self._process.stdout is not None
        self.address = self._process.stdout.readline().strip()
        if not self.address:
            raise RuntimeError(f"dbus-daemon did not start with {file}")
        return self

    def kill(self) -> None:
        """End it as a power cut would."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            assert process.stdout is not None
            process.stdout.close()

    def __exit__(self, *_: object) -> None:
        self.kill()


class Refused(Exception):  # noqa: N818  # what a call is answered with
    """A D-Bus error as an answer."""

    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(text)
        self.name = name
        self.text = text


class Device(Protocol):
    """What BlueZ keeps of a device."""

    path: str
    advertising: bool

    def announce(self) -> None:
        """Be heard once by a scan."""

    async def called(self, message: Message) -> Message | None:
        """Answer a call of the device or what is below it; None is an empty answer.  Raises Refused."""

    def forgotten(self) -> None:
        """Be removed."""


class BlueZ:
    """The daemon: its objects, its signals, its answers.  `calls` holds what was asked, for tests."""

    def __init__(self, address: str, adapter: str = "hci0", *, powered: bool = True) -> None:
        self._address = address
        self.adapter = f"/org/bluez/{adapter}"
        self.objects: dict[str, Interfaces] = {}
        self.devices: dict[str, Device] = {}
        self.calls: list[tuple[str, str]] = []
        self.frozen = False
        """Let calls wait for ever, as a daemon that hangs does."""
        self.profiles: dict[str, tuple[str, str]] = {}  # identifier -> (who registered it, its object)
        self._powered = powered
        self._bus: MessageBus | None = None
        self._discovering: set[str] = set()
        self._tasks: set[asyncio.Task[None]] = set()
        self._outgoing: deque[Message] = deque()
        self._room = asyncio.Event()

    async def __aenter__(self) -> Self:
        await self.start()
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.crash()

    @property
    def bus(self) -> MessageBus:
        """The connection to the bus."""
        assert self._bus is not None
        return self._bus

    async def start(self) -> None:
        """Take the name and begin to answer, knowing no device."""
        self.objects = {"/org/bluez": {PROFILES: {}}, self.adapter: {ADAPTER: self._adapter_properties()}}
        self._bus = await MessageBus(bus_address=self._address, negotiate_unix_fd=True).connect()
        self._bus.add_message_handler(self._take)
        self.spawn(self._send_all())
        await self._bus.request_name("org.bluez")

    async def crash(self) -> None:
        """End without a word."""
        bus, self._bus = self._bus, None
        if bus is None:
            return
        tasks = list(self._tasks)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        self._outgoing.clear()
        self._discovering.clear()
        self.profiles.clear()
        self.objects.clear()
        for device in self.devices.values():
            device.forgotten()
        bus.disconnect()
        with contextlib.suppress(Exception):
            await bus.wait_for_disconnect()  # type: ignore[no-untyped-call]

    @property
    def running(self) -> bool:
        """Return whether the daemon is there."""
        return self._bus is not None

    def _adapter_properties(self) -> Properties:
        return {
            "Address": Variant("s", "00:11:22:33:44:55"),
            "Name": Variant("s", "yard"),
            "Alias": Variant("s", "yard"),
            "Powered": Variant("b", self._powered),
            "Discovering": Variant("b", False),  # noqa: FBT003
            "Roles": Variant("as", ["central", "peripheral"]),
            "UUIDs": Variant("as", []),
        }

    def power(self, *, on: bool) -> None:
        """Switch the adapter."""
        self._powered = on
        self.change(self.adapter, ADAPTER, Powered=Variant("b", on))

    # -- objects and signals -------------------------------------------------------------------------------------

    def add(self, path: str, interfaces: Interfaces) -> None:
        """Add an object and say so."""
        self.objects[path] = interfaces
        self._signal("/", MANAGER, "InterfacesAdded", "oa{sa{sv}}", path, interfaces)

    def remove(self, path: str) -> None:
        """Take an object away and say so."""
        interfaces = self.objects.pop(path, None)
        if interfaces is not None:
            self._signal("/", MANAGER, "InterfacesRemoved", "oas", path, list(interfaces))

    def change(self, path: str, interface: str, **properties: Variant) -> None:
        """Change properties and say so."""
        if path in self.objects:
            self.objects[path][interface].update(properties)
            self._signal(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", interface, properties, [])

    def get(self, path: str, interface: str, name: str) -> Any:
        """Return a property's value, None when there is none."""
        variant = self.objects.get(path, {}).get(interface, {}).get(name)
        return variant.value if variant else None

    def _signal(self, path: str, interface: str, member: str, signature: str, *body: Any) -> None:
        self.send(
            Message(
                message_type=MessageType.SIGNAL,
                path=path,
                interface=interface,
                member=member,
                signature=signature,
                body=list(body),
            )
        )

    def send(self, message: Message) -> None:
        """Put a message on the bus, in order, when the bus has room for it."""
        if self.running:
            self._outgoing.append(message)
            self._room.set()

    @property
    def backlog(self) -> int:
        """Messages that wait for room."""
        return len(self._outgoing)

    async def _send_all(self) -> None:
        """Send what waits; dbus-fast 5.2 itself gives up a connection whose socket is full."""
        while True:
            await self._room.wait()
            self._room.clear()
            while self._outgoing:
                await self._writable()
                await self.bus.send(self._outgoing.popleft())

    async def _writable(self) -> None:
        socket: Any = self.bus._fd  # noqa: SLF001  # it has no public name
        while not select.select([], [socket], [], 0)[1]:  # noqa: ASYNC110  # dbus-fast has the socket's one writer
            await asyncio.sleep(0.001)

    def spawn(self, work: Awaitable[None]) -> None:
        """Run something for as long as the daemon runs."""
        task = asyncio.ensure_future(work)
        assert isinstance(task, asyncio.Task)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    # -- calls ---------------------------------------------------------------------------------------------------

    def _take(self, message: Message) -> bool | None:
        if message.message_type is not MessageType.METHOD_CALL or not (message.interface or "").startswith(OURS):
            return None
        self.spawn(self._answer(message))
        return True

    async def _answer(self, message: Message) -> None:
        self.calls.append((message.path or "", message.member or ""))
        if self.frozen:
            await asyncio.Event().wait()
        try:
            answer = await self._call(message) or Message.new_method_return(message)
        except Refused as refused:
            answer = Message.new_error(message, refused.name, refused.text)
        self.send(answer)

    async def _call(self, message: Message) -> Message | None:
        path, interface = message.path or "", message.interface or ""
        if interface == MANAGER:
            return Message.new_method_return(message, "a{oa{sa{sv}}}", [self.objects])
        if path not in self.objects:
            raise Refused("org.freedesktop.DBus.Error.UnknownObject", path)
        handlers: dict[str, Callable[[Message], Message | None]] = {
            PROPERTIES: self._call_properties,
            ADAPTER: self._call_adapter,
            PROFILES: self._call_profiles,
        }
        if interface in handlers:
            return handlers[interface](message)
        for device in self.devices.values():
            if path == device.path or path.startswith(device.path + "/"):
                return await device.called(message)
        raise Refused("org.freedesktop.DBus.Error.UnknownMethod", f"{interface}.{message.member}")

    def _call_properties(self, message: Message) -> Message | None:
        interfaces = self.objects[message.path or ""]
        match message.member:
            case "GetAll":
                return Message.new_method_return(message, "a{sv}", [interfaces.get(message.body[0], {})])
            case "Get":
                return Message.new_method_return(message, "v", [interfaces[message.body[0]][message.body[1]]])
        self.change(message.path or "", message.body[0], **{message.body[1]: message.body[2]})
        return None

    def _call_adapter(self, message: Message) -> Message | None:
        sender = message.sender or ""
        match message.member:
            case "StartDiscovery":
                if not self._powered:
                    raise Refused("org.bluez.Error.NotReady", "Resource Not Ready")
                if not self._discovering:
                    self.spawn(self._advertise())
                self._discovering.add(sender)
                self.change(self.adapter, ADAPTER, Discovering=Variant("b", True))  # noqa: FBT003
            case "StopDiscovery":
                self._discovering.discard(sender)
                self.change(self.adapter, ADAPTER, Discovering=Variant("b", bool(self._discovering)))
            case "RemoveDevice":
                self.devices[message.body[0]].forgotten()
                self.remove(message.body[0])
        return None

    def _call_profiles(self, message: Message) -> Message | None:
        match message.member:
            case "RegisterProfile":
                path, uuid, _ = message.body
                if uuid in self.profiles:
                    raise Refused("org.bluez.Error.NotPermitted", "UUID already registered")
                self.profiles[uuid] = (message.sender or "", path)
            case "UnregisterProfile":
                self.profiles = {
                    uuid: profile
                    for uuid, profile in self.profiles.items()
                    if profile != (message.sender, message.body[0])
                }
        return None

    async def _advertise(self) -> None:
        """Have devices heard, again and again: a client may begin to listen after a first signal has passed."""
        await asyncio.sleep(0)
        while self._discovering:
            for device in self.devices.values():
                if device.advertising and not self.get(device.path, DEVICE, "Connected"):
                    device.announce()
            await asyncio.sleep(ADVERTISE_S)
