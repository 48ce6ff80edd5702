"""`neckyoke withheld --on DATE`: every animal that may not go on that day, until when, and because of what."""

import argparse
import json
from datetime import datetime

from neckyoke.bridge.commands.register import day_of
from neckyoke.bridge.commands.weighings import add_source, book_of, parsed, weighing_lines, zone_of


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--on", metavar="DATE", help="the day on which they would go (today)")
    parser.add_argument("--export", action="store_true", help="by the dates for export instead of those for meat")
    parser.add_argument("--json", action="store_true", help="for a program")


def run(args: argparse.Namespace) -> int:
    """Print who is withheld."""
    from neckyoke.bridge.job import cautions
    from neckyoke.bridge.reports.doses.withheld import told, withheld_on

    zone = zone_of(args)
    day = day_of(args.on, "--on") or datetime.now(zone).date()
    with weighing_lines(args) as lines:
        found = withheld_on(list(parsed(lines)), day, zone, "export" if args.export else "meat", book_of(args))
    if args.json:
        shown = {"on": day.isoformat(), "animals": [one.as_dict() for one in found], "cautions": [cautions.DOSES]}
        print(json.dumps(shown, indent=2))
    else:
        print("\n".join([*told(found, day, "export" if args.export else "meat"), cautions.DOSES]))
    return 0
