"""One animal's line: its weights in time, what it was given and how it was marked on the same days."""

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import NamedTuple

from neckyoke.bridge.reports.pictures.svg import (
    CHAR,
    INK,
    LEFT,
    QUIET,
    RIGHT,
    WIDTH,
    Scale,
    dot,
    joined,
    label,
    line,
    nothing,
    paragraph,
    picture,
    spell_many,
    ticks,
    under,
    upright,
)

FLOOR, CEILING = 170, 20
MOST_ROWS = 3
MOST_LINES = 24
"""Things told under the picture; earlier ones stand in the animal's list."""


class Weighed(NamedTuple):
    """A weight of the animal, kg; one that is not sure is hollow and on no line."""

    day: date
    kg: float
    sure: bool = True


class Told(NamedTuple):
    """Something of a day: a dose given, or a mark; `until` is the last day on which a mark holds."""

    day: date
    text: str
    mark: bool = False
    until: date | None = None


def animal_line(name: str, weights: Sequence[Weighed], told: Sequence[Told] = ()) -> str:
    """Draw an animal's weights; doses stand below as numbers, marks as bars, and are told under the picture."""
    title = f"Weights of {name}"
    if not weights:
        return nothing(title, "no weights yet")
    weights = sorted(weights)
    marks = ticks(min(one.kg for one in weights), max(one.kg for one in weights))
    days = [day.toordinal() for day in (*(one.day for one in weights), *(one.day for one in told))]
    across = Scale(min(days), max(days), LEFT + 14, WIDTH - RIGHT - 14)
    up = Scale(marks[0], marks[-1], FLOOR, CEILING)
    sure = [(across.at(one.day.toordinal()), up.at(one.kg)) for one in weights if one.sure]
    parts = [*upright(up, marks), *([joined(sure)] if len(sure) > 1 else [])]
    parts += [dot(across.at(one.day.toordinal()), up.at(one.kg), 3.5, hollow=not one.sure) for one in weights]
    parts.append(label(LEFT - 34, CEILING - 8, "kg", "start", QUIET))
    parts += _days(across, sorted({one.day for one in weights}))
    below, height = _below(across, told, FLOOR + 40)
    parts += below
    unsure = sum(not one.sure for one in weights)
    more = f"; {unsure} not sure (hollow)" if unsure else ""
    last, height = under(height + 6, f"{spell_many(len(weights), 'weight')}{more}")
    said = "; ".join(f"{one.day} {one.kg:g} kg" for one in weights)
    also = "; ".join(f"{one.day} {one.text}" for one in told)
    return picture(title, f"{said}.{f'  {also}.' if also else ''}", [*parts, *last], height)


def _days(across: Scale, days: Sequence[date]) -> Iterator[str]:
    free, year = 0.0, None
    for day in days:
        x = across.at(day.toordinal())
        yield line(x, FLOOR, x, FLOOR + 4, INK)
        half = 6 * CHAR / 2
        if x - half < free or x + half > WIDTH:
            continue
        free = x + half + 4
        yield label(x, FLOOR + 17, f"{day.day} {day:%b}")
        if day.year != year:
            yield label(x, FLOOR + 31, str(day.year), fill=QUIET)
            year = day.year


def _day(one: Told) -> date:
    return one.day


def _below(across: Scale, told: Sequence[Told], y: float) -> tuple[list[str], float]:
    """Draw what was told on a line of its own for each day, numbered where it happened; return where it ends."""
    parts: list[str] = []
    days = [(day, list(those)) for day, those in groupby(sorted(told, key=_day), key=_day)][-MOST_LINES:]
    free, row, rows = 0.0, 0, 0
    for at, (day, those) in enumerate(days, 1):
        x = across.at(day.toordinal())
        row = row + 1 if x - 8 < free and row < MOST_ROWS else 0
        free, rows = x + 8 * len(str(at)), max(rows, row + 1)
        low = y + 10 + 14 * row
        parts += [line(x, CEILING, x, FLOOR, QUIET, 1, "2 3"), label(x, low, str(at), bold=True)]
        for one in those:
            if one.mark and one.until:
                end = across.at(min(one.until.toordinal(), int(across.high)))
                parts.append(line(x, low + 3, end, low + 3, INK, 3))
    y += 10 + 14 * rows + 10 if days else 0
    for at, (day, those) in enumerate(days, 1):
        text = "; ".join(f"marked: {one.text}" if one.mark else one.text for one in those)
        lines, y = paragraph(y, f"{at}  {day}  {text}")
        parts += lines
    return parts, y + 6
