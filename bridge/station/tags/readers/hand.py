"""A reader in the hand: a person reads the animal standing now, or the last one for a while, or the next beforehand.

Theory.  A read during a stay is meant for it.  Beside a reader at the platform, a read outside costs by how seldom this
person slips (learned), and by its distance.  Where no reader at the platform hears the tags too, they are laid beside
the stays in the order in which they were read (chances.py), each read as likely for a stay as this person's habit says
(habit.py): a person reads one animal after the other, and if two were read in a stay and none in the next, one was
early.  Now and then a person reads the animal beside in place of the one that stands: of `MISTAKEN` stays; then that
one's tag is unread, and if the other is not read again in its own turn, nothing shows it but that two tags were read
where three animals stood.  Of stays without a tag read, `WORKING` have one that works.
"""

from collections.abc import Callable, Sequence
from math import log

from neckyoke.bridge.station.tags.readers.alignment import Pair
from neckyoke.bridge.station.tags.readers.chances import chances
from neckyoke.bridge.station.tags.readers.detections import Detection, Span, during
from neckyoke.bridge.station.tags.readers.habit import Habit

STRAY = 1e-4
"""Reads a second of a tag that stands nowhere here, of each tag that was read at all."""
MISTAKEN, WORKING = 0.01, 1 / 3
"""Assumptions (common practice, no source)."""
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
    """Return how likely each tag, in the order in which they were read, is each stay's, of all orders."""
    return chances(turn_odds(tags, spans, habit, may), len(tags), len(spans))


def turn_odds(
    tags: Sequence[Sequence[Detection]], spans: Sequence[Span], habit: Habit, may: Callable[[int, int], bool]
) -> dict[Pair, float]:
    """Return how many times likelier each tag is each stay's than nobody's here, and the stay without.

    What is read after the last stay may be of an animal still to come.
    """
    read, beside = (1 - habit.unread) / habit.unread, MISTAKEN / 2 * WORKING / habit.unread
    last = spans[-1].off if spans else 0.0
    odds: dict[Pair, float] = {}
    for tag, detections in enumerate(tags):
        dense = [_density(detections, span, habit) for span in spans]
        within = [d if during(detections, span, slack=False) else 0.0 for d, span in zip(dense, spans, strict=True)]
        nobody = STRAY + habit.coming() * (detections[-1].t > last)
        for stay, here in enumerate(dense):
            neighbours = sum(within[other] for other in (stay - 1, stay + 1) if 0 <= other < len(spans))
            if (likely := read * here + beside * neighbours) > 0 and may(tag, stay):
                odds[tag, stay] = likely / nobody
    return odds


def _density(detections: Sequence[Detection], span: Span, habit: Habit) -> float:
    """Return how dense a tag's reads are as reads of this stay: of several, any may be the one meant for it."""
    dense, pressed, before = 0.0, 0.0, None
    for heard in detections:
        if heard.t < span.on - FARTHEST_S or heard.t > span.off + FARTHEST_S:
            continue
        if before is not None and heard.t - before > PRESS_S:
            dense, pressed = dense + pressed, 0.0
        pressed, before = max(pressed, habit.density(heard.t, span)), heard.t
    return dense + pressed
