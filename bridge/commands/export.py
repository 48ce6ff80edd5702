"""`neckyoke export`: weighings for other programs."""

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from neckyoke.bridge.commands.export_icar import add_icar, export_icar
from neckyoke.bridge.commands.selection import add_selection, selected, turns_of
from neckyoke.bridge.commands.weighings import add_source, opened, parsed, weighing_lines, zone_of
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.many import many
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
from neckyoke.bridge.reports.reading import Data

FORMATS = ("csv", "xlsx", "jsonl", "icar")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = "columns: " + ", ".join(COLUMNS) + "\nalso details.KEY, animal.COLUMN, dose.TREATMENT, finding.NAME"
    add_source(parser)
    parser.add_argument("--format", choices=FORMATS, help="what to write (csv, or by the ending of --out)")
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
    kind = _kind(args)
    if kind == "icar" or args.icar is not None:
        return export_icar(args, style.zone)
    with weighing_lines(args) as all_lines:
        texts = selected(all_lines, args, style.zone)
    style = replace(style, turns=turns_of(args))
    rows = list(standing(list(parsed(iter(texts))), voided=args.voided))
    if kind == "xlsx":
        _workbook(args.out, texts, rows, columns, style)
    with opened(None if kind == "xlsx" else args.out) as out:
        if kind == "jsonl":
            write_json_lines(rows, out)
        elif kind == "csv":
            write_csv(rows, out, columns, style)
    if args.out is not None:
        print(f"{many(len(rows), 'row')} in {args.out}")
    return 0


def _kind(args: argparse.Namespace) -> str:
    """Return what is to be written.  Raises ConfigError when that goes into a file and none is named."""
    ending = args.out.suffix.lstrip(".").lower() if args.out else ""
    kind = str(args.format or (ending if ending in FORMATS else "csv"))
    if kind == "xlsx" and args.out is None:
        hint = "Name the file: --out day.xlsx."
        raise ConfigError([Problem(file="export", where="--format", what="xlsx goes into a file", hint=hint)])
    return kind


def _workbook(path: Path, texts: Sequence[str], rows: Sequence[Data], columns: Sequence[str], style: Style) -> None:
    from neckyoke.bridge.reports.doses.register import doses
    from neckyoke.bridge.reports.paper.workbook import doses_table, tally_table, weighings_table
    from neckyoke.bridge.reports.spreadsheet import write_workbook
    from neckyoke.bridge.reports.tally import tally

    write_workbook(
        path,
        {
            "weighings": weighings_table(rows, columns, style),
            "doses": doses_table(doses(parsed(iter(texts)), style.zone, turns=style.turns)),
            "tally": tally_table(tally(texts)),
        },
    )
