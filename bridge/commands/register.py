"""`neckyoke register`: every dose that was given, a row each, for whoever audits."""

import argparse
import json
from datetime import date
from pathlib import Path

from neckyoke.bridge.commands.selection import add_selection, selected, turns_of
from neckyoke.bridge.commands.weighings import add_source, opened, parsed, weighing_lines, zone_of
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.many import many

FORMATS = ("csv", "xlsx", "html", "json")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--format", choices=FORMATS, help="what to write (csv, or by the ending of --out)")
    parser.add_argument("--json", dest="format", action="store_const", const="json", help="for a program")
    parser.add_argument("--out", "-o", type=Path, help="the file; standard output without it")
    parser.add_argument("--product", help="only this treatment")
    parser.add_argument("--animal", help="only this animal's, by visual number, tag or former tag")
    add_selection(parser)
    parser.add_argument("--comma", action="store_true", help="318,5 and semicolons, for spreadsheets that expect them")


def run(args: argparse.Namespace) -> int:
    """Write the register and say how many doses are in it."""
    from neckyoke.bridge.job import cautions
    from neckyoke.bridge.reports.doses.register import HEADINGS, doses, for_csv, register_page
    from neckyoke.bridge.reports.export import COMMA, Style
    from neckyoke.bridge.reports.paper.workbook import doses_table
    from neckyoke.bridge.reports.spreadsheet import write_rows, write_workbook

    zone, kind = zone_of(args), _format(args)
    with weighing_lines(args) as lines:
        weighings = list(parsed(iter(selected(lines, args, zone))))
    found = list(doses(weighings, zone, product=args.product, animal=args.animal, turns=turns_of(args)))
    rows = [one.as_dict() for one in found]
    if kind == "xlsx":
        write_workbook(args.out, {"doses": doses_table(found)})
    else:
        with opened(args.out) as out:
            if kind == "json":
                json.dump({"doses": rows, "cautions": [cautions.DOSES]}, out, indent=2)
                out.write("\n")
            elif kind == "html":
                out.write(register_page(found))
            else:
                write_rows(HEADINGS, map(for_csv, rows), out, COMMA if args.comma else Style())
    if args.out is not None:
        print(f"{many(len(rows), 'dose')} in {args.out}")
        print(cautions.DOSES)
    return 0


def _format(args: argparse.Namespace) -> str:
    ending = args.out.suffix.lstrip(".").lower() if args.out else ""
    kind = str(args.format or (ending if ending in FORMATS else "csv"))
    if kind == "xlsx" and args.out is None:
        hint = "Name the file: --out register.xlsx."
        raise ConfigError([Problem(file="register", where="--format", what="xlsx goes into a file", hint=hint)])
    return kind


def day_of(text: str | None, option: str) -> date | None:
    """Read a date.  Raises ConfigError that says how one is written."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        hint = "Write it as 2026-11-28."
        raise ConfigError([Problem(file="neckyoke", where=option, what=f"{text!r} is no date", hint=hint)]) from None
