"""`neckyoke tally`: the day counted up, or one animal's own page."""

import argparse
import json
import sys
from datetime import datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

from neckyoke.bridge.commands.selection import add_selection
from neckyoke.bridge.commands.weighings import add_source, book_of, parsed, weighing_lines, zone_of
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.load import expected_by, load_job
from neckyoke.bridge.reports.paper.lists import NAMED

if TYPE_CHECKING:
    from neckyoke.bridge.commands.counted import Counted
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
    parser.add_argument(
        "--leaders",
        type=int,
        metavar="N",
        help="who is heaviest, lightest, gained most and least: so many, of all, each pen and finding",
    )
    parser.add_argument(
        "--against", metavar="J", help="beside another job of the mob, by its number or id, or the one before: before"
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
    from neckyoke.bridge.commands.counted import counted
    from neckyoke.bridge.reports.paper.lists import told
    from neckyoke.bridge.reports.show import as_json, as_text

    zone = zone_of(args)
    job = load_job(args.sheet, datetime.now(zone).date()) if args.sheet else None
    sheet = job.sheet if job else None
    draw = _picture(args.picture) if args.picture else None
    since, until = moment(args.since, "--since", zone), moment(args.until, "--until", zone)
    found = counted(args, expected_by(job), since, until)
    if args.against:
        return _against(args, found)
    if args.html:
        from neckyoke.bridge.reports.page_report import html

        page = html(found.tally, sheet, zone=zone, about=found.about(), growth=found.growth())
        args.html.write_text(page, encoding="utf-8")
    if draw:
        args.picture.write_text(draw(found.tally, found.growth()), encoding="utf-8")
    if args.json:
        print(json.dumps(as_json(found.tally, sheet, args.leaders or NAMED), indent=2))
        return 0
    print(as_text(found.tally, sheet, zone), end="")
    if args.leaders:
        print("\n" + "\n".join(told(found.tally, args.leaders)))
    return 0


def _against(args: argparse.Namespace, found: "Counted") -> int:
    """Tell the job beside another of its mob."""
    from neckyoke.bridge.reports.paper.against import against, as_json, told
    from neckyoke.bridge.reports.selection.mobs import mob_of

    other, tally = found.against(args.against)
    compared = against(tally, found.tally, found.zone, found.root)
    if args.json:
        print(json.dumps(as_json(compared), indent=2))
        return 0
    mobs = [mob_of(work, found.said) for work in (other, found.work) if work]
    if len(set(mobs)) > 1:
        print(f"these are two mobs: {' and '.join(mob or 'one without a name' for mob in mobs)}")
    now = found.work.name if found.work else "now"
    print("\n".join(told(compared, other.name, now)))
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
    from neckyoke.bridge.job.roster.tags import digits
    from neckyoke.bridge.job.sheet import load_sheet
    from neckyoke.bridge.reports.history import is_named, page_of
    from neckyoke.bridge.reports.reading import latest

    book, zone = book_of(args), zone_of(args)
    table = load_sheet(args.sheet).dam_age_rows if args.sheet else DAM_AGES
    known = [one for one in (book.by_tag(digits(args.animal)),) if one] or book.by_visual(args.animal)
    mine = set(book.group(known[0].animal)) if len(known) == 1 else set()
    with weighing_lines(args) as lines:
        found = [
            data
            for data in latest(list(parsed(lines)))
            if (data.get("animal") or {}).get("id") in mine or is_named(data, args.animal)
        ]
    text = page_of(found, table, zone)
    if text is None:
        print(f"no weighing names {args.animal}", file=sys.stderr)
        return 1
    if args.html:
        from neckyoke.bridge.reports.paper.animal_page import animal_page

        marks = known[0].marks if len(known) == 1 else ()
        args.html.write_text(animal_page(found, marks, zone), encoding="utf-8")
    print(text, end="")
    return 0
