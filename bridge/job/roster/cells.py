"""What one cell of a roster says: dates, weights, ages; each reader raises CellError with a remedy."""

import re
from collections.abc import Callable, Iterable
from datetime import date, datetime
from typing import Any, TypeAlias

from neckyoke.bridge.config.words import column_name
from neckyoke.bridge.job.roster.cell_error import CellError
from neckyoke.protocols.readings import KG_PER

Cell: TypeAlias = Callable[[str], Any]
"""Reads the text of a cell.  Raises CellError."""

HEAVIEST_KG = 3000.0
OLDEST_YEAR = 1970
SHAPES = ("%Y-%m-%d", "%Y/%m/%d", "%d %b %Y", "%d %B %Y", "%d-%b-%Y", "%d-%b-%y")
"""Dates that can be read in one way only."""


def days_first(texts: Iterable[str]) -> bool | None:
    """Find out from a file's dates whether 3/4/2026 is 3 April (True) or 4 March (False); None when nothing tells."""
    for text in texts:
        match = re.match(r"([0-9]{1,2})[/.-]([0-9]{1,2})[/.-][0-9]{4}", text)
        if match and int(match[1]) > 12:
            return True
        if match and int(match[2]) > 12:
            return False
    return None


def day(text: str, *, first: bool | None = None) -> date:
    """Read a date: 2026-03-28, 28 Mar 2026, or 28/3/2026 with `first` from `days_first`."""
    hint = "Write it as YYYY-MM-DD, such as 2026-03-28."
    text = re.split(r"[T ]00:00", text)[0]
    match = re.fullmatch(r"([0-9]{1,2})[/.-]([0-9]{1,2})[/.-]([0-9]{4})", text)
    if match and first is None and match[1] != match[2]:
        raise CellError(f"{text!r} can be read in two ways", hint, "can be read in two ways")
    if match:
        text = "/".join(match.groups())
    for shape in ("%m/%d/%Y" if first is False else "%d/%m/%Y", *SHAPES):
        try:
            found = datetime.strptime(text, shape).date()  # noqa: DTZ007  a date has no time zone
        except ValueError:
            continue
        if found.year < OLDEST_YEAR:
            raise CellError(f"{text!r} is before {OLDEST_YEAR}", hint, "is before OLDEST_YEAR")
        return found
    raise CellError(f"{text!r} is no date", hint, "is no date")


def weight(text: str, unit: str) -> float:
    """Read a weight of a column in kg or lb and return kilograms, to a thousandth."""
    match = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)\s*([a-z]*)", text.casefold())
    if not match:
        raise CellError(f"{text!r} is no weight", "Write a number such as 318.5.", "is no weight")
    said = {"": unit, "kg": "kg", "kgs": "kg", "lb": "lb", "lbs": "lb"}.get(match[2])
    if said != unit:
        hint = "One unit a column: make columns such as last_kg and last_lb."
        raise CellError(f"{text!r} is not in {unit}, as its column says", hint, "is not in unit, as its column says")
    kg = float(match[1].replace(",", ".")) * KG_PER[unit]
    if not 0 < kg <= HEAVIEST_KG:
        raise CellError(f"{text!r} is no animal's weight", "Write a number such as 318.5.", "is no animal's weight")
    return round(kg, 3)


def years(text: str) -> float:
    """Read an age in years."""
    try:
        age = float(text.replace(",", "."))
    except ValueError:
        age = -1
    if not 0 < age <= 30:
        raise CellError(f"{text!r} is no age in years", "Write a number such as 3.", "is no age in years")
    return age


def dated(column: str) -> tuple[str, date] | None:
    """Take apart the name of a column of weights of one day, such as kg_2026-03-01."""
    match = re.fullmatch(r"(?:weight_)?(kg|lb)_([0-9]{4})_([0-9]{2})_([0-9]{2})", column_name(column))
    try:
        return (match[1], date(int(match[2]), int(match[3]), int(match[4]))) if match else None
    except ValueError:
        return None
