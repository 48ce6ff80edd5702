"""What one cell of a roster says: tags, dates, weights, ages; each reader raises CellError with a remedy."""

import re
from collections.abc import Callable, Iterable
from datetime import date, datetime
from typing import Any, TypeAlias

from neckyoke.bridge.config.words import column_name
from neckyoke.protocols.readings import KG_PER
from neckyoke.protocols.tagcode import NATIONAL_MAX

Cell: TypeAlias = Callable[[str], Any]
"""Reads the text of a cell.  Raises CellError."""

HEAVIEST_KG = 3000.0
OLDEST_YEAR = 1970
SHAPES = ("%Y-%m-%d", "%Y/%m/%d", "%d %b %Y", "%d %B %Y", "%d-%b-%Y", "%d-%b-%y")
"""Dates that can be read in one way only."""


class CellError(ValueError):
    """A cell cannot be used: what is wrong, and what would be right."""

    def __init__(self, what: str, hint: str = "") -> None:
        super().__init__(what)
        self.what, self.hint = what, hint


def digits(text: str) -> str:
    """Drop what people and programs put between or around the digits of a tag."""
    return re.sub(r"[\s._'\"=/-]", "", text)


def tag(text: str) -> str:
    """Read a tag's 15 digits (16 for a code above 999), however they are spaced."""
    if re.fullmatch(r"[0-9.,]+e\+?[0-9]+", text, re.IGNORECASE):
        hint = "A spreadsheet cut it to a number: format the column as text and fill it in again."
        raise CellError(f"{text!r} has lost digits", hint)
    found = digits(text)
    if not re.fullmatch(r"[0-9]+", found):
        raise CellError(f"{text!r} is no tag number", "A tag is 15 digits, such as 999000000112233.")
    if len(found) not in {15, 16}:
        hint = "Zeros in front may have been lost: format the column as text."
        raise CellError(f"{text!r} has {len(found)} digits, not 15", hint)
    if int(found[-12:]) > NATIONAL_MAX:
        raise CellError(f"{text!r} is larger than any tag can hold", "Look at the last twelve digits.")
    return found


def tags(text: str) -> tuple[str, ...]:
    """Read several tags, parted by commas, semicolons, bars or line breaks; each as `tag` reads one."""
    return tuple(tag(one) for one in re.split(r"[,;|\n]+", text) if one.strip())


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
        raise CellError(f"{text!r} can be read in two ways", hint)
    if match:
        text = "/".join(match.groups())
    for shape in ("%m/%d/%Y" if first is False else "%d/%m/%Y", *SHAPES):
        try:
            found = datetime.strptime(text, shape).date()  # noqa: DTZ007  a date has no time zone
        except ValueError:
            continue
        if found.year < OLDEST_YEAR:
            raise CellError(f"{text!r} is before {OLDEST_YEAR}", hint)
        return found
    raise CellError(f"{text!r} is no date", hint)


def weight(text: str, unit: str) -> float:
    """Read a weight of a column in kg or lb and give kilograms, to a thousandth."""
    match = re.fullmatch(r"([0-9]+(?:[.,][0-9]+)?)\s*([a-z]*)", text.casefold())
    if not match:
        raise CellError(f"{text!r} is no weight", "Write a number such as 318.5.")
    said = {"": unit, "kg": "kg", "kgs": "kg", "lb": "lb", "lbs": "lb"}.get(match[2])
    if said != unit:
        hint = "One unit a column: make columns such as last_kg and last_lb."
        raise CellError(f"{text!r} is not in {unit}, as its column says", hint)
    kg = float(match[1].replace(",", ".")) * KG_PER[unit]
    if not 0 < kg <= HEAVIEST_KG:
        raise CellError(f"{text!r} is no animal's weight", "Write a number such as 318.5.")
    return round(kg, 3)


def years(text: str) -> float:
    """Read an age in years."""
    try:
        age = float(text.replace(",", "."))
    except ValueError:
        age = -1
    if not 0 < age <= 30:
        raise CellError(f"{text!r} is no age in years", "Write a number such as 3.")
    return age


def dated(column: str) -> tuple[str, date] | None:
    """Take apart the name of a column of weights of one day, such as kg_2026-03-01."""
    match = re.fullmatch(r"(?:weight_)?(kg|lb)_([0-9]{4})_([0-9]{2})_([0-9]{2})", column_name(column))
    try:
        return (match[1], date(int(match[2]), int(match[3]), int(match[4]))) if match else None
    except ValueError:
        return None
