"""From a checked address to the wire that serves it."""

from neckyoke.bridge.config.address import Address
from neckyoke.bridge.config.model import LinkTable
from neckyoke.bridge.links.wires.link import Link, OnBytes, OnLost


def make_link(address: Address, table: LinkTable, on_bytes: OnBytes, on_lost: OnLost) -> Link:
    """Make a link, not yet open.  Raises LinkTrouble when an option's value is not understood."""
    match address.scheme:
        case "serial":
            from neckyoke.bridge.links.serial.port import SerialLink

            return SerialLink(address, on_bytes, on_lost)
        case "tcp":
            from neckyoke.bridge.links.wires.tcp import TcpLink

            return TcpLink(address, on_bytes, on_lost)
        case "rfc2217":
            from neckyoke.bridge.links.serial.rfc2217 import Rfc2217Link

            return Rfc2217Link(address, on_bytes, on_lost)
        case "ble":
            from neckyoke.bridge.links.bluetooth.ble import BleLink

            return BleLink(address, table.layout, on_bytes, on_lost)
        case "rfcomm":
            from neckyoke.bridge.links.bluetooth.rfcomm import RfcommLink

            return RfcommLink(address, on_bytes, on_lost)
