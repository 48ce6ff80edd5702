"""Tables as files: CSV, a spreadsheet (.xlsx, extra `sheets`), and rows of HTML.

In a spreadsheet a text is a text and a number a number, so that no program makes 105 of 0105 or a date of 3/4.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, TextIO, TypeAlias

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports.export import Style, cell
from neckyoke.bridge.reports.pictures.svg import escape

Table: TypeAlias = tuple[Mapping[str, str], Sequence[Mapping[str, Any]]]
"""Headings, key to heading, and rows."""


def write_rows(headings: Mapping[str, str], rows: Iterable[Mapping[str, Any]], out: TextIO, style: Style) -> int:
    """Write a table as CSV and return how many rows.  `out` is opened with newline=""."""
    if style.mark:
        out.write("\N{BYTE ORDER MARK}")
    writer = csv.writer(out, delimiter=style.separator, lineterminator="\r\n")
    writer.writerow(headings.values())
    count = 0
    for row in rows:
        writer.writerow([cell(row[key], style) for key in headings])
        count += 1
    return count


def write_workbook(path: Path, tables: Mapping[str, Table]) -> None:
    """Write an .xlsx of one sheet a table, by its name; every cell is of the kind that its value is of.

    Raises ConfigError that says what to install when XlsxWriter is not there.
    """
    try:
        import xlsxwriter
    except ImportError:
        what, hint = ".xlsx needs XlsxWriter", "pip install 'neckyoke[sheets]', or take CSV."
        raise ConfigError([Problem(file=str(path), where="format", what=what, hint=hint)]) from None
    with xlsxwriter.Workbook(str(path), {"strings_to_numbers": False, "strings_to_formulas": False}) as book:
        bold = book.add_format({"bold": True})
        looks = {kind: book.add_format({"num_format": look}) for kind, look in LOOKS.items()}
        for name, (headings, rows) in tables.items():
            sheet = book.add_worksheet(name)
            for column, heading in enumerate(headings.values()):
                sheet.write_string(0, column, heading, bold)
            sheet.freeze_panes(1, 0)
            for at, row in enumerate(rows, 1):
                for column, key in enumerate(headings):
                    _write(sheet, at, column, row[key], looks)
            sheet.autofit()


LOOKS = {str: "@", date: "yyyy-mm-dd", datetime: "yyyy-mm-dd hh:mm:ss", time: "hh:mm:ss"}


def _write(sheet: Any, at: int, column: int, value: Any, looks: Mapping[type, Any]) -> None:
    match value:
        case None:
            return
        case bool():
            sheet.write_string(at, column, "yes" if value else "no", looks[str])
        case int() | float():
            sheet.write_number(at, column, value)
        case datetime() | date() | time():
            sheet.write_datetime(at, column, value, looks[type(value)])
        case _:
            sheet.write_string(at, column, str(value), looks[str])


def html_rows(headings: Mapping[str, str], rows: Iterable[Mapping[str, Any]]) -> str:
    """Return a table as HTML; everything a person typed is escaped."""
    top = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in headings.values())
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(cell(row[key], Style()))}</td>' for key in headings)}</tr>" for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
