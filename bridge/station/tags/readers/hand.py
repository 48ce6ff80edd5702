"""A reader in the hand: a person reads the animal standing now, or the last one for a while, or the next beforehand.

Theory.  A read during a stay is meant for it.  Beside a reader at the platform, a read outside costs by how seldom
this person slips (learned), and by its distance.  Where no reader at the platform hears the tags too, all ways in
which they can have been read are added up (chances.py), each read as likely for a stay as this person's habit says
(habit.py): a person reads one animal after the other, and if two were read in a stay and none in the next, one was
early.  Now and then a person reads the animal beside in place of the one that stands: `MISTAKEN` of what they read;
then that one's tag is unread, and if the other is not read again in its own turn, nothing shows it but that two tags
were read where three animals stood.  Of stays without a tag read some have one that works all the same: `MISSED` of
all stays, but no more than `WORKING` of those that are left unread.
"""

from collections.abc import Callable, Sequence
from math import log

from neckyoke.bridge.station.tags.readers.alignment import Pair
from neckyoke.bridge.station.tags.readers.chances import Manner, Read, chances
from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.habit import Habit

STRAY = 1e-4
"""Reads a second of a tag that stands nowhere here, of each tag that was read at all."""
MISTAKEN, MISSED, WORKING = 0.02, 0.04, 0.75
"""Assumptions (common practice, no source).  `MISTAKEN` is twice what the drawn yards have in the mean: nobody knows
whether a person does, and of what is no more than half a percent unlikely then, 5.8 were expected to be wrong of 6,600
pairs of 200 yards of the row stick (tests/bench/drawn.py, even seeds), and 2 were."""
PRESS_S = 2.0
"""Reads of one tag no further apart are one read: a person presses again to be sure."""
FARTHEST_S = 30.0
"""A read further off is not meant for the stay."""
AWAY_S, AWAY_PER_S, LATER_PER_S = 6.0, 0.05, 0.6
"""A second of distance costs the second, beyond the first the third besides."""
AWAY_MOST = 9.0
"""What costs more is not meant for the stay."""


def away_s(detections: Sequence[Detection], span: Span) -> float:
    """Return the seconds from a stay to the nearest read; nothing when it was read during the stay."""
    return abs(off_s(detections, span))


def off_s(detections: Sequence[Detection], span: Span) -> float:
    """Return the seconds from a stay to the nearest read, below nothing when it was before the stay."""
    return min(
        (heard.t - span.on if heard.t < span.on else max(heard.t - span.off, 0.0) for heard in detections), key=abs
    )


def away_cost(away: float, slips: float) -> float:
    """Return what it costs that a read lies so far from the stay."""
    return AWAY_PER_S * away + LATER_PER_S * max(0.0, away - AWAY_S) - log(slips) if away else 0.0


def in_turn(
    tags: Sequence[Sequence[Detection]], spans: Sequence[Span], habit: Habit, may: Callable[[int, int], bool]
) -> dict[Pair, float]:
    """Return how likely each tag is each stay's, of all ways in which they can have been read."""
    last = spans[-1].off if spans else 0.0
    missed = min(MISSED, WORKING * habit.unread)
    manner = Manner(1 - habit.unread + missed, missed / (1 - habit.unread + missed), MISTAKEN)
    reads = [
        Read(tag, _odds(pressed, spans, habit, STRAY + habit.coming() * (pressed[-1].t > last)))
        for tag, detections in enumerate(tags)
        for pressed in _pressed(detections)
    ]
    return chances(reads, len(spans), manner, may)


def _pressed(detections: Sequence[Detection]) -> list[list[Detection]]:
    """Return the reads of a tag one by one: pressed again soon, it is one read."""
    reads: list[list[Detection]] = []
    for heard in detections:
        if reads and heard.t - reads[-1][-1].t <= PRESS_S:
            reads[-1].append(heard)
        else:
            reads.append([heard])
    return reads


def _odds(pressed: Sequence[Detection], spans: Sequence[Span], habit: Habit, nobody: float) -> dict[int, float]:
    """Return for each stay near how many times likelier a read is when meant for it: by the press that fits it best."""
    return {
        at: max(habit.density(heard.t, span) for heard in pressed) / nobody
        for at, span in enumerate(spans)
        if span.on - FARTHEST_S <= pressed[0].t <= span.off + FARTHEST_S
    }
