"""One search for all: BlueZ knows one discovery an adapter, and connecting while it searches fails now and then.

Links that look for their devices share one scan, which runs while anybody waits and rests while anybody connects.
"""

import asyncio
import contextlib
import weakref
from collections.abc import AsyncIterator

from bleak import BleakScanner
from bleak.backends.bluezdbus.manager import get_global_bluez_manager
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.exc import BleakError

TROUBLES = (BleakError, OSError, EOFError, TimeoutError)
"""What bleak and the bus below it are known to raise."""

_RADIOS: "weakref.WeakKeyDictionary[asyncio.AbstractEventLoop, dict[str | None, Radio]]" = weakref.WeakKeyDictionary()


class Radio:
    """The search on one adapter (None: the default one).  Made by `radio`."""

    def __init__(self, adapter: str | None) -> None:
        self._adapter = adapter
        self._wanted: dict[str, set[asyncio.Future[BLEDevice]]] = {}
        self._scan: asyncio.Task[None] | None = None
        self._rest = asyncio.Event()
        self._connecting = 0
        self._turn = asyncio.Lock()

    async def find(self, address: str, seconds: float) -> BLEDevice:
        """Wait until the device is heard.  Raises TimeoutError, or one of TROUBLES when no search is possible."""
        found: asyncio.Future[BLEDevice] = asyncio.get_running_loop().create_future()
        self._wanted.setdefault(address, set()).add(found)
        if self._scan is None or self._scan.done():
            self._scan = asyncio.get_running_loop().create_task(self._search())
        try:
            async with asyncio.timeout(seconds):
                return await found
        finally:
            self._wanted[address].discard(found)
            if not self._wanted[address]:
                del self._wanted[address]
            if not self._wanted:
                self._rest.set()

    @contextlib.asynccontextmanager
    async def quiet(self) -> AsyncIterator[None]:
        """Hold the search, to connect; one at a time."""
        self._connecting += 1
        self._rest.set()
        try:
            async with self._turn:
                yield
        finally:
            self._connecting -= 1

    async def _search(self) -> None:
        try:
            while self._wanted:
                async with self._turn:
                    self._rest.clear()
                    if self._connecting or not self._wanted:
                        continue
                    async with BleakScanner(self._heard, bluez={"adapter": self._adapter} if self._adapter else {}):
                        await self._rest.wait()
        except Exception as error:  # noqa: BLE001  # it is handed to those who wait
            for found in [one for waiting in self._wanted.values() for one in waiting]:
                if not found.done():
                    found.set_exception(error)

    def _heard(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        del advertisement
        for found in self._wanted.get(device.address, ()):
            if not found.done():
                found.set_result(device)


def radio(adapter: str | None) -> Radio:
    """Return the one search of this event loop on an adapter."""
    radios = _RADIOS.setdefault(asyncio.get_running_loop(), {})
    return radios.setdefault(adapter, Radio(adapter))


async def forget() -> None:
    """Make bleak forget what it was told by a bluetoothd that has ended: its "connected" would be believed again."""
    with contextlib.suppress(*TROUBLES):
        manager = await get_global_bluez_manager()
        bus = manager._bus  # noqa: SLF001  # there is no public way; a dead bus makes it start afresh
        if bus is not None:
            bus.disconnect()
