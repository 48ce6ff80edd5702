"""The day as a workbook: weighings, doses and tally, a sheet each; texts as texts, dates as dates, numbers as numbers.

A spreadsheet that opens CSV guesses: 0105 becomes 105, 12E5 becomes 1200000, 3/4 a date.  In a workbook every cell says
what it is, and nothing is guessed.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, time
from typing import Any

from neckyoke.bridge.reports.doses.register import HEADINGS, DoseRow
from neckyoke.bridge.reports.export import Cell, Style, export_columns
from neckyoke.bridge.reports.reading import Data
from neckyoke.bridge.reports.spreadsheet import Table
from neckyoke.bridge.reports.statistics import Figures
from neckyoke.bridge.reports.tally import Tally

DATES = frozenset(
    {"date", "gain_since", "withheld_until", "export_from", "expires", "clear_from_meat", "clear_from_export"}
    | {"animal.last_date", "animal.born", "details.born"}
)
"""Columns of dates, spelled YYYY-MM-DD; whatever else stands in them, such as `unknown`, stays a text."""
MOMENTS = frozenset({"on", "settled", "off"})
"""Columns of moments, in UTC."""
TIMES = frozenset({"time"})


def typed(key: str, value: Any) -> Any:
    """Return a cell's value in the kind that its column is of."""
    if not isinstance(value, str) or not value:
        return value
    try:
        if key in DATES:
            return date.fromisoformat(value)
        if key in TIMES:
            return time.fromisoformat(value)
        if key in MOMENTS:
            return datetime.fromisoformat(value).replace(tzinfo=None, microsecond=0)
    except ValueError:
        return value
    return value


def weighings_table(weighings: Iterable[Data], columns: Sequence[str], style: Style) -> Table:
    """Return the weighings with the columns of the CSV; the style says which clock and which jobs are meant."""
    style = Style(zone=style.zone, turns=style.turns)  # numbers are numbers here, however they are spelled
    chosen: list[tuple[str, Callable[[Data, Style], Cell]]] = export_columns(columns)
    headings = {name: f"{name} (UTC)" if name in MOMENTS else name for name, _ in chosen}
    return headings, [{name: typed(name, column(data, style)) for name, column in chosen} for data in weighings]


def doses_table(rows: Iterable[DoseRow]) -> Table:
    """Return the doses as the register has them."""
    return HEADINGS, [{key: typed(key, value) for key, value in row.as_dict().items()} for row in rows]


def tally_table(tally: Tally) -> Table:
    """Return the counts and figures, each with the number of animals that it rests on."""
    headings = {"of": "of", "figure": "figure", "value": "value", "unit": "unit", "over": "over animals"}
    rows = [_row("all", name.replace("_", " "), count, "", None) for name, count in tally.counts.items()]
    rows += _figures("all", "weight", tally.weight, "kg")
    rows += _figures("all", "gain", tally.gain, "kg/day")
    for pen, one in tally.by_pen.items():
        rows += _figures(f"pen {pen}", "weight", one, "kg")
        rows += _figures(f"pen {pen}", "gain", tally.gain_by_pen.get(pen, Figures(0)), "kg/day")
    for name, values in tally.by_finding.items():
        for value, seen in values.items():
            rows.append(_row(f"{name} {value}", "animals", seen.animals, "", seen.animals))
            rows += _figures(f"{name} {value}", "weight", seen.weight, "kg")
            rows += _figures(f"{name} {value}", "gain", seen.gain, "kg/day")
    for name, used in tally.treatments.items():
        rows.append(_row(name, "given", used.given, "animals", used.given))
        rows.append(_row(name, "not given", used.skipped, "animals", used.skipped))
        rows += [_row(name, "in all", amount, unit, used.given - used.undosed) for unit, amount in used.totals.items()]
    return headings, rows


def _figures(of: str, what: str, one: Figures, unit: str) -> list[Mapping[str, Any]]:
    named = {"mean": one.mean, "median": one.median, "SD": one.sd, "least": one.smallest, "most": one.largest}
    named |= {"total": one.total} if unit == "kg" else {}
    return [
        _row(of, f"{what}, {name}", value, unit, one.count)
        for name, value in named.items()
        if value is not None and one.count
    ]


def _row(of: str, figure: str, value: float | None, unit: str, over: int | None) -> Mapping[str, Any]:
    return {"of": of, "figure": figure, "value": value, "unit": unit, "over": over}
