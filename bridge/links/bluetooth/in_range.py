"""What is in radio range: Bluetooth LE devices that advertise, classic ones that are paired and have a serial port."""

from dataclasses import dataclass

from neckyoke.bridge.links.bluetooth.bluez import BlueZ
from neckyoke.bridge.links.bluetooth.profile import SERIAL_PORT
from neckyoke.bridge.links.bluetooth.radio import TROUBLES
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.protocols.scale.ble import FULL_SCALE_KG, LAYOUT, SERVICE_WEIGHT_SCALE, UARTS


@dataclass(frozen=True, slots=True)
class InRange:
    """One Bluetooth device.  `rssi_dbm` is None for a classic one, which is known and not heard."""

    url: str
    name: str
    what: str
    rssi_dbm: int | None
    layout: str | None = None

    @property
    def toml(self) -> str:
        """What to write in the configuration."""
        layout = f'\nlayout = "{self.layout}"' if self.layout else ""
        return f'url = "{self.url}"{layout}'


def describe(services: list[str]) -> tuple[str, str | None]:
    """Return what a device is, and which layout it needs, from the services it advertises."""
    if any(uart.service in services for uart in UARTS):
        return "a serial line over GATT", None
    if SERVICE_WEIGHT_SCALE in services:
        return f"a weight scale service (ends at {FULL_SCALE_KG} kg: not for grown cattle)", LAYOUT
    return "", None


async def find_in_range(seconds: float, adapter: str | None = None) -> list[InRange]:
    """Listen for so long; give what was heard, devices that speak first.  Raises LinkTrouble when there is no radio."""
    from bleak import BleakScanner

    bluez = BlueZ(lambda _: None)
    try:
        await bluez.open()
        known = await bluez.devices()
        found = await BleakScanner.discover(
            timeout=seconds, return_adv=True, bluez={"adapter": adapter} if adapter else {}
        )
    except LinkTrouble:
        raise
    except TROUBLES as error:
        raise LinkTrouble(f"Bluetooth cannot be listened to: {error}") from error
    finally:
        await bluez.close()
    heard = []
    for device, advertisement in found.values():
        what, layout = describe(advertisement.service_uuids)
        heard.append(InRange(f"ble:{device.address}", device.name or "", what, advertisement.rssi, layout))
    heard.sort(key=lambda one: (not one.what, -(one.rssi_dbm or -200)))
    classic = [
        InRange(f"rfcomm:{device['Address']}", str(device.get("Alias", "")), "a paired serial port", None)
        for device in known.values()
        if SERIAL_PORT in device.get("UUIDs", []) and device.get("Paired")
    ]
    return classic + heard
