"""`neckyoke summary`: the day in a dozen plain lines, for a message to the office."""

import argparse
import json
from datetime import datetime
from pathlib import Path

from neckyoke.bridge.commands.selection import add_selection
from neckyoke.bridge.commands.weighings import add_source, zone_of
from neckyoke.bridge.job.load import expected_by, load_job


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--sheet", type=Path, metavar="FILE", help="the job sheet: who was expected and not seen")
    add_selection(parser)


def run(args: argparse.Namespace) -> int:
    """Print the lines."""
    from neckyoke.bridge.commands.counted import counted
    from neckyoke.bridge.reports.paper.summary import summary

    job = load_job(args.sheet, datetime.now(zone_of(args)).date()) if args.sheet else None
    found = counted(args, expected_by(job))
    lines = summary(found.tally, found.about(), found.zone)
    print(json.dumps({"summary": lines}, ensure_ascii=False) if args.json else "\n".join(lines))
    return 0
