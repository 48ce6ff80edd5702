"""`neckyoke jobs`: the jobs that were done, the latest last."""

import argparse
import json

from neckyoke.bridge.commands.selection import turns_of
from neckyoke.bridge.commands.weighings import add_source, weighing_lines, zone_of
from neckyoke.bridge.reports.selection.works import Work, works_of
from neckyoke.bridge.reports.tally import Count

LAST = 20


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--all", action="store_true", help=f"all, not only the last {LAST}")


def run(args: argparse.Namespace) -> int:
    """List them."""
    zone, count = zone_of(args), Count()
    with weighing_lines(args) as lines:
        for line in lines:
            count.add_line(line)
    found = works_of(count.rows(), zone, turns_of(args))
    if args.json:
        print(json.dumps([one.as_dict() for one in found], indent=2))
        return 0
    if not found:
        print("No job yet: the first animal begins one, or: neckyoke tell begin sheet.toml")
    for one in found if args.all else found[-LAST:]:
        print(_told(one))
    return 0


def _told(one: Work) -> str:
    """Spell one job in a line."""
    span = f"{one.first:%Y-%m-%d %H:%M} to {one.last:%H:%M}"
    many = f"{one.animals} animal{'' if one.animals == 1 else 's'}"
    return f"{one.name:>10}  {one.station:<8}  {span}  {many:>12}  {one.title or 'no sheet'}"
