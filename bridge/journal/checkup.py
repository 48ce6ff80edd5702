"""Looking for what is wrong with a journal that opens: events that are missing, and rows that are not as written.

Sequences are given without gaps, so what is missing shows: between the first that was not deleted for its age and the
last that was given (bridge/journal/mark.py).  What is known to be missing is remembered, and not told again.

Looking through every row takes a second for each thousands of animals, on a small box ten: it is done a step at a time,
newest first, while the daemon works.
"""

import sqlite3
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from neckyoke.bridge.journal.mark import Given
from neckyoke.bridge.journal.rows import columns_of, is_sound, runs, spelled, total_of
from neckyoke.bridge.journal.store import Store
from neckyoke.bridge.many import many_are

DAY_S = 86400
DAYS, YEAR_S = 3, 366 * DAY_S
STEP = 200
"""Rows looked at at a time: some hundredth of a second, a tenth on a small box."""
INDEXES = {
    "event_weighing": "weighing = ? and revision = ?",
    "event_tag": "tag = ?",
    "event_began": "began = ?",
}


class Step(NamedTuple):
    """What a step found: where the next begins (0: it was the last), and how many rows were put right."""

    before: int
    mended: int


def missing(store: Store, given: Given) -> list[range]:
    """Return the sequences that are missing and not known to be."""
    (count, low, high) = store.rows("select count(*), coalesce(min(seq), 0), coalesce(max(seq), 0) from event")[0]
    first = int(store.kept("base").get("first", given.first or low or 1))
    end = max(high, given.last)
    known = sorted((int(name), int(last)) for name, last in store.kept("gap").items())
    if end - first + 1 == count + sum(last - start + 1 for start, last in known):
        return []
    found, expected = [], first
    there = runs(seq for (seq,) in store.rows("select seq from event order by seq"))
    for start, last in sorted([*there, *known, (end + 1, end + 1)]):
        if start > expected:
            found.append(range(expected, start))
        expected = max(expected, last + 1)
    return found


def remember_missing(store: Store, ranges: Iterable[range]) -> None:
    """Take it as known that these sequences are missing."""
    store.keep("gap", {str(one[0]): str(one[-1]) for one in ranges})


def look_through(store: Store, before: int) -> Step:
    """Look at the rows below a sequence, newest first: put right what can be, and find the damaged ones."""
    columns = "seq, type, weighing, revision, tag, began, body, sum"
    rows = store.rows(f"select {columns} from event where seq < ? order by seq desc limit ?", before, STEP)  # noqa: S608
    wrong, unsummed, lost = [], [], False
    for seq, kind, *said, body, total in rows:
        if not is_sound(seq, body, total):
            store.unsound.add(seq)
            continue
        if total is None:
            unsummed.append((total_of(body), seq))
        right_kind, right = columns_of(body)
        if (kind, tuple(said)) != (right_kind, right):
            wrong.append((right_kind, *right, seq))
        elif right[0] is not None:
            lost = lost or not _is_indexed(store, seq, right)
    if wrong or unsummed or lost:
        _mend(store, wrong, unsummed, lost=lost)
    return Step(rows[-1][0] if len(rows) == STEP else 0, len(wrong) + lost)


def _is_indexed(store: Store, seq: int, columns: tuple[str, int, str | None, str]) -> bool:
    weighing, revision, tag, began = columns
    values = {"event_weighing": (weighing, revision), "event_tag": (tag,), "event_began": (began,)}
    return all(
        (seq,) in store.rows(f"select seq from event indexed by {index} where {INDEXES[index]} and seq = ?", *keys, seq)  # noqa: S608  # constants
        for index, keys in values.items()
        if keys[0] is not None
    )


def _mend(store: Store, wrong: list[tuple[object, ...]], unsummed: list[tuple[str, int]], *, lost: bool) -> None:
    with store.transaction():
        if lost or wrong:
            for index in INDEXES:
                store.rows(f"reindex {index}")
        for row in wrong:
            try:
                store.rows("update event set type=?, weighing=?, revision=?, tag=?, began=? where seq=?", *row)
            except sqlite3.IntegrityError:  # another row claims to be the same revision: this one stays out of the way
                store.unsound.add(int(str(row[-1])))
        for total, seq in unsummed:
            store.rows("update event set sum = ? where seq = ?", total, seq)


def told_aside(path: Path, events: Sequence[int], values: Sequence[tuple[str, str]], in_all: int) -> str:
    """Return which damaged rows were set aside, in words."""
    said = []
    if events:
        said.append(f"{many_are(len(events), 'event')} damaged and given to nobody ({spelled(events)})")
    if values:
        names = ", ".join(map(" ".join, values[:5]))
        said.append(f"what was remembered cannot be read: {names}{' and more' if len(values) > 5 else ''}")
    return (
        f"Rows of the journal {path} are not as they were written: {'; '.join(said)}. In all {in_all} were set aside. "
        "Check those days' tally, and the card: it may be near its end."
    )


def is_believed(store: Store, wall: float, keep_s: float) -> bool:
    """Return whether events may be deleted for their age by this clock, in seconds since 1970.

    A clock that leapt ahead makes everything old.  So it is believed when events were written under it on `DAYS` days
    within the last year: days that only time can bring.
    """
    days = {int(day) for day in store.kept("base").get("days", "").split()}
    if not days:
        rows = store.rows("select distinct at / 86400000 from event where at is not null order by 1 desc limit 10")
        days = {day for (day,) in rows}
    today = int(wall // DAY_S)
    near = {day for day in days if wall - max(keep_s, YEAR_S) <= (day + 1) * DAY_S <= wall + 2 * DAY_S}
    if today not in days or len(days) > 10 * DAYS:
        kept = sorted({*near, today})[-DAYS:]
        store.keep("base", {"days": " ".join(map(str, kept))})
    return len({*near, today}) >= DAYS


def prune(store: Store, *, floor: int, wall: float | None, keep_s: float, keep_bytes: int) -> int:
    """Delete one step of what is too old or too much; `wall` None where the clock is not known.  See `Store.prune`."""
    if wall is None or not is_believed(store, wall, keep_s):
        return store.prune(floor=floor, before=None, keep_bytes=keep_bytes)
    today = datetime.fromtimestamp(wall - DAY_S, UTC).date().isoformat()  # in any zone
    return store.prune(floor=floor, before=wall - keep_s, keep_bytes=keep_bytes, today=today)
