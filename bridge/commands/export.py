"""`neckyoke export`: weighings for other programs."""

import argparse
from pathlib import Path

from neckyoke.bridge.commands.export_icar import add_icar, export_icar
from neckyoke.bridge.commands.selection import add_selection, selected
from neckyoke.bridge.commands.weighings import add_source, opened, parsed, weighing_lines, zone_of
from neckyoke.bridge.reports.export import (
    COLUMNS,
    COMMA,
    USUAL,
    Style,
    export_columns,
    standing,
    write_csv,
    write_json_lines,
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = "columns: " + ", ".join(COLUMNS) + "\nalso details.KEY, animal.COLUMN, dose.TREATMENT, finding.NAME"
    add_source(parser)
    parser.add_argument("--format", choices=["csv", "jsonl", "icar"], default="csv", help="what to write (csv)")
    parser.add_argument("--out", "-o", type=Path, help="the file (icar: the folder); standard output without it")
    parser.add_argument("--columns", default=",".join(USUAL), help="which columns, in their order, apart by commas")
    parser.add_argument("--comma", action="store_true", help="318,5 and semicolons, for spreadsheets that expect them")
    add_icar(parser)
    add_selection(parser)
    parser.add_argument("--voided", action="store_true", help="struck-out weighings too")


def run(args: argparse.Namespace) -> int:
    """Write the weighings and say how many."""
    columns = args.columns.split(",")
    export_columns(columns)  # a mistake is said before a file is touched
    base = COMMA if args.comma else Style()
    style = Style(base.separator, base.decimal, base.mark, zone_of(args))
    if args.format == "icar" or args.icar is not None:
        return export_icar(args, style.zone)
    with weighing_lines(args) as all_lines:
        lines = iter(selected(all_lines, args, style.zone))
    with opened(args.out) as out:
        if args.format == "jsonl":
            count = write_json_lines(standing(list(parsed(lines)), voided=args.voided), out)
        else:
            count = write_csv(standing(list(parsed(lines)), voided=args.voided), out, columns, style)
    if args.out is not None:
        print(f"{count} rows in {args.out}")
    return 0
