"""The serial port profile, registered with BlueZ once for the whole process.

BlueZ takes one registration an identifier, so all RFCOMM links share one object on the bus: each says which device it
is waiting for, and the socket that BlueZ hands over (org.bluez.Profile1.NewConnection) goes to the link that waits for
it.  The object is there while any link uses it.
"""

import asyncio
import contextlib
import os
import socket
import weakref
from collections.abc import Callable
from typing import Any

from dbus_fast import Message, MessageType, Variant

from neckyoke.bridge.links.bluetooth.bluez import DEVICE, BlueZ
from neckyoke.bridge.links.wires.link import LinkTrouble

SERIAL_PORT = "00001101-0000-1000-8000-00805f9b34fb"
"""The serial port service (Bluetooth assigned numbers, 0x1101; from memory)."""
PROFILE = "org.bluez.Profile1"
MANAGER = "org.bluez.ProfileManager1"
PATH = "/neckyoke/serial"
UNREGISTER_S = 2.0
LONGEST_S = 60.0
"""Connecting may take as long as who asked for it has patience."""
REJECTED = "org.bluez.Error.Rejected"

_PROFILES: "weakref.WeakKeyDictionary[asyncio.AbstractEventLoop, Profile]" = weakref.WeakKeyDictionary()


class Profile:
    """The registration and who waits on it.  Made by `serial_profile`; every user calls `leave` once."""

    def __init__(self, channel: str | None) -> None:
        self.users = 0
        self._channel = channel
        self._bluez = BlueZ(lambda _: self._retire())
        self._opening = asyncio.Lock()
        self._open = False
        self._waiting: dict[str, asyncio.Future[socket.socket]] = {}
        self._ends: dict[str, Callable[[], None]] = {}

    async def enter(self) -> None:
        """Register if nobody has yet.  Raises LinkTrouble."""
        async with self._opening:
            if self._open:
                return
            await self._bluez.open()
            self._bluez.bus.add_message_handler(self._asked)
            options: dict[str, Variant] = {"Role": Variant("s", "client"), "AutoConnect": Variant("b", False)}  # noqa: FBT003
            if self._channel is not None:
                options["Channel"] = Variant("q", int(self._channel))
            await self._bluez.call("/org/bluez", MANAGER, "RegisterProfile", "osa{sv}", PATH, SERIAL_PORT, options)
            self._open = True

    async def leave(self, path: str | None = None) -> None:
        """End one use; the last one ends the registration."""
        self.users -= 1
        if path is not None:
            self._ends.pop(path, None)
        if self.users == 0:
            self._retire()
            with contextlib.suppress(OSError):
                async with asyncio.timeout(UNREGISTER_S):
                    await self._bluez.call("/org/bluez", MANAGER, "UnregisterProfile", "o", PATH)
            await self._bluez.close()

    def _retire(self) -> None:
        """Let who comes next register anew."""
        loop = asyncio.get_running_loop()
        if _PROFILES.get(loop) is self:
            del _PROFILES[loop]

    async def connect(self, bluez: BlueZ, path: str, on_end: Callable[[], None]) -> socket.socket:
        """Have BlueZ connect the device; return the socket.  `on_end` is called when BlueZ wants it back.

        Cancelled or failed, it leaves nothing open.
        """
        if path in self._waiting:
            raise LinkTrouble("two links want the same Bluetooth device; give it to one of them")
        handed: asyncio.Future[socket.socket] = asyncio.get_running_loop().create_future()
        self._waiting[path] = handed
        self._ends[path] = on_end
        try:
            await bluez.call(path, DEVICE, "ConnectProfile", "s", SERIAL_PORT, seconds=LONGEST_S)
            return await handed
        except BaseException:
            if handed.done() and not handed.cancelled():
                handed.result().close()
            raise
        finally:
            del self._waiting[path]

    def _asked(self, message: Message) -> Message | None:
        """Answer BlueZ's calls of our object."""
        if message.message_type is not MessageType.METHOD_CALL or message.interface != PROFILE:
            return None
        match message.member:
            case "NewConnection":
                return self._new_connection(message)
            case "RequestDisconnection":
                if end := self._ends.pop(message.body[0], None):
                    end()
        return Message.new_method_return(message)

    def _new_connection(self, message: Message) -> Message:
        path: Any = message.body[0]
        fd = message.unix_fds[message.body[1]]
        handed = self._waiting.get(path)
        if handed is None or handed.done():
            os.close(fd)
            return Message.new_error(message, REJECTED, "nobody waits for this device")
        handed.set_result(socket.socket(fileno=fd))
        return Message.new_method_return(message)


async def serial_profile(channel: str | None) -> Profile:
    """Use the profile of this event loop.  Raises LinkTrouble when it cannot be registered."""
    loop = asyncio.get_running_loop()
    profile = _PROFILES.setdefault(loop, Profile(channel))
    profile.users += 1
    try:
        await profile.enter()
    except BaseException:
        await profile.leave()
        raise
    return profile
