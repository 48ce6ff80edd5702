"""What could be a link: the serial ports plugged in, and the Bluetooth devices in range.

Serial ports are found as udev finds them: a tty in /sys with a device behind it; what the adapter calls itself stands
in the USB device's folder above.  A port has up to three names: the node (`ttyUSB0`, which moves when things are
replugged), by-id (the adapter's own name and serial number) and by-path (the socket it is in).  The name to configure
is by-id, unless the adapter has no serial number of its own: then two of a kind share one by-id name and only by-path
tells them apart.
"""

import os
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.links.serial.devices import Holder, access, holders, remedy

KINDS = ("ttyUSB", "ttyACM", "ttyAMA", "ttyS", "rfcomm")
NO_NUMBER = {"", "0", "00000000", "0000", "0001", "123456", "12345678"}
"""Serial numbers that makers leave in when they give none (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Port:
    """One serial port: its names, its adapter, who may open it and who has."""

    node: str
    name: str
    """The name to configure."""
    adapter: str
    number: str | None
    """The adapter's serial number, None when it has none of its own."""
    access: str
    may_open: bool
    holders: tuple[Holder, ...]
    notes: tuple[str, ...]

    @property
    def url(self) -> str:
        """The link's URL, at the usual speed."""
        return f"serial:{self.name}?baud=9600"


def find_ports(dev: Path = Path("/dev"), sys: Path = Path("/sys"), proc: Path = Path("/proc")) -> list[Port]:
    """List the serial ports, in the order of their nodes.  The folders are arguments for tests."""
    by_id, by_path = _links(dev / "serial" / "by-id"), _links(dev / "serial" / "by-path")
    found = []
    for tty in sorted((sys / "class" / "tty").glob("*"), key=_order):
        if not tty.name.startswith(KINDS) or not _real(tty):
            continue
        node = dev / tty.name
        if node.exists():
            found.append(_port(node, tty, by_id.get(tty.name), by_path.get(tty.name), proc))
    return found


def _order(tty: Path) -> tuple[str, int]:
    letters = tty.name.rstrip("0123456789")
    return letters, int(tty.name[len(letters) :] or 0)


def _links(folder: Path) -> dict[str, str]:
    """Return the stable name of each node."""
    if not folder.is_dir():
        return {}
    return {link.resolve().name: str(link) for link in sorted(folder.iterdir())}


def _real(tty: Path) -> bool:
    """Tell a port from a place for one: an unused ttyS has a driver and type 0; an rfcomm has no device folder."""
    if tty.name.startswith("rfcomm"):
        return True
    return (tty / "device").exists() and _read(tty / "type") != "0"


def _read(file: Path) -> str:
    try:
        return file.read_text(errors="replace").strip()
    except OSError:
        return ""


def _port(node: Path, tty: Path, by_id: str | None, by_path: str | None, proc: Path) -> Port:
    usb = _usb(tty)
    number = _read(usb / "serial") if usb else ""
    adapter = " ".join(part for part in (_read(usb / "manufacturer"), _read(usb / "product")) if part) if usb else ""
    notes = []
    name = by_id or by_path or str(node)
    if usb and number in NO_NUMBER:
        name = by_path or name
        notes.append(
            "This adapter has no serial number of its own; two of its kind look the same. The name given is that of "
            "the socket: mark the socket and keep the adapter in it."
        )
    if name == str(node) and usb:
        notes.append(
            "This name changes when adapters are replugged; no lasting one was made for it (is udev running?)."
        )
    may_open = os.access(node, os.R_OK | os.W_OK)
    if not may_open:
        notes.append(f"You may not open it. Mend it with: {remedy(node, '$USER')}")
    by = tuple(holders(node, proc))
    if by:
        notes.append(f"It is held by {', '.join(map(str, by))}; a device can be given to one program only.")
    return Port(
        node=str(node),
        name=name,
        adapter=adapter or _kind(tty.name),
        number=None if number in NO_NUMBER else number,
        access=access(node),
        may_open=may_open,
        holders=by,
        notes=tuple(notes),
    )


def _usb(tty: Path) -> Path | None:
    """Find the folder of the USB device above a tty, None when it is no USB adapter."""
    for folder in (tty / "device").resolve().parents:
        if (folder / "idVendor").exists():
            return folder
    return None


def _kind(name: str) -> str:
    return "Bluetooth serial port" if name.startswith("rfcomm") else "built-in port"
