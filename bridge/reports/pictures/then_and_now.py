"""Weight against last weight: who lost stands below the line, as a hollow shape, named."""

from collections.abc import Iterator, Sequence
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
    label,
    line,
    nothing,
    picture,
    spell_many,
    ticks,
    under,
)

TITLE = "Weight against last weight"
FLOOR, CEILING = 246, 22
MOST_NAMED = 12
"""Losers named in the picture; the list beside it names all."""


class Pair(NamedTuple):
    """One animal: its name as people say it, its last weight and the one of today, kg."""

    name: str
    then_kg: float
    now_kg: float


def then_and_now(pairs: Sequence[Pair]) -> str:
    """Draw a point for each animal that has a last weight."""
    if not pairs:
        return nothing(TITLE, "no last weights known")
    losers = sorted((one for one in pairs if one.now_kg < one.then_kg), key=lambda one: one.now_kg - one.then_kg)
    marks = ticks(min(min(one[1:]) for one in pairs), max(max(one[1:]) for one in pairs))
    across = Scale(marks[0], marks[-1], LEFT, WIDTH - RIGHT)
    up = Scale(marks[0], marks[-1], FLOOR, CEILING)
    parts = [*_ground(marks, across, up)]
    parts += [dot(across.at(one.then_kg), up.at(one.now_kg)) for one in pairs if one.now_kg >= one.then_kg]
    parts += [dot(across.at(one.then_kg), up.at(one.now_kg), 3.5, hollow=True) for one in losers]
    parts += _names(losers, across, up)
    lost = f"{len(losers)} lost weight (hollow)" if losers else "none lost weight"
    below, height = under(FLOOR + 48, f"{spell_many(len(pairs))} with a last weight; {lost}")
    named = ", ".join(f"{one.name} from {one.then_kg:g} to {one.now_kg:g} kg" for one in losers)
    said = f"{spell_many(len(pairs))} with a last weight.  " + (f"Lost weight: {named}." if losers else "None lost.")
    return picture(TITLE, said, [*parts, *below], height)


def _ground(marks: list[float], across: Scale, up: Scale) -> Iterator[str]:
    for mark in marks:
        yield line(LEFT, up.at(mark), WIDTH - RIGHT, up.at(mark))
        yield line(across.at(mark), CEILING, across.at(mark), FLOOR)
        yield label(LEFT - 5, up.at(mark) + 4, f"{mark:g}", "end")
        half = len(f"{mark:g}") * CHAR / 2
        yield label(min(across.at(mark), WIDTH - half), FLOOR + 16, f"{mark:g}")
    yield line(across.at(marks[0]), up.at(marks[0]), across.at(marks[-1]), up.at(marks[-1]), INK, 1.2)
    yield label(LEFT - 34, CEILING - 9, "kg today", "start", QUIET)
    yield label(WIDTH - RIGHT, FLOOR + 31, "kg last time", "end", QUIET)


def _names(losers: Sequence[Pair], across: Scale, up: Scale) -> Iterator[str]:
    """Name those that lost most, each beside its point where there is room for it."""
    taken: list[tuple[float, float, float]] = []
    for one in losers[:MOST_NAMED]:
        x, y = across.at(one.then_kg), up.at(one.now_kg)
        wide = len(one.name) * (CHAR + 1)
        for left, low in ((x + 7, y + 4), (x - 7 - wide, y + 4), (x + 7, y + 15), (x - wide / 2, y + 17)):
            apart = all(left + wide < a or b < left or abs(low - at) > 11 for a, b, at in taken)
            if apart and left > LEFT and left + wide < WIDTH and low < FLOOR:
                taken.append((left, left + wide, low))
                yield label(left, low, one.name, "start", bold=True)
                break
