"""A reader in the hand: a person reads the animal standing now, or the last one for a while, or the next beforehand.

Theory.  A read during a stay is meant for it.  A read outside costs by how seldom this person slips (learned), and by
its distance.  Where no reader at the platform hears the tags too, they are aligned with the stays in the order in which
they were read (alignment.py): a person reads one animal after the other, and if two were read in a stay and none in the
next, one was early.
"""

from collections.abc import Callable, Sequence
from math import log

from neckyoke.bridge.station.tags.readers.alignment import Alignment, align
from neckyoke.bridge.station.tags.readers.detections import Detection, Span

MISREAD = 4.6
"""A tag was read that stands nowhere."""
UNREAD = 3.9
"""A stay was not read."""
SWAPPED = 1.25
"""Two were read in the wrong order."""
AWAY_S, AWAY_PER_S, LATER_PER_S = 6.0, 0.05, 0.6
"""A second of distance costs the second, beyond the first the third besides."""
AWAY_MOST = 9.0
"""What costs more is not meant for the stay."""


def away_s(detections: Sequence[Detection], span: Span) -> float:
    """Return the seconds from a stay to the nearest read; nothing when it was read during the stay."""
    return min(max(span.on - heard.t, heard.t - span.off, 0.0) for heard in detections)


def away_cost(away: float, slips: float) -> float:
    """Return what it costs that a read lies so far from the stay."""
    return AWAY_PER_S * away + LATER_PER_S * max(0.0, away - AWAY_S) - log(slips) if away else 0.0


def align_reads(
    tags: Sequence[Sequence[Detection]],
    spans: Sequence[Span],
    slips: float,
    skip_stay: Sequence[float],
    may: Callable[[int, int], bool],
) -> Alignment:
    """Align the tags, in the order in which they were read, with the stays."""
    pairs = {
        (tag, stay): cost
        for stay, span in enumerate(spans)
        for tag, detections in enumerate(tags)
        if may(tag, stay) and (cost := away_cost(away_s(detections, span), slips)) < AWAY_MOST
    }
    return align(pairs, [MISREAD] * len(tags), [UNREAD * cost for cost in skip_stay], swap=SWAPPED)
