"""A reader ahead of the platform, in the race: animals queue.

Theory.  Animals come past the reader one behind the other and stand on the platform in that order (alignment.py).  The
race between reader and platform holds so many animals, its *places*, and mostly it is full: one comes past when one
steps on, as many stays before its own as there are places.  It comes later when it hung back or the race was still
filling, and never sooner but for a stay that was none, or two that changed places.  What does not fit costs; what the
readers at the platform hear makes a pair cheaper.  An animal that backs out and comes again is taken at its last
coming.

Order alone cannot tell a day from the same day shifted by one animal: only the places can.  A person may say how many
there are; else they are learned, and until they are, every number is tried.  Two that change places behind the reader
leave no trace either, and that is why order alone is never free of doubt; a steady time from the reader to the first
foot (lag.py) is evidence of another kind, and makes what fits it cheaper.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from math import inf

from neckyoke.bridge.station.settings import MOST_PLACES
from neckyoke.bridge.station.tags.readers.alignment import Alignment, Pair, align, cheapest
from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.lag import cycle_s
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel

BACKED_OUT = 6.0
"""A tag stands nowhere although a later one does."""
UNHEARD = 3.5
"""A stay has no tag from here."""
HUNG_BACK, FURTHER = 2.5, 1.0
"""An animal came past a stay later than a place was free, and each stay more."""
FILLING = 0.3
"""It came past so much later while the race was filling, each stay."""
CLOSED_UP = 5.0
"""It came past a stay sooner than there are places, each."""
PAUSE_S = 300.0
"""After nobody stood on the platform for so long, the race fills anew."""
AGAIN_S = 3.0
"""Unheard for so long, a tag in front of the reader has gone and come again."""


def last_passage(detections: Sequence[Detection]) -> float:
    """Return when a tag came past for the last time, in seconds."""
    last = detections[0].t
    for before, heard in pairwise(detections):
        if heard.t - before.t > AGAIN_S:
            last = heard.t
    return last


def begun_between(t: float, on: float, began: Sequence[float]) -> int:
    """Count the stays that began after `t`, up to the one that began at `on`."""
    return bisect_right(began, on) - bisect_right(began, t)


def came_alone(when: Sequence[float], on: float, began: Sequence[float]) -> bool:
    """Return whether one tag alone came past while the stay before stood, and another in the stay that began at `on`.

    Where one animal fits between reader and platform, nobody can have changed places with it then: it came past when
    the one before it was on, and the one behind it when it was on itself.  One who stood on the platform in between, a
    person or an animal that backed off, would have let nobody past.
    """
    at = bisect_right(began, on)
    before = began[at - 2] if at > 1 else -inf
    after = began[at] if at < len(began) else inf
    return sum(before < t <= on for t in when) == 1 and any(on < t <= after for t in when)


def apart(
    when: Sequence[float], pairs: Iterable[Pair], spans: Sequence[Span], began: Sequence[float], model: ReaderModel
) -> dict[Pair, float]:
    """Return the points of each pair of a tag and a stay by itself, whatever the order of the others says.

    By how many stays it came before its own, and how many seconds: an order that rests on what other readers heard
    cannot be added to that again (closer.py).
    """
    odds, cycle = model.places(), cycle_s(began)
    found = {}
    for tag, stay in pairs:
        t, span = when[tag], spans[stay]
        lag = begun_between(t, span.on, began)
        cost = min(_lag_cost(lag, places, span.turn) + more for places, more in odds.items())
        found[tag, stay] = model.lag.points(span.on - t, cycle) - cost
    return found


def align_queue(
    when: Sequence[float],
    spans: Sequence[Span],
    began: Sequence[float],
    model: ReaderModel,
    skip_stay: Sequence[float],
    cheaper: Callable[[int, int], float | None],
) -> Alignment:
    """Align the tags, in the order of `when` they came, with the stays.

    `began`: when the last stays began, those before `spans` too.  `cheaper` says by how much other readers make (tag,
    stay) cheaper; None when it cannot be.
    """
    lags = {
        (tag, stay): (lag, less)
        for tag, t in enumerate(when)
        for stay, span in enumerate(spans)
        if t < span.on and (lag := begun_between(t, span.on, began)) <= MOST_PLACES
        if (less := cheaper(tag, stay)) is not None
    }
    odds, cycle = model.places(), cycle_s(began)
    timed = {(tag, stay): model.lag.points(spans[stay].on - when[tag], cycle) for tag, stay in lags}
    ways = [
        align(
            {
                pair: _lag_cost(lag, places, spans[pair[1]].turn) - less - timed[pair]
                for pair, (lag, less) in lags.items()
            },
            [BACKED_OUT] * len(when),
            [UNHEARD * cost for cost in skip_stay],
        )
        for places in odds
    ]
    return cheapest(ways, list(odds.values()))


def _lag_cost(stays: int, places: int, turn: int) -> float:
    """Return what it costs to have come past so many stays before one's own, `turn` stays after the race was empty."""
    later = min(places, turn) - stays
    if later <= 0:
        return -CLOSED_UP * later
    return FILLING * later if turn <= places else HUNG_BACK + FURTHER * (later - 1)
