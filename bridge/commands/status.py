"""`neckyoke status`: how the running daemon is, on one screen."""

import argparse
import asyncio
import json
import sys
from collections.abc import Mapping
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any

from neckyoke.bridge.commands.daemon import add_daemon, socket_of
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.many import many
from neckyoke.bridge.telling.status import FileStatus, OutletStatus, Status

WRONG_LINK = frozenset({"lost", "silent", "missing", None})


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "--troubles", action="store_true", help="the troubles of the last 24 hours, also when no daemon runs"
    )
    parser.add_argument("--format", choices=["text", "json", "openmetrics"], default="text", help="how to write it")
    parser.add_argument("--json", dest="format", action="store_const", const="json", help="for a program")
    add_daemon(parser)


def run(args: argparse.Namespace) -> int:
    """Print the figures: 0 when all is well, 1 when something is wrong or no daemon runs."""
    from neckyoke.bridge.asking.socket import ControlError, ask_status

    config = load_config(args.config)
    if args.troubles:
        return _look_back(config.state_path("."), config.zone, as_json=args.format == "json")
    try:
        status = asyncio.run(ask_status(socket_of(args, config)))
    except ControlError as error:
        print(error, file=sys.stderr)
        return 1
    if args.format == "json":
        print(status.model_dump_json(indent=2))
    elif args.format == "openmetrics":
        from neckyoke.bridge.telling.openmetrics import write

        print(write(status), end="")
    else:
        print("\n".join(screen(status)))
    return 1 if troubles(status) else 0


def _look_back(folder: Path, zone: tzinfo, *, as_json: bool) -> int:
    """Print what went wrong lately."""
    from neckyoke.bridge.telling.alert_log import recent

    try:
        records = recent(folder, datetime.now(UTC))
    except PermissionError:
        print(f"{folder} may not be read by this user; run it with sudo", file=sys.stderr)
        return 1
    if as_json:
        print(json.dumps(list(records), indent=2))
        return 0
    for record in records:
        print(_told(record, zone))
    if not records:
        print("No trouble was noted.")
    return 0


def _told(record: Mapping[str, Any], zone: tzinfo) -> str:
    """Spell one record: when on the farm's clock, what, where, how long."""
    try:
        when = f"{datetime.fromisoformat(record['time']).astimezone(zone):%a %d %b %H:%M:%S}"
    except (KeyError, ValueError):
        when = "at an unknown time"
    where = record.get("link") or record.get("station")
    about = str(record.get("about", ""))
    text = record.get("text") or about.replace("-", " ")
    lasted = record.get("lasted_s")
    after = f" (after {lasted:.0f} s)" if isinstance(lasted, int | float) and lasted >= 1 else ""
    return f"{when}  {f'{where}: ' if where else ''}{text}{after}"


def troubles(status: Status) -> list[str]:
    """Return everything that is wrong now, in a line each."""
    said = [trouble.text for trouble in status.troubles]
    links = [
        f"{name} is {link.state or 'not open yet'}  {link.text}".rstrip()
        for name, link in status.links.items()
        if link.state in WRONG_LINK
    ]
    return [*said, *links]


def _outlet(outlet: OutletStatus) -> str:
    """Return how an outlet is: whether it gives, how much, and what waits in the journal."""
    if isinstance(outlet, FileStatus):
        given, reached = outlet.written, "file"
    else:
        given, reached = outlet.delivered, "connected" if outlet.connected else "out of reach"
    backlog = outlet.backlog
    return f"{reached}, {many(given, 'event')} given, {backlog or 'none'} wait{'s' if backlog == 1 else ''}"


def screen(status: Status) -> list[str]:
    """Lay the status out on one screen."""
    hours, minutes = divmod(int(status.up_s) // 60, 60)
    clock, free = status.clock.state, "?" if status.disk_free_mb is None else status.disk_free_mb
    box = f"neckyoke {status.version}, up {hours} h {minutes} min, clock {clock}, {free} MB free"
    lines = [f"{status.site}   {box}", ""]
    for name, station in status.stations.items():
        counts, view = station.counts, station.view
        missing = "" if counts.expected is None else f", {counts.not_seen} of {counts.expected} still to come"
        kg = "—" if view.kg is None else f"{view.kg:.1f} kg"
        job = station.job.text if station.job else f"no job is open, sheet {station.sheet or 'none'}"
        lines.append(f"station {name}: {many(counts.animals, 'animal')}{missing}, {job}")
        lines.append(f"    now {kg}, {view.state}.  {view.next}")
    lines.append("")
    for name, link in status.links.items():
        age = "never" if link.last_byte_age_s is None else f"{link.last_byte_age_s:.0f} s ago"
        told = f"{many(link.frames, 'frame')}, {many(sum(link.rejects.values()), 'reject')}, last byte {age}"
        lines.append(f"link {name}: {link.state or 'not open yet'}, {told}")
    lines.append("")
    lines += [f"outlet {name}: {_outlet(outlet)}" for name, outlet in status.outlets.items()]
    wrong = troubles(status)
    return [*lines, "", *(f"!  {text}" for text in wrong)] if wrong else [*lines, "", "Nothing is wrong."]
