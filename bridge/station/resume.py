"""The animal that still stands there when the box is back: its stay goes on, and stays one weighing.

A box that stops while an animal stands on the platform ends that stay as one weighing, flagged `interrupted`.  When it
starts again something may stand there: the same animal, or another that came meanwhile.  A stay of which both runs saw
a part is told by its tag; without one in both, by a weight that agrees and a clock that says how short the stop was.
What is not surely the same animal is weighed as another: a weighing too many is seen, one too few is lost.
"""

from neckyoke.bridge.events import Clock, Flag, Weighing
from neckyoke.bridge.station.amend import OF_TAG
from neckyoke.bridge.station.record import in_order

STOP_S = 300.0
"""An animal does not stand there for longer than this while the box is away."""
SAME_PERCENT = 1.0
"""Weights of one animal in two parts of a stay differ by no more."""
GRADES = ("good", "fair", "poor", "none")
WHY = "the animal still stood there when the box was back"


def goes_on(past: Weighing, now: Weighing) -> bool:
    """Return whether the first stay of this run is the one that the last run left open."""
    if Flag.ON_AT_START not in now.flags:
        return False
    away_s = (now.on - past.off).total_seconds()
    timed = past.clock is now.clock is Clock.SYNCHRONISED and away_s >= 0
    if timed and away_s > STOP_S:
        return False
    told = Flag.BY_PERSON in past.flags  # then the tag that was given need not be the one that is heard
    if past.tag is not None and now.tag is not None and not told:
        return past.tag.id == now.tag.id
    if not timed or past.weight.kg is None or now.weight.kg is None:
        return False
    return abs(past.weight.kg - now.weight.kg) <= SAME_PERCENT / 100 * past.weight.kg


def joined(past: Weighing, now: Weighing) -> Weighing:
    """Make one weighing of both parts: the better weight, the tag and whatever else either has."""
    better = now.weight if GRADES.index(now.weight.grade) <= GRADES.index(past.weight.grade) else past.weight
    tagged = past if Flag.BY_PERSON in past.flags or now.tag is None else now
    flags = {*past.flags, *now.flags} - OF_TAG | OF_TAG & {*tagged.flags}
    return now.model_copy(
        update={
            "weighing": past.weighing,
            "number": past.number,
            "revision": past.revision + now.revision,
            "tag": tagged.tag,
            "weight": better.model_copy(update={"first_kg": past.weight.first_kg or better.first_kg}),
            "on": past.on,
            "settled": past.settled or now.settled,
            "flags": in_order(flags),
            "animal": now.animal or past.animal,
            "notes": (*past.notes, *now.notes),
            "skipped": tuple(dict.fromkeys((*past.skipped, *now.skipped))),
            "why": now.why or WHY,
        }
    )
