"""Which characteristic of a Bluetooth LE device to listen to, and which to write to.

Bound by identifier and property, never by name or order.  In this order: what the URL says; the weight scale service
when the layout asks for it; a known serial line over GATT; the weight scale service; the only characteristic that can
notify at all, when there is one only.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from bleak.backends.characteristic import BleakGATTCharacteristic

from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.protocols.scale.ble import LAYOUT, SERVICE_WEIGHT_SCALE, UARTS, WEIGHT_MEASUREMENT

BASE = "0000{}-0000-1000-8000-00805f9b34fb"
"""What a 16-bit identifier stands for (Bluetooth Core Specification: the base UUID; from memory)."""
HOUSEKEEPING = {BASE.format(short) for short in ("1800", "1801", "180a", "180f")}
"""Services every device has: access, attributes, device information, battery."""


class Characteristics(NamedTuple):
    """What to listen to, what to write to (None: nothing), and whether packets are weight measurements."""

    notify: BleakGATTCharacteristic
    write: BleakGATTCharacteristic | None
    weight: bool


def full_uuid(text: str) -> str:
    """Spell an identifier in full: `2A9D` is short for one of the SIG's."""
    return BASE.format(text.lower()) if len(text) == 4 else text.lower()


def choose_characteristics(
    found: Iterable[BleakGATTCharacteristic], options: Mapping[str, str], layout: str
) -> Characteristics:
    """Choose among a device's characteristics.  Raises LinkTrouble that lists what there is."""
    characteristics = list(found)
    speaking = [one for one in characteristics if {"notify", "indicate"} & set(one.properties)]
    listening = [one for one in characteristics if {"write", "write-without-response"} & set(one.properties)]
    service = full_uuid(options["service"]) if "service" in options else None

    def pick(
        among: list[BleakGATTCharacteristic], uuid: str | None, within: str | None
    ) -> BleakGATTCharacteristic | None:
        fits = [one for one in among if uuid in {None, one.uuid} and within in {None, one.service_uuid}]
        return fits[0] if len(fits) == 1 else None

    def chosen(notify: BleakGATTCharacteristic, write: str | None = None) -> Characteristics:
        wanted = full_uuid(options["write"]) if "write" in options else write
        to = pick(listening, wanted, None if "write" in options else notify.service_uuid)
        return Characteristics(notify, to, notify.uuid == WEIGHT_MEASUREMENT)

    if "notify" in options:
        if notify := pick(speaking, full_uuid(options["notify"]), service):
            return chosen(notify)
        raise LinkTrouble(f"it has no notify={options['notify']}; it can notify: {_list(speaking)}")
    weight = pick(speaking, WEIGHT_MEASUREMENT, service or SERVICE_WEIGHT_SCALE)
    if weight and layout == LAYOUT:
        return chosen(weight)
    for uart in UARTS:
        if service in {None, uart.service} and (notify := pick(speaking, uart.notify, uart.service)):
            return chosen(notify, uart.write)
    if weight:
        return chosen(weight)
    rest = [one for one in speaking if one.service_uuid not in HOUSEKEEPING]
    if notify := pick(rest, None, service):
        return chosen(notify)
    raise LinkTrouble(f"which of its characteristics to listen to is not known; add ?notify= and one of {_list(rest)}")


def _list(characteristics: Iterable[BleakGATTCharacteristic]) -> str:
    return ", ".join(one.uuid for one in characteristics) or "none"
