"""A mob over its jobs: mean, middle half, lightest and heaviest of each, and over how many animals."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from neckyoke.bridge.reports.pictures.svg import (
    CHAR,
    FILL,
    INK,
    LEFT,
    PAPER,
    QUIET,
    RIGHT,
    WIDTH,
    Scale,
    dot,
    joined,
    label,
    line,
    nothing,
    picture,
    ticks,
    under,
    upright,
)

TITLE = "The mob over its jobs"
FLOOR, CEILING = 184, 14
MOST_JOBS = 10
"""The last so many are drawn."""
HALF = 8
"""Half the width of a box."""


class Spread(NamedTuple):
    """The weights of one job, kg: over how many animals, and their quartiles (of numpy's default kind, linear)."""

    day: date
    animals: int
    mean_kg: float
    least_kg: float
    quarter_kg: float
    three_quarters_kg: float
    most_kg: float


def mob_growth(jobs: Sequence[Spread]) -> str:
    """Draw the jobs in order of their days."""
    if not jobs:
        return nothing(TITLE, "no weights yet")
    shown = sorted(jobs)[-MOST_JOBS:]
    marks = ticks(min(one.least_kg for one in shown), max(one.most_kg for one in shown))
    up = Scale(marks[0], marks[-1], FLOOR, CEILING)
    places = _places([one.day for one in shown])
    parts = [*upright(up, marks)]
    for x, one in zip(places, shown, strict=True):
        parts += _box(x, one, up)
    parts.append(joined((x, up.at(one.mean_kg)) for x, one in zip(places, shown, strict=True)))
    parts += [dot(x, up.at(one.mean_kg), 3.5) for x, one in zip(places, shown, strict=True)]
    parts += _days(places, shown)
    parts.append(label(2, FLOOR + 47, "animals", "start", QUIET))
    below, height = under(
        FLOOR + 66, "kg, all that were weighed in each job; dot: mean, box: middle half, ends: lightest and heaviest"
    )
    said = "; ".join(
        f"{one.day}: mean {one.mean_kg:.1f} kg over {one.animals}, middle half {one.quarter_kg:.1f} to "
        f"{one.three_quarters_kg:.1f}, lightest {one.least_kg:.1f}, heaviest {one.most_kg:.1f}"
        for one in shown
    )
    return picture(TITLE, f"{said}.", [*parts, *below], height)


def _places(days: Sequence[date]) -> list[float]:
    """Return where each day lies: apart by their dates as far as boxes do not meet."""
    least = min(2 * HALF + 14.0, (WIDTH - RIGHT - LEFT - 50) / max(1, len(days) - 1))
    room = Scale(days[0].toordinal(), days[-1].toordinal(), LEFT + 30, WIDTH - RIGHT - 20)
    places = [room.at(day.toordinal()) for day in days]
    for at in range(1, len(places)):
        places[at] = max(places[at], places[at - 1] + least)
    end = WIDTH - RIGHT - 20.0
    for at in reversed(range(len(places))):
        places[at] = min(places[at], end - least * (len(places) - 1 - at))
    return places


def _box(x: float, one: Spread, up: Scale) -> Iterator[str]:
    top, bottom = up.at(one.three_quarters_kg), up.at(one.quarter_kg)
    yield line(x, up.at(one.least_kg), x, up.at(one.most_kg), INK)
    for end in (one.least_kg, one.most_kg):
        yield line(x - 5, up.at(end), x + 5, up.at(end), INK, 1.5)
    yield (
        f'<rect x="{x - HALF:.1f}" y="{top:.1f}" width="{2 * HALF}" height="{max(bottom - top, 1):.1f}"'
        f' fill="{PAPER}" stroke="{INK}" stroke-width="1.5"/>'
    )
    yield line(x, top, x, bottom, FILL)


def _days(places: Sequence[float], shown: Sequence[Spread]) -> Iterator[str]:
    """Write day and count under each box, as far as there is room; the year where it changes."""
    free, year = 0.0, None
    for x, one in zip(places, shown, strict=True):
        yield label(x, FLOOR + 47, str(one.animals), bold=True)
        half = 6 * CHAR / 2
        if x - half < free:
            continue
        free = x + half + 4
        yield label(x, FLOOR + 16, f"{one.day.day} {one.day:%b}")
        if one.day.year != year:
            yield label(x, FLOOR + 31, str(one.day.year), fill=QUIET)
            year = one.day.year
