"""Which animals came of late: on a day, in a job, or around a moment.

Who was held to have come counts, whatever is said of it later.  A visit is kept by its weighing, so that it moves with
a clock put right.  The date alone does not tell who has come: a job goes on past midnight, and a box may learn the date
in the middle of it.  So who was weighed in the same job has come too, and who was within the hours of one.  And whose
tag was heard later had not lost it by then: a weighing of an earlier day is judged again when the clock is put right.
"""

from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import NamedTuple

from neckyoke.bridge.events import Flag, Settled, Weighing
from neckyoke.bridge.herd.held import own_id

KEPT = 3
"""Days that are known, those of the last weighings: today's, for what is said the day after the one before, and one of
a clock that leapt."""
AROUND = timedelta(hours=4)
"""Who was weighed so long before or after has come, whatever the date says: after as long a job ends by itself."""
IN_DOUBT = frozenset({Flag.WHICH_ANIMAL, Flag.VOIDED})


class Arrived(NamedTuple):
    """Who has come: the animals, and the weighings of all that came, those in doubt among them.

    An animal that became known by one of these weighings has come, whoever it turns out to be.
    """

    animals: AbstractSet[str]
    weighings: AbstractSet[str]


@dataclass(slots=True)
class _Visit:
    on: datetime
    day: date
    job: str | None
    tagged: bool = False
    animals: set[str] = field(default_factory=set)


class Came:
    """Animals are meant by the id that the weighing says that they had by themselves."""

    def __init__(self) -> None:
        self._visits: dict[str, _Visit] = {}
        self._of_day: dict[date, set[str]] = {}  # weighings; the day of the last one stands last

    def add(self, data: Weighing, day: date) -> None:
        """Take a weighing of a day, or its next revision; one in doubt shows no animal, one struck out nothing."""
        visit = self._visits.get(data.weighing)
        if visit is None and Flag.VOIDED in data.flags:
            return
        if visit is None:
            visit = self._visits[data.weighing] = _Visit(data.on, day, data.job)
        self._of_day.get(visit.day, set()).discard(data.weighing)
        if not self._of_day.get(visit.day, {day}):
            del self._of_day[visit.day]
        visit.on, visit.day, visit.job, visit.tagged = data.on, day, data.job, data.tag is not None
        animal = own_id(data)
        if animal is not None and IN_DOUBT.isdisjoint(data.flags):
            visit.animals.add(animal)
        self._of_day[day] = self._of_day.pop(day, set()) | {data.weighing}
        if len(self._of_day) > KEPT:
            for weighing in self._of_day.pop(next(iter(self._of_day))):
                del self._visits[weighing]

    def on(self, day: date) -> AbstractSet[str] | None:
        """Return the animals that came on a day; None for one before all that are known."""
        if self._of_day and day < min(self._of_day):
            return None
        visits = (self._visits[weighing] for weighing in self._of_day.get(day, ()))
        return {animal for visit in visits for animal in visit.animals}

    def by(self, data: Settled | Weighing, day: date) -> Arrived | None:
        """Return who has come by a stay of a day, or later with a tag; None for a day before all that are known."""
        if self._of_day and day < min(self._of_day):
            return None
        found = {
            weighing: visit
            for weighing, visit in self._visits.items()
            if visit.day == day
            or (data.job is not None and visit.job == data.job)
            or abs(visit.on - data.on) <= AROUND
            or (visit.tagged and visit.on > data.on)
        }
        return Arrived({animal for visit in found.values() for animal in visit.animals}, found.keys())
