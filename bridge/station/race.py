"""A reader ahead of the platform, in the race: animals queue.

Theory.  Animals come past the reader one behind the other and stand on the platform in that order (order.py).  Mostly
one comes when one goes: an animal comes past as many stays before its own as the queue between reader and platform is
long (learned).  What does not fit costs; what the readers at the platform hear makes a pair cheaper.  An animal that
backs out and comes again is taken at its last coming.  Two that change places behind the reader leave no trace, and
that is why order alone is never free of doubt.
"""

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from math import inf

from bridge.station.ears import Heard, Span
from bridge.station.habits import Habits
from bridge.station.order import Laid, Lengths, lay

PLACES = 9
"""Places between the reader and the platform, at most."""
BACKED_OUT = 7.5
"""A tag stands nowhere although a later one does."""
UNHEARD = 3.0
"""A stay has no tag from here."""
HUNG_BACK, CLOSED_UP = 2.0, 4.0
"""An animal came past a place later, or sooner, than the queue is long."""
FILLING, FILLS = 0.3, 3
"""The first so many animals of a day find the queue still filling: to come late costs them only so much."""
LONGER, SHORTER = 5.5, 6.5
"""The queue is a place longer, or shorter, from here on."""
AGAIN_S = 8.0
"""Unheard for so long, a tag in front of the reader has gone and come again."""


def came(heards: Sequence[Heard]) -> float:
    """Say when a tag came past for the last time."""
    last = heards[0].t
    for before, heard in pairwise(heards):
        if heard.t - before.t > AGAIN_S:
            last = heard.t
    return last


def stays_since(t: float, began: Sequence[float]) -> int:
    """Count the stays that began since: 1 when the next one is meant."""
    return sum(1 for on in began if on > t)


def _odd(places: int, *, filling: bool) -> float:
    """Say what it costs to have come past so many places too soon, or, below none, too late."""
    return CLOSED_UP * places if places > 0 else -(FILLING if filling else HUNG_BACK) * places


def lay_queue(
    when: Sequence[float],
    spans: Sequence[Span],
    habits: Habits,
    skip_stay: Sequence[float],
    cheaper: Callable[[int, int], float | None],
) -> Laid:
    """Lay the tags, in the order of `when` they came, beside the stays.

    `cheaper` says by how much other readers make (tag, stay) cheaper; None when it cannot be.
    """
    began = [span.on for span in spans]
    lags: Mapping[tuple[int, int], int] = {
        (tag, stay): lag
        for stay, on in enumerate(began)
        for tag, t in enumerate(when)
        if t < on and (lag := stays_since(t, began[: stay + 1])) <= PLACES
    }
    usual = habits.queue
    lengths = sorted({*lags.values()} | ({usual} if usual is not None else set())) or [1]
    steps = [more - less for less, more in pairwise(lengths)]
    pairs = {
        pair: [_odd(lag - length, filling=usual is None and pair[1] < FILLS) - less for length in lengths]
        for pair, lag in lags.items()
        if (less := cheaper(*pair)) is not None
    }
    return lay(
        pairs,
        [BACKED_OUT] * len(when),
        [UNHEARD * cost for cost in skip_stay],
        Lengths(
            start=[0.0 if usual in (None, length) else inf for length in lengths],
            longer=[LONGER * step for step in steps],
            shorter=[SHORTER * step for step in steps],
        ),
    )
