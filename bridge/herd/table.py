"""The herd book as a table, out and in again without loss: the headings of one are the headings of the other.

A row an animal; those merged into it are named in `merged` and come back as pointers to it.  Columns beyond these are
what stays with an animal (breed, colour): in a file with a column `animal`, every other heading is one of those.
"""

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any, TextIO

from neckyoke.bridge.animal_event import Animal, Mark, WornTag
from neckyoke.bridge.events import spell_time
from neckyoke.bridge.herd.book import Book

HEADINGS = (
    *("animal", "visual", "tag", "former_tags", "tag_times", "former_visuals", "born", "sex", "dam", "id", "mob"),
    *("withheld_until", "marks", "assumed", "first_weighing", "merged"),
)
"""Those that every export has, in this order."""
KNOWN = frozenset(HEADINGS)
PLAIN = {name: name for name in ("born", "sex", "dam", "mob", "withheld_until")}
PLAIN |= {"id": "roster_id", "first_weighing": "first"}
"""Headings whose cells stand as they are, with what the book calls them."""
BAR, DOTS = " | ", ".."


def headings(animals: Iterable[Animal]) -> tuple[str, ...]:
    """Return the headings that these animals need."""
    lasting = sorted({name for animal in animals for name in animal.lasting})
    return (*HEADINGS, *(name for name in lasting if name not in HEADINGS))


def write(book: Book, out: TextIO) -> int:
    """Write the book as CSV; return how many animals it has."""
    animals = list(book)
    names = headings(animals)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    for animal in animals:
        row = row_of(animal, book.members(animal.animal))
        writer.writerow([row.get(name, "") for name in names])
    return len(animals)


def row_of(animal: Animal, merged: Iterable[str] = ()) -> dict[str, str]:
    """Spell an animal as a row."""
    worn = [tag for tag in animal.tags if tag.until is None][-1:]
    former = [tag for tag in animal.tags if tag not in worn]
    known: dict[str, Any] = {
        "animal": animal.animal,
        "visual": animal.visual,
        "tag": worn[0].id if worn else "",
        "former_tags": ";".join(tag.id for tag in former),
        "tag_times": ";".join(_times(tag) for tag in (*former, *worn)),
        "former_visuals": BAR.join(animal.visuals[:-1]),
        "born": animal.born,
        "sex": animal.sex,
        "dam": animal.dam,
        "id": animal.roster_id,
        "mob": animal.mob,
        "withheld_until": animal.withheld_until,
        "marks": BAR.join(_mark(mark) for mark in animal.marks),
        "assumed": ";".join(animal.assumed),
        "first_weighing": animal.first,
        "merged": ";".join(merged),
        **{name: _spelled(value) for name, value in animal.lasting.items() if name not in HEADINGS},
    }
    return {name: str(value) for name, value in known.items() if value not in {None, ""}}


def read_row(row: Mapping[str, str]) -> Iterator[Animal]:
    """Read the row of an export: yield the animal, and pointers for those merged into it.

    Raises ValueError when a cell is not as `row_of` spells it.
    """
    tags = [one for one in row.get("former_tags", "").split(";") if one]
    tags += [row["tag"]] if row.get("tag") else []
    times = row.get("tag_times", "").split(";") if row.get("tag_times") else [DOTS] * len(tags)
    if len(times) != len(tags):
        raise ValueError(f"{len(tags)} tags and {len(times)} times")
    visuals = [one for one in row.get("former_visuals", "").split(BAR) if one]
    visuals += [row["visual"]] if row.get("visual") else []
    known = {
        "animal": row["animal"],
        "why": "read from an export",
        "tags": [_tag(tag, time) for tag, time in zip(tags, times, strict=True)],
        "visuals": visuals,
        "marks": [_read_mark(one) for one in row["marks"].split(BAR) if one] if "marks" in row else (),
        "assumed": [one for one in row["assumed"].split(";") if one] if "assumed" in row else (),
        "lasting": {name: _read(text) for name, text in row.items() if name not in KNOWN and text},
    }
    known |= {key: row[name] for name, key in PLAIN.items() if row.get(name)}
    yield Animal.model_validate(known)
    for member in filter(None, row.get("merged", "").split(";")):
        yield Animal(animal=member, change="merged", why="read from an export", merged_into=row["animal"])


def _times(tag: WornTag) -> str:
    since, until = (spell_time(moment) if moment else "" for moment in (tag.since, tag.until))
    return f"{since}{DOTS}{until}"


def _tag(tag: str, times: str) -> dict[str, str | datetime | None]:
    since, _, until = times.partition(DOTS)
    return {"id": tag, "since": _moment(since), "until": _moment(until)}


def _moment(text: str) -> datetime | None:
    moment = datetime.fromisoformat(text) if text else None
    return moment if moment is None or moment.tzinfo is UTC else moment.astimezone(UTC)


def _mark(mark: Mark) -> str:
    days = f" [{mark.begins or ''}{DOTS}{mark.until or ''}]"
    return mark.text.replace(BAR, " / ") + days


def _read_mark(text: str) -> Mark:
    words, bracket, days = text.rpartition(" [")
    if not bracket or not days.endswith("]"):
        return Mark(text=text)
    begins, _, until = days[:-1].partition(DOTS)
    return Mark(text=words, begins=begins or None, until=until or None)


def _spelled(value: Any) -> str:
    """Spell a text as it is, unless it would be read back as something else."""
    return value if isinstance(value, str) and _read(value) == value else json.dumps(value)


def _read(text: str) -> Any:
    try:
        value = json.loads(text)
    except ValueError:
        return text
    return value if isinstance(value, str | int | float | bool) else text
