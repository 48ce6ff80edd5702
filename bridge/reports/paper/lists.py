"""Losers and leaders: who is heaviest and lightest, who gained most and least, of all, of a pen, of a finding."""

import heapq
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from operator import attrgetter, ge, le
from typing import Any

from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.tally import SURE, Tally

NAMED = 5
"""So many of each are named, unless a person asks for more."""
KINDS: Mapping[str, tuple[str, bool]] = {
    "heaviest": ("kg", True),
    "lightest": ("kg", False),
    "gained most": ("gain", True),
    "gained least": ("gain", False),
}
"""The lists: by what, and whether the largest come first."""


def by_name(row: Row) -> tuple[list[tuple[bool, int, str]], int]:
    """Return a key that sorts names as people do: 9 before 10, 0105 beside 105."""
    parts = re.findall(r"[0-9]+|[^0-9]+", row.name.casefold())
    return [(not part.isdecimal(), int(part) if part.isdecimal() else 0, part) for part in parts], row.number


def leaders(rows: Iterable[Row], kind: str, many: int = NAMED) -> list[Row]:
    """Return the first so many of these animals in a list of `KINDS`; weights count where good or fair."""
    key, largest = KINDS[kind]
    number = attrgetter(key)
    known = [row for row in rows if number(row) is not None and (key == "gain" or row.setting.grade in SURE)]
    best = (heapq.nlargest if largest else heapq.nsmallest)(many, map(number, known))
    within = ge if largest else le
    near = [row for row in known if within(number(row), best[-1])] if best else []  # only these are put by name
    return sorted(sorted(near, key=by_name), key=number, reverse=largest)[:many]


def groups(tally: Tally) -> Iterator[tuple[str, str, list[Row]]]:
    """Yield the animals of each pen and of each finding: what it is, its value, who."""
    found: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in tally.animals:
        if row.setting.pen is not None:
            found["pen", row.setting.pen].append(row)
    for row in tally.animals:
        for name, value in row.findings:
            found[name, value].append(row)
    order = list(dict.fromkeys(name for name, _ in found))
    for name, value in sorted(found, key=lambda one: (order.index(one[0]), one[1])):
        yield name, value, found[name, value]


def spell(row: Row, kind: str) -> str:
    """Name an animal with the figure that it stands in a list for."""
    return f"{row.name} {row.gain:.2f}" if KINDS[kind][0] == "gain" else f"{row.name} {row.kg:.1f}"


def spell_lost(row: Row) -> str:
    """Name one that lost weight: how much, in how many days."""
    return f"{row.name} ({row.gained:.1f} kg in {row.days} {'day' if row.days == 1 else 'days'})"


def told(tally: Tally, many: int = NAMED) -> Iterator[str]:
    """Yield the lists as lines of text: of all, then of each pen and finding."""
    for what, rows in [
        ("all", list(tally.animals)),
        *((f"{name} {value}", rows) for name, value, rows in groups(tally)),
    ]:
        yield f"{what}, {len(rows)}:"
        for kind in KINDS:
            if named := leaders(rows, kind, many):
                yield f"  {kind}: {', '.join(spell(row, kind) for row in named)}"


def as_json(tally: Tally, many: int = NAMED) -> dict[str, Any]:
    """Spell losers and leaders for a program."""
    return {
        "losers": [
            {**_who(row), "kg": row.kg, "last_kg": row.then, "gained_kg": row.gained, "days": row.days}
            for row in tally.losers
        ],
        "leaders": _kinds(list(tally.animals), many),
        "leaders_by": [{"name": name, "value": value, **_kinds(rows, many)} for name, value, rows in groups(tally)],
    }


def _kinds(rows: list[Row], many: int) -> dict[str, Any]:
    return {
        kind.replace(" ", "_"): [
            {**_who(row), "kg": row.kg, "kg_per_day": row.gain} for row in leaders(rows, kind, many)
        ]
        for kind in KINDS
    }


def _who(row: Row) -> dict[str, Any]:
    return {"name": row.name, "visual": row.visual, "animal": row.animal}
