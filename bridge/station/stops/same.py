"""Whether what stands there when the box is back is the animal that stood there when it stopped.

A box that stops while an animal stands on the platform ends that stay as one weighing, flagged `interrupted`.  When it
starts again something may stand there: the same animal, or another that came meanwhile.  It is the same only if it was
on at the start, and the box was not away for longer than animals stand there.  Then everything that is known is weighed
together, each as how many times likelier it makes another animal than the same one (a naive Bayes classifier: the
factors are multiplied as if each spoke for itself alone):

    time      what the station's own visits say (`Visits`), where it is known how long the box was away
    stepping  what steps on as the box is back put its first foot there just now, unless the other was coming on too
    leaving   what had lifted most of its feet as the box stopped was on its way, and hardly stands there still
    weight    how well both agree, beside how many of the mob could pass for it; a poor weight says less, and so does
              what stood there still for a moment where a part has none at all.  A first part without one may speak
              against it, never for it; and what was seen for a moment at half the weight of what stands there now may
              have been half on: that says nothing
    tags      where both have one; one that is doubtful, or that a person gave, says little or nothing

Taken for the same is what is five times as likely to be (`SAME`): a weighing too many is seen, one too few is
lost.  What is another twenty times as likely (`ANOTHER`) is weighed as that.  Between them nobody can tell: it is
weighed as another, and flagged `maybe-same`, so that a person looks.  However often the box stops, each part is held
against all that came before it.  It is judged as the stay has ended, and again whenever its tag becomes another: two
weighings become one then, the second struck out (`voided`), or one becomes two.
"""

from dataclasses import dataclass, replace
from math import inf, log

from neckyoke.bridge.events import Clock, Flag, Weighing, Weight
from neckyoke.bridge.station.stops.visits import ALIKE, STEPPED_S, Visits, came_in_sight

STOP_S = 300.0
"""An animal does not stand there for longer than this while the box is away."""
SAME, ANOTHER = 0.2, 20.0
"""At most so many times likelier another it is the same; so many times, and it is another."""
COMING_ON_S = 4.0
"""Hardly one takes longer from the first foot to all of them, a pause half on included."""
WHO_KNOWS = 7.0
"""Where nobody knows how long the box was away another is so many times likelier."""
STEPS_ON = 20.0
"""What steps on as the box is back is so many times likelier another."""
LEAVING = 10.0
"""What was leaving as the box stopped is so many times likelier another."""
HALF, HALF_S = (1.65, 2.2), 3.5
"""What weighs so many times what was seen for no longer may have had half its feet on then: two or three of four."""
BARELY_S = 0.8
"""What was weighed by less may have been on its way up or down: that tells nobody who it was."""
TRUSTED, ROUGH = (0.85, 0.96, 0.99, 0.995, 1.0), (0.78, 0.88, 0.95, 0.975, 1.0)
"""Of two weights of one animal in two parts of a stay so many are within the shares of `ALIKE`, or further apart: where
both promise something, and where one is poor or only what stood there.  From simulated yards, no other source."""
TAGS_SAME, TAGS_DIFFER = (0.025, 0.15), (30.0, 3.0)
"""The same tag, and another, where both are sure, and where one is not: a reader hears the neighbours too."""
UNSURE = frozenset({Flag.TAG_DOUBTFUL, Flag.TWO_TAGS})
"""A tag so flagged is of a part too short to be sure of it; one weighed before may still be the last animal's."""


@dataclass(frozen=True, slots=True)
class Between:
    """What is known of a stop beside the weighings of both parts.

    `away_s` is for how long nobody saw the platform, as a clock that ran through told it; None where none did.
    `steps_on`: not all its feet were on yet as this run began; `left`: most of them were lifted as the one before
    ended.  `stood_kg` what stood there last in the one part, and
    first in the other, roughly, each None where nothing stood still.
    """

    away_s: float | None
    steps_on: bool = False
    stood_kg: tuple[float | None, float | None] = (None, None)
    left: bool = False


def odds_another(past: Weighing, now: Weighing, between: Between, visits: Visits) -> float:
    """Return how many times likelier the first stay of this run is another animal's than of the one that was left."""
    away_s = between.away_s
    if away_s is None and past.clock is now.clock is Clock.SYNCHRONISED and past.off <= now.on:
        away_s = (now.on - past.off).total_seconds()
    if Flag.ON_AT_START not in now.flags or (away_s is not None and away_s > STOP_S):
        return inf
    before, after = (_kg(one.weight) or stood for one, stood in zip((past, now), between.stood_kg, strict=True))
    weights = _weights(past, now, before, after, visits)
    time = _time(past, now, replace(between, away_s=away_s), visits, max(before or 0.0, after or 0.0))
    return time * weights * (LEAVING if between.left else 1.0) * _tags(past, now)


def _kg(weight: Weight) -> float | None:
    return weight.kg if weight.span_s >= BARELY_S else None


def _time(past: Weighing, now: Weighing, between: Between, visits: Visits, kg: float) -> float:
    away_s, steps_on = between.away_s, between.steps_on
    if away_s is None:
        return WHO_KNOWS
    seen_s, in_sight = (past.off - past.on).total_seconds(), came_in_sight(past)
    left = Flag.INTERRUPTED not in now.flags  # else it may have stood there for longer
    odds = visits.odds_another(
        seen_s if in_sight else None,
        away_s,
        (now.off - now.on).total_seconds() if left else None,
        0.0 if steps_on else STEPPED_S,
        kg,
    )
    comes_on = in_sight and seen_s + away_s <= COMING_ON_S
    return odds * (STEPS_ON if steps_on and not comes_on else 1.0)


def _weights(past: Weighing, now: Weighing, before: float | None, after: float | None, visits: Visits) -> float:
    grades = {past.weight.grade, now.weight.grade}
    trusted, least = not grades & {"poor", "none"}, 1.0 if _kg(past.weight) is None else 0.0
    if not (before and after and min(before, after) > 0):
        return 1.0
    brief = (past.off - past.on).total_seconds() <= HALF_S and past.weight.grade in {"poor", "none"}
    most = 1.0 if brief and HALF[0] <= after / before <= HALF[1] else inf
    apart = abs(log(after / before))
    same_below = mob_below = 0.0
    for within, same in zip((*(within for within, _ in ALIKE), inf), TRUSTED if trusted else ROUGH, strict=True):
        mob = 1.0 if within == inf else visits.share_alike(after, within)
        if apart <= within:
            return min(most, max(least, (mob - mob_below) / (same - same_below)))
        same_below, mob_below = same, mob
    raise AssertionError("nothing is further apart than any")


def _tags(past: Weighing, now: Weighing) -> float:
    if past.tag is None or now.tag is None or Flag.BY_PERSON in past.flags:
        return 1.0  # the tag that a person gave need not be the one that is heard
    if past.tag.id == now.tag.id:
        return TAGS_SAME[bool(UNSURE & {*past.flags, *now.flags})]
    return TAGS_DIFFER[bool(UNSURE & {*past.flags, *now.flags} or Flag.REPEAT in past.flags)]
