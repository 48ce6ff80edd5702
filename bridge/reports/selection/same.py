"""Which weighings are one animal's, and which of them speaks for it."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from neckyoke.bridge.reports.rows import Given, Row

RANK = {"good": 0, "fair": 1, "poor": 2, "none": 3}
"""Of an animal weighed again in the same job the best weight speaks."""


def stands(row: Row) -> bool:
    """Return whether it counts: nobody struck it out, and the job was not paused."""
    flags = row.setting.flags
    return not flags or not ("voided" in flags or "paused" in flags)


def is_struck(row: Row) -> bool:
    """Return whether it was struck out: its doses count, unless a person said that they were not given."""
    return "voided" in row.setting.flags and "paused" not in row.setting.flags


def grouped(rows: Iterable[Row], root: Callable[[str], str] = str) -> Iterator[list[Row]]:
    """Put the weighings of one animal in one job together, in the order they came; one not known stands alone.

    The animal goes by its id in the herd book, whatever tag it wore; where a weighing has none, by the id that the
    others of that tag in this job have, if they agree; else by the tag.
    """
    rows = list(rows)
    owners = _owners(rows, root) if any(row.animal and not row.beast for row in rows) else {}
    jobs: dict[str, dict[str, Row]] = defaultdict(dict)
    again: dict[tuple[str, str], list[Row]] = {}  # few are: a list each for all would be most of what is kept
    alone = []
    for row in rows:
        job = _job(row)
        beast = row.beast or owners.get((row.animal or "", job))
        who = root(beast) if beast else row.animal
        if who is None:
            alone.append(row)
        elif jobs[job].setdefault(who, row) is not row:
            again.setdefault((job, who), [jobs[job][who]]).append(row)
    for job, animals in jobs.items():
        for who, row in animals.items():
            yield again.get((job, who), [row]) if again else [row]
    yield from ([row] for row in alone)


def _owners(rows: Iterable[Row], root: Callable[[str], str]) -> dict[tuple[str, str], str | None]:
    """Return whose each tag is in each job, by the weighings that have an id; None where they do not agree."""
    owners: dict[tuple[str, str], str | None] = {}
    for row in rows:
        if row.beast and row.animal:
            key = row.animal, _job(row)
            beast = root(row.beast)
            owners[key] = beast if owners.get(key, beast) == beast else None
    return owners


def _job(row: Row) -> str:
    """Return what tells the jobs apart; of before there were jobs, the sheet."""
    return row.setting.job or row.setting.sheet or ""


def best_of(group: list[Row]) -> Row:
    """Return the weighing that speaks for an animal: the latest of its best."""
    return min(reversed(group), key=lambda row: RANK[row.setting.grade])


def as_one(group: list[Row]) -> Row:
    """Return the best row of an animal weighed again, with what it was given and all that was noted of it."""
    best, given = best_of(group), tuple(_first_given(group))
    notes = tuple(dict.fromkeys(note for row in group for note in row.notes))
    return best._replace(setting=replace(best.setting, treatments=given), notes=notes)


def _first_given(group: list[Row]) -> Iterable[Given]:
    """Return each treatment of one animal once: where it was first given, else that it was skipped."""
    first: dict[str, Given] = {}
    for one in (one for row in group for one in row.setting.treatments):
        if one.name not in first or (first[one.name].skipped and not one.skipped):
            first[one.name] = one
    return first.values()
