"""The animal that still stands there when the box is back: its stay goes on, and stays one weighing.

A box that stops while an animal stands on the platform ends that stay as one weighing, flagged `interrupted`.  When it
starts again something may stand there: the same animal, or another that came meanwhile.  What the platform shows before
anything else belongs to that stay if, in this order,

    it was on at the start, and the box was not away for longer than animals stand there
    the tags, where both parts have one, are the same
    the weights agree, and it is known how long the box was away
    or too little is known of either part, and another animal has no room in time: from the first foot of the first
    part to the second is too short for one animal to be weighed and leave and the next to stand in its place, or from
    the stop to the end of the second for the next to come, be weighed and leave

Of a part that was itself on at the start, and did not go on with an earlier one, nobody saw the first foot: that animal
may have been about to leave, and how long its part was seen says nothing of how soon another stands there.

What is not surely the same animal is weighed as another: a weighing too many is seen, one too few is lost.  However
often the box stops, each part is held against all that came before it.
"""

from datetime import timedelta
from typing import TypeVar

from neckyoke.bridge.events import Clock, DoseSaid, Finding, Flag, Weighing, Weight
from neckyoke.bridge.station.amend import OF_TAG
from neckyoke.bridge.station.record import in_order, not_given

Named = TypeVar("Named", bound=Finding | DoseSaid)
STOP_S = 300.0
"""An animal does not stand there for longer than this while the box is away."""
BRIEF_S, PASSING_S = 6.8, 7.5
"""In less, no animal is weighed, leaves and has the next one in its place; nor does one come, stand and leave.  A rule
of our own: of 855 stays that a box came back to (tests/bench/delivery.py, `stays-killed`, three seeds) 75 were another
animal's; these took 6.9 and 8.0 s at least.  Where animals follow without a gap, and sheep, some take less: there two
parts too short to weigh may be two animals.
"""
SAME_PERCENT, POOR_PERCENT = 1.0, 10.0
"""Weights of one animal in two parts of a stay differ by no more; where one of them is poor, by no more than the second
for all that can be said."""
UNSURE = frozenset({Flag.TAG_DOUBTFUL, Flag.TWO_TAGS})
"""A tag so flagged, of a part too short to be sure of it, does not speak against another."""
GRADES = ("good", "fair", "poor", "none")
WHY = "the animal still stood there when the box was back"
WHY_TOO = "the animal still stood there when the box was back again"
"""Of one whose first foot was not seen."""


def goes_on(past: Weighing, now: Weighing, away_s: float | None) -> bool:
    """Return whether the first stay of this run is the one that the last run left open.

    `away_s` is the time between the two in seconds, as a clock that ran through told it; None where none did.
    """
    if Flag.ON_AT_START not in now.flags:
        return False
    if away_s is None and past.clock is now.clock is Clock.SYNCHRONISED and past.off <= now.on:
        away_s = (now.on - past.off).total_seconds()
    if away_s is not None and away_s > STOP_S:
        return False
    told = Flag.BY_PERSON in past.flags  # then the tag that was given need not be the one that is heard
    doubtful = UNSURE & {*past.flags, *now.flags}
    if past.tag is not None and now.tag is not None and not told and not (doubtful and past.tag.id != now.tag.id):
        return past.tag.id == now.tag.id
    if away_s is None:
        return False
    agree = _agree(past.weight, now.weight)
    if agree is not None:
        return agree
    had_room = not _came_in_sight(past) or (past.off - past.on).total_seconds() + away_s > BRIEF_S
    left = Flag.INTERRUPTED not in now.flags  # else it may have stood there for longer
    return not had_room or (left and away_s + (now.off - now.on).total_seconds() <= PASSING_S)


def _came_in_sight(past: Weighing) -> bool:
    """Return whether its first foot was seen: it was not on at the start, or only in a later part of its stay."""
    return Flag.ON_AT_START not in past.flags or past.why == WHY


def _agree(past: Weight, now: Weight) -> bool | None:
    """Return whether two weights are one animal's; None where they cannot tell.  A poor one does not speak against."""
    if past.kg is None or now.kg is None:
        return None
    if abs(past.kg - now.kg) <= SAME_PERCENT / 100 * past.kg:
        return True
    if "poor" in {past.grade, now.grade}:
        return None if abs(past.kg - now.kg) <= POOR_PERCENT / 100 * max(past.kg, now.kg) else False
    return False


def joined(past: Weighing, now: Weighing, away_s: float | None) -> Weighing:
    """Make one weighing of both parts: the better weight, the tag and whatever else either has.

    Times taken before the clock was known are made again from the later part's, where the time between is known.
    """
    late = timedelta()
    if past.clock is not Clock.SYNCHRONISED and away_s is not None:
        late = now.on - timedelta(seconds=away_s) - past.off
    better = now.weight if GRADES.index(now.weight.grade) <= GRADES.index(past.weight.grade) else past.weight
    spoken = Flag.BY_PERSON in past.flags and Flag.BY_PERSON not in now.flags
    tagged = past if spoken or now.tag is None else now
    flags = {*past.flags, *now.flags} - OF_TAG | OF_TAG & {*tagged.flags}
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
            "why": now.why or (WHY if _came_in_sight(past) else WHY_TOO),
        }
    )


def _last(past: tuple[Named, ...], now: tuple[Named, ...]) -> tuple[Named, ...]:
    """Return what was said in both parts of a stay; of one name what was said last."""
    said: dict[str, Named] = {one.name: one for one in (*past, *now)}
    return (*said.values(),)
