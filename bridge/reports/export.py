"""Weighings out for other programs: CSV with columns of the person's choice, and JSON Lines.

Of each weighing the highest revision is exported.  Struck-out ones are left out unless asked for.

`number` is the job's, as a person reads and says it everywhere, and `job` says whose; of a weighing in no job it is the
station's, and `job` is empty.  `station_number` is always the station's.

A spreadsheet reads a tag's fifteen digits as a number and shows, then saves, 9.99E+14.  So `tag` is spelled as readers
print it, three digits, a space, twelve digits: text to any program.  `tag_digits` has them bare, for programs that know
better.  Text that a spreadsheet would run (it begins with = + - @ or a control character) gets an apostrophe in front;
numbers, negative ones too, stay as they are (OWASP, "CSV injection").
"""

import csv
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from typing import Any, TextIO, TypeAlias

from neckyoke.bridge.config.problems import ConfigError, Problem, nearest
from neckyoke.bridge.job.doses.dosing import named_unit
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.reports.reading import Data, amount_of, is_paused, is_void, job_called, latest, spell_values

Cell: TypeAlias = str | float | int | None
RUN = frozenset("=+-@\uff1d\uff0b\uff0d\uff20")
"""What makes a spreadsheet take a text for a formula, the full-width forms too."""


@dataclass(frozen=True, slots=True)
class Style:
    """How a CSV file is spelled.  `mark` writes the byte-order mark by which some spreadsheets know UTF-8.

    `zone` is that of the columns date and time; all other times are UTC.  `turns` has each job's number by its id.
    """

    separator: str = ","
    decimal: str = "."
    mark: bool = False
    zone: tzinfo = UTC
    turns: Mapping[str, int] = field(default_factory=dict)

    def local(self, moment: str) -> datetime:
        """Return a moment as an event spells it on the clock of the columns."""
        return datetime.fromisoformat(moment).astimezone(self.zone)


COMMA = Style(separator=";", decimal=",", mark=True)
"""For spreadsheets of countries that write 318,5."""


def _tag(data: Data, _: Style) -> Cell:
    digits = _tag_digits(data, _)
    return f"{str(digits)[:-12]} {str(digits)[-12:]}" if digits else None


def _tag_digits(data: Data, _: Style) -> Cell:
    return data["tag"]["id"] if data.get("tag") else None


def _job(data: Data, style: Style) -> Cell:
    return job_called(data, style.turns)


def _weight(key: str) -> Callable[[Data, Style], Cell]:
    return lambda data, _: data["weight"].get(key)


def _plain(key: str) -> Callable[[Data, Style], Cell]:
    return lambda data, _: data.get(key)


def _gain(key: str) -> Callable[[Data, Style], Cell]:
    return lambda data, _: (data.get("gain") or {}).get(key)


def _latest_of(key: str) -> Callable[[Data, Style], Cell]:
    return lambda data, _: longest(one.get(key) for one in data.get("treatments", ()) if not one.get("skipped"))


def _joined(key: str) -> Callable[[Data, Style], Cell]:
    return lambda data, _: "; ".join(data.get(key, ())) or None


def _treatments(data: Data, style: Style) -> Cell:
    told = []
    for one in data.get("treatments", ()):
        amount, unit = amount_of(one)
        known = None if amount is None else f"{_number(amount, style)} {named_unit(amount, unit)}"
        dose = "skipped" if one.get("skipped") else known
        told.append(f"{one['name']} {dose}" if dose else one["name"])
    return "; ".join(told) or None


def _findings(data: Data, _: Style) -> Cell:
    told = (f"{one['name']} {', '.join(spell_values(one['value']))}" for one in data.get("findings", ()))
    return "; ".join(told) or None


COLUMNS: Mapping[str, Callable[[Data, Style], Cell]] = {
    "number": lambda data, _: data.get("job_number") or data["number"],
    "date": lambda data, style: style.local(data["on"]).date().isoformat(),
    "time": lambda data, style: style.local(data["on"]).strftime("%H:%M:%S"),
    "tag": _tag,
    "tag_digits": _tag_digits,
    "visual": lambda data, _: (data.get("animal") or {}).get("visual"),
    "kg": _weight("kg"),
    "grade": _weight("grade"),
    "pen": _plain("pen"),
    "gain_kg_per_day": _gain("kg_per_day"),
    "gain_kg": _gain("kg"),
    "gain_days": _gain("days"),
    "gain_since": _gain("since"),
    "treatments": _treatments,
    "withheld_until": _latest_of("withheld_until"),
    "export_from": _latest_of("export_from"),
    "findings": _findings,
    "flags": _joined("flags"),
    "notes": _joined("notes"),
    "sheet": _plain("sheet"),
    "station": _plain("station"),
    "job": _job,
    "station_number": _plain("number"),
    "first_kg": _weight("first_kg"),
    "spread_kg": _weight("spread_kg"),
    "zero_kg": _weight("zero_kg"),
    "zero_moved_kg": _weight("zero_moved_kg"),
    "readings": _weight("readings"),
    "span_s": _weight("span_s"),
    "restlessness_percent": _weight("restlessness_percent"),
    "on": _plain("on"),
    "settled": _plain("settled"),
    "off": _plain("off"),
    "clock": _plain("clock"),
    "weighing": _plain("weighing"),
    "revision": _plain("revision"),
    "why": _plain("why"),
}
"""Columns by name.  Beside these there are `details.KEY`, `animal.COLUMN`, `dose.TREATMENT` and `finding.NAME`."""

USUAL = (
    *("number", "date", "time", "tag", "visual", "kg", "grade", "pen", "gain_kg_per_day"),
    *("treatments", "withheld_until", "export_from", "findings", "flags", "notes", "sheet", "station", "job"),
)
"""What is written when nobody chose."""


def export_columns(names: Sequence[str]) -> list[tuple[str, Callable[[Data, Style], Cell]]]:
    """Find the columns a person named, in their order.  Raises ConfigError naming the nearest to one not known."""
    chosen = []
    for name in names:
        kind, dot, key = name.strip().partition(".")
        if dot and kind in {"details", "animal"}:
            chosen.append((name, _below(kind, key)))
        elif dot and kind == "dose":
            chosen.append((name, _dose(key)))
        elif dot and kind == "finding":
            chosen.append((name, _finding(key)))
        elif kind in COLUMNS and not dot:
            chosen.append((kind, COLUMNS[kind]))
        else:
            hint = f"{nearest(name, COLUMNS)} Also details.KEY, animal.COLUMN, dose.TREATMENT and finding.NAME."
            raise ConfigError([Problem(file="export", where="columns", what=f"there is no column {name!r}", hint=hint)])
    return chosen


def _below(part: str, key: str) -> Callable[[Data, Style], Cell]:
    return lambda data, _: (data.get(part) or {}).get(key)


def _dose(treatment: str) -> Callable[[Data, Style], Cell]:
    def dose(data: Data, _: Style) -> Cell:
        return next((amount_of(one)[0] for one in data.get("treatments", ()) if one["name"] == treatment), None)

    return dose


def _finding(name: str) -> Callable[[Data, Style], Cell]:
    def finding(data: Data, _: Style) -> Cell:
        value = next((one["value"] for one in data.get("findings", ()) if one["name"] == name), None)
        return "; ".join(spell_values(value)) if isinstance(value, list | tuple) else value

    return finding


def standing(weighings: Iterable[Data], *, voided: bool = False) -> Iterator[Data]:
    """Return what is to be exported: of each weighing the newest; struck-out and paused ones only when asked for."""
    return (data for data in latest(weighings) if voided or not (is_void(data) or is_paused(data)))


def write_csv(weighings: Iterable[Data], out: TextIO, columns: Sequence[str] = USUAL, style: Style = Style()) -> int:
    """Write a table of weighings (`standing`) and return how many.  `out` is opened with newline=""."""
    chosen = export_columns(columns)
    if style.mark:
        out.write("\N{BYTE ORDER MARK}")
    writer = csv.writer(out, delimiter=style.separator, lineterminator="\r\n")
    writer.writerow([_safe(name) for name, _ in chosen])
    count = 0
    for data in weighings:
        writer.writerow([cell(column(data, style), style) for _, column in chosen])
        count += 1
    return count


def write_json_lines(weighings: Iterable[Data], out: TextIO) -> int:
    """Write the data of each weighing as one line of JSON and return how many."""
    count = 0
    for data in weighings:
        out.write(json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n")
        count += 1
    return count


def cell(value: Any, style: Style) -> str:
    """Return a value as a table shows it: a number with the style's mark, a text that no spreadsheet runs."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return _number(value, style) if isinstance(value, int | float) else _safe(str(value))


def _number(value: float, style: Style) -> str:
    text = repr(value)
    text = text.removesuffix(".0")
    return text.replace(".", style.decimal)


def _safe(text: str) -> str:
    """Keep a spreadsheet from running a text; what is plainly a number is one."""
    text = re.sub(r"[\x00-\x09\x0b-\x1f\x7f]", " ", text)
    if text.lstrip()[:1] in RUN and not re.fullmatch(r"[-+][0-9]+([.,][0-9]+)?", text):
        return f"'{text}"
    return text
