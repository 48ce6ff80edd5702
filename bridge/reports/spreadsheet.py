"""Tables as files: CSV, a spreadsheet (.xlsx, extra `sheets`), and rows of HTML.

In a spreadsheet a text is a text and a number a number, so that no program makes 105 of 0105 or a date of 3/4.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any, TextIO

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports.export import Style, cell
from neckyoke.bridge.reports.pictures.svg import escape

DATE = "%Y-%m-%d"


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


def write_workbook(path: Path, tables: Mapping[str, tuple[Mapping[str, str], Sequence[Mapping[str, Any]]]]) -> None:
    """Write an .xlsx of one sheet a table: name to headings (key to heading) and rows.

    Raises ConfigError that says what to install when XlsxWriter is not there.
    """
    try:
        import xlsxwriter
    except ImportError:
        what, hint = ".xlsx needs XlsxWriter", "pip install 'neckyoke[sheets]', or take CSV."
        raise ConfigError([Problem(file=str(path), where="format", what=what, hint=hint)]) from None
    with xlsxwriter.Workbook(str(path), {"strings_to_numbers": False, "strings_to_formulas": False}) as book:
        dated, bold = book.add_format({"num_format": "yyyy-mm-dd"}), book.add_format({"bold": True})
        text = book.add_format({"num_format": "@"})
        for name, (headings, rows) in tables.items():
            sheet = book.add_worksheet(name)
            sheet.write_row(0, 0, list(headings.values()), bold)
            sheet.freeze_panes(1, 0)
            for at, row in enumerate(rows, 1):
                for column, key in enumerate(headings):
                    value = row[key]
                    if value is None:
                        continue
                    if isinstance(value, bool):
                        sheet.write_string(at, column, "yes" if value else "no", text)
                    elif isinstance(value, int | float):
                        sheet.write_number(at, column, value)
                    elif (day := _day(value)) is not None:
                        sheet.write_datetime(at, column, day, dated)
                    else:
                        sheet.write_string(at, column, str(value), text)


def _day(value: Any) -> date | None:
    if isinstance(value, str) and len(value) == 10 and value[4] == value[7] == "-":
        try:
            return date.fromisoformat(value)
        except ValueError:
            return None
    return value if isinstance(value, date) else None


def html_rows(headings: Mapping[str, str], rows: Iterable[Mapping[str, Any]]) -> str:
    """Return a table as HTML; everything a person typed is escaped."""
    top = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in headings.values())
    body = "".join(
        f"<tr>{''.join(f'<td>{escape(cell(row[key], Style()))}</td>' for key in headings)}</tr>" for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
