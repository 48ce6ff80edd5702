"""`neckyoke status`: how the running daemon is, on one screen."""

import argparse
import asyncio
import json
import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from neckyoke.bridge.commands.daemon import add_daemon, socket_of
from neckyoke.bridge.config.model import load_config

WRONG_LINK = frozenset({"lost", "silent", "missing", None})


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "--troubles", action="store_true", help="the troubles of the last 24 hours, also when no daemon runs"
    )
    parser.add_argument("--format", choices=["text", "json", "openmetrics"], default="text", help="how to write it")
    add_daemon(parser)


def run(args: argparse.Namespace) -> int:
    """Print the figures: 0 when all is well, 1 when something is wrong or no daemon runs."""
    from neckyoke.bridge.asking.socket import ControlError, ask

    config = load_config(args.config)
    if args.troubles:
        return _look_back(config.state_path("."))
    try:
        answer = asyncio.run(ask(socket_of(args, config), {"kind": "status"}))
    except ControlError as error:
        print(error, file=sys.stderr)
        return 1
    figures = answer["status"]
    if args.format == "json":
        print(json.dumps(figures, indent=2))
    elif args.format == "openmetrics":
        from neckyoke.bridge.telling.openmetrics import write

        print(write(figures), end="")
    else:
        print("\n".join(screen(figures)))
    return 1 if troubles(figures) else 0


def _look_back(folder: Path) -> int:
    """Print what went wrong lately."""
    from neckyoke.bridge.telling.alert_log import recent

    try:
        records = recent(folder, datetime.now(UTC))
    except PermissionError:
        print(f"{folder} may not be read by this user; run it with sudo", file=sys.stderr)
        return 1
    for record in records:
        print(_told(record))
    if not records:
        print("No trouble was noted.")
    return 0


def _told(record: Mapping[str, Any]) -> str:
    """Spell one record: when on this machine's clock, what, where, how long."""
    try:
        when = f"{datetime.fromisoformat(record['time']).astimezone():%a %d %b %H:%M:%S}"
    except (KeyError, ValueError):
        when = "at an unknown time"
    where = record.get("link") or record.get("station")
    about = str(record.get("about", ""))
    text = record.get("text") or about.replace("-", " ")
    lasted = record.get("lasted_s")
    after = f" (after {lasted:.0f} s)" if isinstance(lasted, int | float) and lasted >= 1 else ""
    return f"{when}  {f'{where}: ' if where else ''}{text}{after}"


def troubles(figures: dict[str, Any]) -> list[str]:
    """Return everything that is wrong now, in a line each."""
    said = [trouble["text"] for trouble in figures["troubles"]]
    links = [
        f"{name} is {link['state'] or 'not open yet'}  {link['text']}".rstrip()
        for name, link in figures["links"].items()
        if link["state"] in WRONG_LINK
    ]
    return [*said, *links]


def _outlet(outlet: Mapping[str, Any]) -> str:
    """Return how an outlet is: whether it gives, how much, and what waits in the journal."""
    given = outlet.get("delivered", outlet.get("written", 0))
    reached = {True: "connected", False: "the broker is away"}.get(outlet.get("connected", None), outlet["kind"])
    backlog = outlet["backlog"]
    return f"{reached}, {given} events given, {backlog or 'none'} wait{'s' if backlog == 1 else ''}"


def screen(figures: dict[str, Any]) -> list[str]:
    """Lay the figures out on one screen."""
    hours, minutes = divmod(int(figures["up_s"]) // 60, 60)
    clock = figures["clock"]["state"]
    box = f"neckyoke {figures['version']}, up {hours} h {minutes} min, clock {clock}, {figures['disk_free_mb']} MB free"
    lines = [f"{figures['site']}   {box}", ""]
    for name, station in figures["stations"].items():
        counts, view = station["counts"], station["view"]
        expected = f" of {counts['expected']}" if "expected" in counts else ""
        kg = "—" if view["kg"] is None else f"{view['kg']:.1f} kg"
        lines.append(f"station {name}: {counts['animals']}{expected} animals, sheet {station['sheet'] or 'none'}")
        lines.append(f"    now {kg}, {view['state']}.  {view['next']}")
    lines.append("")
    for name, link in figures["links"].items():
        rejects = sum(link["rejects"].values())
        age = "never" if link["last_byte_age_s"] is None else f"{link['last_byte_age_s']:.0f} s ago"
        counts = f"{link['frames']} frames, {rejects} rejects, last byte {age}"
        lines.append(f"link {name}: {link['state'] or 'not open yet'}, {counts}")
    lines.append("")
    lines += [f"outlet {name}: {_outlet(outlet)}" for name, outlet in figures["outlets"].items()]
    wrong = troubles(figures)
    return [*lines, "", *(f"!  {text}" for text in wrong)] if wrong else [*lines, "", "Nothing is wrong."]
