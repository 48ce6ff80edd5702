"""A CSV file as spreadsheets write it, whatever the separator and encoding, its rows numbered as they show them."""

import csv
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.config.words import column_name

UNPACKED_MAX = 64 << 20
"""Bytes that a workbook may unpack to: some hundred thousand rows."""
WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How zip archives (ISO/IEC 29500 and 26300 workbooks are such) and compound files begin (PRONOM fmt/189, fmt/111)."""


@dataclass(frozen=True, slots=True)
class Csv:
    """A table of text.  `header` holds the column names as `column_name` spells them; row 1 is the header.

    `numbers` are those of the rows where it is a part of a file; of a whole one they follow the header.
    """

    path: Path
    header: tuple[str, ...]
    rows: tuple[list[str], ...]
    numbers: tuple[int, ...] = ()

    @property
    def numbered(self) -> Iterator[tuple[int, list[str]]]:
        """The rows with the number a spreadsheet shows beside each."""
        return zip(self.numbers, self.rows, strict=True) if self.numbers else enumerate(self.rows, 2)


def read_table(path: Path) -> Csv:
    """Read a table, CSV or .xlsx.  Raises ConfigError when the file is missing, unreadable or empty."""
    return read_xlsx(path) if path.suffix.casefold() == ".xlsx" else read_csv(path)


def read_xlsx(path: Path) -> Csv:
    """Read the first sheet of an .xlsx.  Raises ConfigError as `read_csv` does, and when openpyxl is not there."""
    try:
        import openpyxl
    except ImportError:
        raise _unusable(
            path, "is .xlsx, which needs openpyxl", "pip install 'neckyoke[sheets]', or save CSV."
        ) from None
    _look_before_unpacking(path)
    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except FileNotFoundError:
        raise _unusable(path, "there is no such file", "Give the path of a CSV or .xlsx file.") from None
    except Exception as error:  # noqa: BLE001  # whatever a broken archive makes it raise
        raise _unusable(path, f"is no .xlsx: {error}", "Save it again from the spreadsheet, or as CSV.") from None
    try:
        sheet = book.worksheets[0]
        return _table(path, [[_spelled(value) for value in row] for row in sheet.iter_rows(values_only=True)])
    finally:
        book.close()


def _look_before_unpacking(path: Path) -> None:
    """Refuse a workbook that is far larger than it looks: a box has little memory, and a mob has few rows."""
    try:
        with zipfile.ZipFile(path) as archive:
            size = sum(part.file_size for part in archive.infolist())
    except (OSError, zipfile.BadZipFile, ValueError):
        return  # said by who reads it
    if size > UNPACKED_MAX:
        raise _unusable(path, f"unpacks to {size >> 20} MiB", "Save only the sheet with the animals, or CSV.")


def _spelled(value: object) -> str:
    """Spell a cell's value as CSV would: whole numbers whole, dates as dates."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time.min else value.isoformat(sep=" ")
    return str(value)


def read_csv(path: Path) -> Csv:
    """Read a table.  Raises ConfigError when the file is missing, unreadable or empty."""
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (
            "there is no such file" if isinstance(error, FileNotFoundError) else f"cannot be read: {error.strerror}"
        )
        raise _unusable(path, reason, "Give the path of a CSV file.") from None
    if data.startswith(WORKBOOKS):
        raise _unusable(path, "is a spreadsheet program's own file", "Save it from there as CSV.")
    text = _decode(data).replace("\0", "")
    first = next((line for line in text.splitlines() if line.strip()), "")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=_separator(first)))
    except csv.Error as error:
        raise _unusable(path, f"is no CSV: {error}", "Save it from the spreadsheet as CSV.") from None
    return _table(path, rows)


def _table(path: Path, rows: list[list[str]]) -> Csv:
    head = next((place for place, row in enumerate(rows) if any(cell.strip() for cell in row)), None)
    if head is None:
        raise _unusable(path, "is empty", "The first row names the columns: tag,visual,…")
    header = tuple(column_name(cell) if cell.strip() else "" for cell in rows[head])
    return Csv(path, header, tuple([[]] * head + rows[head + 1 :]))


def _unusable(path: Path, what: str, hint: str) -> ConfigError:
    return ConfigError([Problem(file=str(path), where="file", what=what, hint=hint)])


def _decode(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _separator(line: str) -> str:
    """Find what parts the header's names: the commonest of comma, semicolon and tab."""
    return max(",;\t", key=line.count)
