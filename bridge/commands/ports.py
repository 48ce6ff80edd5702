"""`neckyoke ports`: what is plugged in and what is in radio range, with what to write in the configuration."""

import argparse
import asyncio
import json
from dataclasses import asdict

from neckyoke.bridge.links.bluetooth.in_range import InRange, find_in_range
from neckyoke.bridge.links.ports import Port, find_ports
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.bridge.telling.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--seconds", type=float, default=8.0, help="how long to listen for Bluetooth (8)")
    parser.add_argument("--adapter", help="the Bluetooth adapter, such as hci1")
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--no-bluetooth", action="store_true", help="only what is plugged in")


def run(args: argparse.Namespace) -> int:
    """Print what was found; finding nothing is no failure."""
    if args.json:
        return _json(args)
    ports = find_ports()
    print("Plugged in:" if ports else "No serial port is plugged in.")
    for port in ports:
        print(port_text(port))
    if args.no_bluetooth:
        return 0
    print(f"\nListening for Bluetooth devices, {args.seconds:.0f} s …", flush=True)
    try:
        found = asyncio.run(_bluetooth(args))
    except LinkTrouble as trouble:
        print(f"  none: {trouble}")
        return 0
    print("In range:" if found else "None is in range.")
    for one in found:
        print(heard_text(one))
    return 0


async def _bluetooth(args: argparse.Namespace) -> list[InRange]:
    return await Progress("listening").while_waiting(find_in_range(args.seconds, args.adapter), args.seconds)


def _json(args: argparse.Namespace) -> int:
    """Print the same for a program."""
    found: dict[str, object] = {"ports": [asdict(port) | {"url": port.url} for port in find_ports()]}
    if not args.no_bluetooth:
        try:
            found["bluetooth"] = [asdict(one) for one in asyncio.run(_bluetooth(args))]
        except LinkTrouble as trouble:
            found |= {"bluetooth": [], "bluetooth_trouble": str(trouble)}
    print(json.dumps(found, indent=2))
    return 0


def port_text(port: Port) -> str:
    """Describe a port and what to write."""
    number = f", number {port.number}" if port.number else ""
    lines = [f"\n  {port.node}: {port.adapter}{number} ({port.access})"]
    lines += [f"    ! {note}" for note in port.notes]
    lines += ["    [links.NAME]", f'    url = "{port.url}"']
    return "\n".join(lines)


def heard_text(one: InRange) -> str:
    """Describe a Bluetooth device, and what to write where it can be a link."""
    strength = f", {one.rssi_dbm} dBm" if one.rssi_dbm is not None else ""
    lines = [f"\n  {one.url}: {one.name or 'without a name'}{strength}{': ' if one.what else ''}{one.what}"]
    if one.what:
        lines += ["    [links.NAME]", *(f"    {line}" for line in one.toml.splitlines())]
    return "\n".join(lines)
