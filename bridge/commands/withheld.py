"""`neckyoke withheld --on DATE`: every animal that may not go on that day, until when, and because of what."""

import argparse
import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING

from neckyoke.bridge.commands.register import day_of
from neckyoke.bridge.commands.weighings import add_source, book_of, parsed, weighing_lines, zone_of

if TYPE_CHECKING:
    from neckyoke.bridge.reports.doses.withheld import Withheld


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--on", metavar="DATE", help="the day on which they would go (today)")
    parser.add_argument("--export", action="store_true", help="by the dates for export instead of those for meat")
    parser.add_argument("--json", action="store_true", help="for a program")


def run(args: argparse.Namespace) -> int:
    """Print who is withheld."""
    from neckyoke.bridge.job import cautions
    from neckyoke.bridge.reports.doses.withheld import withheld_on

    zone = zone_of(args)
    day = day_of(args.on, "--on") or datetime.now(zone).date()
    with weighing_lines(args) as lines:
        found = withheld_on(list(parsed(lines)), day, zone, "export" if args.export else "meat", book_of(args))
    if args.json:
        shown = {"on": day.isoformat(), "animals": [one.as_dict() for one in found], "cautions": [cautions.DOSES]}
        print(json.dumps(shown, indent=2))
    else:
        print("\n".join([*_told(found, day, export=args.export), cautions.DOSES]))
    return 0


def _told(found: Sequence["Withheld"], day: date, *, export: bool) -> Iterator[str]:
    what = "for export" if export else "for meat"
    if not found:
        yield f"No animal known here is withheld {what} on {day.isoformat()}."
        return
    yield f"{len(found)} withheld {what} on {day.isoformat()}:"
    width = max(6, *(len(one.visual or "") for one in found))
    yield f"{'visual':{width}}  {'tag':16}  {'until':10}  because of"
    for one in found:
        tag = f"{one.tag[:-12]} {one.tag[-12:]}" if one.tag else "no tag"
        reasons = (f"{why.product}{f' of {why.given}' if why.given else ''}" for why in one.because)
        line = f"{one.visual or '':{width}}  {tag:16}  {one.until or 'not known':10}  {', '.join(reasons)}"
        yield f"{line} (was {', '.join(one.former_tags)})" if one.former_tags else line
