"""One weighing of both parts of a stay around a stop, where they are the same animal's (`same`)."""

from datetime import timedelta
from typing import TypeVar

from neckyoke.bridge.events import Clock, DoseSaid, Finding, Flag, Weighing
from neckyoke.bridge.station.amend import OF_TAG
from neckyoke.bridge.station.record import in_order, not_given
from neckyoke.bridge.station.stops.visits import WHY, WHY_TOO, came_in_sight

Named = TypeVar("Named", bound=Finding | DoseSaid)
GRADES = ("good", "fair", "poor", "none")


def joined(past: Weighing, now: Weighing, away_s: float | None) -> Weighing:
    """Make one weighing of both parts: the better weight, the tag and whatever else either has, in the first's place.

    Times taken before the clock was known are made again from the later part's, where the time between is known.
    """
    late = timedelta()
    if past.clock is not Clock.SYNCHRONISED and away_s is not None:
        late = now.on - timedelta(seconds=away_s) - past.off
    better = now.weight if GRADES.index(now.weight.grade) <= GRADES.index(past.weight.grade) else past.weight
    spoken = Flag.BY_PERSON in past.flags and Flag.BY_PERSON not in now.flags
    tagged = past if spoken or now.tag is None else now
    flags = (
        {*past.flags, *now.flags} - {*OF_TAG, Flag.PAUSED} | {Flag.PAUSED} & {*past.flags} | OF_TAG & {*tagged.flags}
    )
    return now.model_copy(
        update={
            "weighing": past.weighing,
            "number": past.number,
            "job": past.job,
            "job_number": past.job_number,
            "revision": past.revision + now.revision,
            "tag": tagged.tag,
            "weight": better.model_copy(update={"first_kg": past.weight.first_kg or better.first_kg}),
            "on": past.on + late,
            "settled": past.settled + late if past.settled else now.settled,
            "clock": now.clock if away_s is not None else past.clock,
            "flags": in_order(flags),
            "animal": now.animal or past.animal,
            "notes": (*past.notes, *now.notes),
            "findings": _last(past.findings, now.findings),
            "doses_said": (doses := _last(past.doses_said, now.doses_said)),
            "skipped": not_given(doses),
            "maybe_same": past.maybe_same,
            "why": now.why or (WHY if came_in_sight(past) else WHY_TOO),
        }
    )


def _last(past: tuple[Named, ...], now: tuple[Named, ...]) -> tuple[Named, ...]:
    """Return what was said in both parts of a stay; of one name what was said last."""
    said: dict[str, Named] = {one.name: one for one in (*past, *now)}
    return (*said.values(),)
