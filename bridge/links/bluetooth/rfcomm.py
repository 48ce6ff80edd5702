"""A Bluetooth classic serial port (RFCOMM).

The usual way is BlueZ's: this program registers the serial port profile (`profile.py`), asks BlueZ to connect the
device, and is handed a connected socket.  Where the URL gives a channel and Python has Bluetooth sockets, it connects
by itself, which needs neither the bus nor bluetoothd.  Where neither works the error says how to make a /dev/rfcomm0.
"""

import asyncio
import contextlib
import socket
from collections.abc import Callable
from typing import Any

from neckyoke.bridge.config.address import Address
from neckyoke.bridge.links.bluetooth.bluez import DEVICE, BlueZ, BlueZError
from neckyoke.bridge.links.bluetooth.profile import SERIAL_PORT, Profile, serial_profile
from neckyoke.bridge.links.wires.descriptor import DescriptorLink
from neckyoke.bridge.links.wires.link import LinkTrouble, OnBytes, OnLost

CONNECT_S = 20.0
DISCONNECT_S = 3.0


def bluetooth_socket() -> socket.socket | None:
    """Make a Bluetooth socket; None where this Python was built without them, or this process may have none."""
    family = getattr(socket, "AF_BLUETOOTH", None)
    if family is None:
        return None
    try:
        return socket.socket(family, socket.SOCK_STREAM, socket.BTPROTO_RFCOMM)
    except OSError:  # such as a systemd unit made before the configuration had such a link: BlueZ does it then
        return None


def by_hand(address: str, channel: str) -> str:
    """Return how to make a serial port of a device by hand."""
    return (
        f"Or make a serial port of it:  sudo rfcomm bind 0 {address} {channel}   and write  "
        f'url = "serial:/dev/rfcomm0"   (rfcomm comes with bluez; on Debian 13 with bluez-deprecated)'
    )


class RfcommLink(DescriptorLink):
    """A Bluetooth classic serial port by address; see the module."""

    def __init__(
        self,
        address: Address,
        on_bytes: OnBytes,
        on_lost: OnLost,
        make_socket: Callable[[], socket.socket | None] = bluetooth_socket,
    ) -> None:
        super().__init__(on_bytes, on_lost)
        self._address = address.target
        self._adapter = address.options.get("adapter")
        self._channel = address.options.get("channel")
        self._make_socket = make_socket
        self._socket: socket.socket | None = None
        self._bluez: BlueZ | None = None
        self._profile: Profile | None = None
        self._path: str | None = None

    async def _connect(self) -> None:
        own = self._make_socket() if self._channel is not None else None
        if own is not None:
            await self._connect_ourselves(own)
        else:
            await self._connect_by_bluez()
        assert self._socket is not None
        self._socket.settimeout(0)
        self._attach(self._socket.fileno())

    async def _connect_ourselves(self, own: socket.socket) -> None:
        self._socket = own
        own.settimeout(0)
        target: Any = (self._address, int(self._channel or "1"))
        try:
            async with asyncio.timeout(CONNECT_S):
                await asyncio.get_running_loop().sock_connect(own, target)
        except TimeoutError:
            raise self._missing() from None
        except OSError as error:
            raise LinkTrouble(f"{self._address} refuses channel {self._channel}: {error.strerror or error}") from error

    async def _connect_by_bluez(self) -> None:
        hand = by_hand(self._address, self._channel or "1")
        self._bluez = BlueZ(lambda text: self._lose(LinkTrouble(text)))
        try:
            await self._bluez.open()
            self._path = await self._known(self._bluez)
            self._profile = await serial_profile(self._channel)
            async with asyncio.timeout(CONNECT_S):
                self._socket = await self._profile.connect(self._bluez, self._path, self._end)
        except TimeoutError:
            raise self._missing() from None
        except BlueZError as error:
            raise self._explain(error, hand) from error
        except LinkTrouble as error:
            raise LinkTrouble(f"{error.text}  {hand}", missing=error.missing) from error

    async def _known(self, bluez: BlueZ) -> str:
        known = await bluez.find(self._address, self._adapter)
        if known is None:
            raise LinkTrouble(
                f"{self._address} is not known to this machine; pair it once:  bluetoothctl   then  scan on,  "
                f"pair {self._address},  trust {self._address}.",
                missing=True,
            )
        return known[0]

    def _missing(self) -> LinkTrouble:
        return LinkTrouble(f"{self._address} does not answer: is it on and near enough?", missing=True)

    def _explain(self, error: BlueZError, hand: str) -> LinkTrouble:
        if any(word in error.text.lower() for word in ("host is down", "page-timeout", "page timeout", "timed out")):
            return self._missing()
        if error.name.endswith(("AuthenticationFailed", "AuthenticationRejected", "NotAuthorized")):
            return LinkTrouble(
                f"{self._address} refuses us: pair it again:  bluetoothctl  remove {self._address},  pair"
            )
        return LinkTrouble(f"{self._address} cannot be connected: {error.text} ({error.name}).  {hand}")

    def _end(self) -> None:
        """BlueZ asks us to let the device go."""
        self._lose(self._gone("BlueZ took the connection back"))

    def _gone(self, why: str) -> LinkTrouble:
        said = f" ({why})" if why else ""
        return LinkTrouble(f"{self._address} disconnected{said}: switched off, out of range, or its battery is flat")

    async def _release(self) -> None:
        own, self._socket = self._socket, None
        bluez, self._bluez = self._bluez, None
        profile, self._profile = self._profile, None
        self._detach()
        if own is not None:
            own.close()
        if bluez is not None:
            if self._path is not None:  # also when it was still being connected: that is called off
                with contextlib.suppress(OSError):
                    async with asyncio.timeout(DISCONNECT_S):
                        await bluez.call(self._path, DEVICE, "DisconnectProfile", "s", SERIAL_PORT)
            await bluez.close()
        if profile is not None:
            await profile.leave(self._path)
