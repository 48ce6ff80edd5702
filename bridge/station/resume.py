"""The animal that still stands there when the box is back: its stay goes on, and stays one weighing.

A box that stops while an animal stands on the platform ends that stay as one weighing, flagged `interrupted`.  When it
starts again something may stand there: the same animal, or another that came meanwhile.  What the platform shows before
anything else belongs to that stay if, in this order,

    it was on at the start, and the box was not away for longer than animals stand there
    the tags, where both parts have one, are the same
    it is known how long the box was away, and what steps on as it is back may still be on its way up since before
    the weights agree
    or too little is known of either part, and another animal has no room in time: from the first foot of the first
    part to the second is too short for one animal to be weighed and leave and the next to stand in its place, or from
    the stop to the end of the second for the next to come, be weighed and leave

How short is too short each station learns from its own turns: the time from one animal's first foot to the next one's,
or from last foot to last foot.  The quickest of the last ones tells, and the fewer they are the less it does: no limit
of our own suits a yard where a steer follows every twelve seconds and one where a sheep does every four.

What steps on as the box is back put its first foot there just now.  So it is the same only if that one was just coming
on as the box stopped, whatever both weigh.

Of a part that was itself on at the start, and did not go on with an earlier one, nobody saw the first foot: that animal
may have been about to leave, and how long its part was seen says nothing of how soon another stands there.

What is not surely the same animal is weighed as another: a weighing too many is seen, one too few is lost.  However
often the box stops, each part is held against all that came before it.

Of 1,287 stays around a kill where the next animal steps on as the last one leaves 3 had no weighing (14 by one limit
for all yards) and 87 had two (60); of 1,096 sheep 1 (8) and 10 (5); in calm yards of 1,275 none (none) and 25 (35).
Days of `kill_within_stays` (tests/support/killed_stays.py) from seeds 0, 3000 and 6000, whose stations begin without
any turns: 500, 500 and 400 kills, in calm yards 600, 500 and 500.
"""

from collections import deque
from collections.abc import Iterable
from datetime import timedelta
from typing import TypeVar

from neckyoke.bridge.events import Clock, DoseSaid, Finding, Flag, Weighing, Weight
from neckyoke.bridge.station.amend import OF_TAG
from neckyoke.bridge.station.record import Record, in_order, not_given

Named = TypeVar("Named", bound=Finding | DoseSaid)
STOP_S = 300.0
"""An animal does not stand there for longer than this while the box is away."""
TURNS = 20
"""Turns that a station remembers."""
UNKNOWN_S, MOST_S = 4.5, 10.0
"""What it takes for the least where it remembers none or few that are longer; and at most, for breaks are no turns."""
STEPPED_S = 0.5
"""What has all its feet on put the first there so long ago, at least."""
COMING_ON_S = 4.0
"""Hardly one takes longer from the first foot to all of them, a pause half on included."""
SAME_PERCENT, POOR_PERCENT = 1.0, 10.0
"""Weights of one animal in two parts of a stay differ by no more; where one of them is poor, by no more than the second
for all that can be said."""
UNSURE = frozenset({Flag.TAG_DOUBTFUL, Flag.TWO_TAGS})
"""A tag so flagged, of a part too short to be sure of it, does not speak against another."""
LOST = frozenset({Flag.INTERRUPTED, Flag.INDICATOR_LOST})
"""Nobody saw one so flagged leave,"""
CUT = LOST | {Flag.ON_AT_START, Flag.CAME_BACK}
"""nor one of these come; or it is the one before."""
GRADES = ("good", "fair", "poor", "none")
WHY = "the animal still stood there when the box was back"
WHY_TOO = "the animal still stood there when the box was back again"
"""Of one whose first foot was not seen."""


class Turns:
    """How long the last turns took, from one animal to the next, in seconds."""

    def __init__(self, lately_s: Iterable[float] = ()) -> None:
        self._lately_s = deque(lately_s, TURNS)

    @property
    def lately_s(self) -> tuple[float, ...]:
        """The last turns, to remember."""
        return (*self._lately_s,)

    @property
    def least_s(self) -> float:
        """What the next turn hardly takes less than: it is quicker than all of n before with a chance of 1/(n + 1)."""
        quickest_s, seen = min(self._lately_s, default=UNKNOWN_S), len(self._lately_s)
        return min(quickest_s, max(UNKNOWN_S, quickest_s * seen / (seen + 1)), MOST_S)

    def came(self, before: Record, record: Record, unseen_s: float | None) -> None:
        """Learn from two stays, one after the other, as the second begins; `unseen_s`: between the first's parts."""
        first_foot = _first_foot(before, unseen_s)
        if first_foot is not None and record.in_sight:
            self._lately_s.append(round(record.on - first_foot, 1))

    def left(self, before: Record, record: Record) -> None:
        """Learn from two stays, one after the other, as the second has ended."""
        cut = CUT & {*record.platform_flags} or LOST & {*before.platform_flags}
        if before.off is not None and record.off is not None and not cut:
            self._lately_s.append(round(record.off - before.off, 1))


def _first_foot(record: Record, unseen_s: float | None) -> float | None:
    """Return when its first foot was seen, None when it was not; `unseen_s`: between its parts, if it goes on."""
    past = record.resumes
    if past is None or unseen_s is None:
        return record.on if record.in_sight else None
    return record.on - unseen_s - (past.off - past.on).total_seconds() if _came_in_sight(past) else None


def goes_on(past: Weighing, now: Weighing, away_s: float | None, turn_s: float, *, steps_on: bool = False) -> bool:
    """Return whether the first stay of this run is the one that the last run left open.

    `away_s` is the time between the two in seconds, as a clock that ran through told it; None where none did.  In less
    than `turn_s` no animal is in the place of another.  `steps_on`: all its feet were not on yet as this run began.
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
    seen_s = (past.off - past.on).total_seconds()
    if away_s is None or (steps_on and seen_s + away_s > COMING_ON_S):
        return False
    agree = _agree(past.weight, now.weight)
    if agree is not None:
        return agree
    had_room = not _came_in_sight(past) or seen_s + away_s - (0.0 if steps_on else STEPPED_S) > turn_s
    left = Flag.INTERRUPTED not in now.flags  # else it may have stood there for longer
    return not had_room or (left and away_s + (now.off - now.on).total_seconds() <= turn_s)


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
