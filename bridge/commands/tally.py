"""`neckyoke tally`: the day counted up, or one animal's own page."""

import argparse
import json
import sys
from dataclasses import replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from neckyoke.bridge.commands.selection import add_selection, job_events, selection_of, turns_of
from neckyoke.bridge.commands.weighings import add_source, parsed, weighing_lines, zone_of
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.load import load_job

if TYPE_CHECKING:
    from neckyoke.bridge.reports.drawn import Draw


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument(
        "--sheet", type=Path, metavar="FILE", help="the job sheet: who was not seen, its shrink and dam ages"
    )
    parser.add_argument("--since", metavar="WHEN", help="only stays begun from then on: 2026-11-24 or 2026-11-24T06:00")
    parser.add_argument("--until", metavar="WHEN", help="only stays begun before then")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write the day as one printable page")
    parser.add_argument(
        "--picture",
        type=Path,
        metavar="FILE",
        help="draw one picture, by the file's name: weights.svg, then-and-now.svg, gains.svg or mob.svg",
    )
    add_selection(parser)
    parser.add_argument("--animal", metavar="TAG", help="one animal's page instead, by tag or visual number")


def moment(text: str | None, option: str, zone: tzinfo) -> str | None:
    """Spell a moment as events do.  A date without a time is its midnight here; without a zone, the farm's."""
    if text is None:
        return None
    from neckyoke.bridge.events import spell_time

    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        what, hint = f"{text!r} is no date or time", "Write 2026-11-24 or 2026-11-24T06:00."
        raise ConfigError([Problem(file="tally", where=option, what=what, hint=hint)]) from None
    return spell_time(when.replace(tzinfo=zone) if when.tzinfo is None else when)


def run(args: argparse.Namespace) -> int:
    """Count up and tell it as asked."""
    if args.animal:
        return _animal(args)
    from neckyoke.bridge.reports.selection.mobs import growth, jobs_said, mob_picked
    from neckyoke.bridge.reports.selection.works import picker
    from neckyoke.bridge.reports.show import as_json, as_text
    from neckyoke.bridge.reports.tally import Count

    zone = zone_of(args)
    job = load_job(args.sheet, datetime.now(zone).date()) if args.sheet else None
    sheet = job.sheet if job else None
    expected = [animal.key for animal in job.roster.animals] if job and job.roster else None
    since, until = moment(args.since, "--since", zone), moment(args.until, "--until", zone)
    draw = _picture(args.picture) if args.picture else None
    count, selection = Count(since=since, until=until), selection_of(args)
    with weighing_lines(args) as lines:
        for line in lines:
            count.add_line(line)
    timed = since is not None or until is not None
    rows, selection = count.rows(), replace(selection, everything=selection.everything or timed)
    pick = picker(rows, selection, zone, turns_of(args)) if rows else lambda _: True
    found = count.tally(expected, pick)
    if args.html:
        from neckyoke.bridge.reports.page_report import html

        args.html.write_text(html(found, sheet, zone=zone), encoding="utf-8")
    if draw:
        said = jobs_said(job_events(args))
        grown = growth(rows, mob_picked(rows, pick, said, zone), said, zone)
        args.picture.write_text(draw(found, grown), encoding="utf-8")
    print(
        json.dumps(as_json(found, sheet), indent=2) if args.json else as_text(found, sheet, zone), end="\n" * args.json
    )
    return 0


def _picture(path: Path) -> "Draw":
    """Return what draws the picture that a file is named after.  Raises ConfigError when it is to be no SVG."""
    from neckyoke.bridge.reports.drawn import PICTURES

    if path.suffix.casefold() != ".svg":
        what, hint = "pictures are SVG", f"Name it {path.stem}.svg; a browser shows it, and saves it as PNG or PDF."
        raise ConfigError([Problem(file=str(path), where="picture", what=what, hint=hint)])
    return PICTURES.get(path.stem.casefold(), PICTURES["weights"])


def _animal(args: argparse.Namespace) -> int:
    from neckyoke.bridge.job.growth import DAM_AGES
    from neckyoke.bridge.job.sheet import load_sheet
    from neckyoke.bridge.reports.history import page

    table = load_sheet(args.sheet).dam_age_rows if args.sheet else DAM_AGES
    with weighing_lines(args) as lines:
        text = page(args.animal, list(parsed(lines)), table, zone_of(args))
    if text is None:
        print(f"no weighing names {args.animal}", file=sys.stderr)
        return 1
    print(text, end="")
    return 0
