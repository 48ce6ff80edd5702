"""Who is expected under a sheet, and what each weighed last: the roster and the mob, the herd book and the journal.

The journal is read by a connection of its own, in a thread: no weighing waits for a person who makes a sheet.
"""

import asyncio
import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from itertools import islice
from pathlib import Path
from typing import Any

from neckyoke.bridge.animal_event import Animal as Known
from neckyoke.bridge.events import Flag, Weighing, read_event
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.job.load import Job
from neckyoke.bridge.job.making.foreseen import Beast
from neckyoke.bridge.job.roster.roster import Animal
from neckyoke.bridge.journal.reading import Reading, StoreError, read_only

SURE = ("good", "fair")
NOT_OF_THE_MOB = {Flag.VOIDED, Flag.PAUSED}
MOST_ANIMALS = 5000
"""Animals of which last weights are looked up; a mob is smaller."""


@dataclass(frozen=True, slots=True)
class WhoComes:
    """Called with a job as it would be, it gives the animals expected; None when nobody knows who will come."""

    journal: Path
    book: Book
    zone: tzinfo

    async def __call__(self, job: Job) -> Sequence[Beast] | None:
        """Return the animals expected, each with its last weight."""
        rows = job.roster.animals[:MOST_ANIMALS] if job.roster is not None else ()
        found: list[tuple[Animal | None, Known | None]] = [(row, self._known(row)) for row in rows]
        if job.roster is None:
            found = [(None, one) for one in islice(self._mob(job.sheet.of_mob), MOST_ANIMALS)]
            if not found:
                return None
        tags = {tag for row, known in found for tag in _tags(row, known)}
        ids = {name for _, known in found if known for name in self.book.group(known.animal)}
        last = await asyncio.to_thread(self._last, sorted(ids), sorted(tags))
        details = job.sheet.details.as_dict()
        return [self._beast(row, known, last, details) for row, known in found]

    def _mob(self, mob: str) -> Iterator[Known]:
        """Yield the animals that were inducted under a sheet of a mob; the book is not read but for those."""
        spelled = json.dumps(mob, ensure_ascii=False)
        for name, body in self.book.bodies().items():
            if spelled in body and (one := self.book.find(name)) and one.mob == mob and one.merged_into is None:
                yield one

    def _known(self, row: Animal) -> Known | None:
        """Return the animal of the herd book that a row means, where only one can be meant."""
        if row.tag and (found := self.book.by_tag(row.tag)) is not None:
            return found
        same = self.book.by_visual(row.visual) if row.visual else []
        return same[0] if len(same) == 1 else None

    def _last(self, ids: Sequence[str], tags: Sequence[str]) -> dict[str, Weighing]:
        """Return the last sure weighing by animal and by tag; nothing while the journal cannot be read."""
        last: dict[str, Weighing] = {}

        def read(reading: Reading) -> list[str]:
            return reading.weighings(animals=ids, tags=tags) if ids or tags else []

        try:
            with read_only(self.journal) as reading:
                bodies = read(reading)
        except (StoreError, sqlite3.Error):
            return last
        for body in bodies:  # the oldest first
            data = read_event(body).data
            if isinstance(data, Weighing) and data.weight.grade in SURE and not NOT_OF_THE_MOB & {*data.flags}:
                animal = str((data.animal or {}).get("id") or "")
                for name in (animal and self.book.root(animal), data.tag.id if data.tag else ""):
                    if name:
                        last[name] = data
        return last

    def _beast(
        self, row: Animal | None, known: Known | None, last: Mapping[str, Weighing], details: Mapping[str, Any]
    ) -> Beast:
        names = [*([self.book.root(known.animal)] if known else []), *_tags(row, known)]
        weighed = max((last[name] for name in names if name in last), key=lambda one: one.on, default=None)
        day, kg = row.weights[-1] if row is not None and row.weights else (None, None)
        gain = None
        if weighed is not None and weighed.weight.kg is not None:
            on = weighed.on.astimezone(self.zone).date()
            if day is None or on >= day:
                day, kg = on, weighed.weight.kg
                gain = weighed.gain.kg_per_day if weighed.gain else None
        book = {**known.lasting, "sex": known.sex, "born": known.born} if known else {}
        said = {**details, **{key: value for key, value in book.items() if value is not None}}
        said |= row.as_dict() if row is not None else {}
        key = row.key if row is not None else known.animal if known else ""
        return Beast(key, kg, day, gain, said)


def _tags(row: Animal | None, known: Known | None) -> Iterable[str]:
    found = [row.tag, *row.former_tags] if row is not None else []
    found += [tag.id for tag in known.tags] if known else []
    return [tag for tag in found if tag]
