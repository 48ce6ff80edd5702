"""A reader at the platform: in how much of a stay a tag was heard.

Theory.  Of a tag, four things may be true: its animal stood in this stay; it waited behind this stay's animal and stood
in the next; it lingered in front and stood in the one before; it never stood here, but was near (in the adjoining pen).
Each says how much of a stay the reader would hear of it.  A stay is cut into slots of a second; the share of them in
which the tag was heard is compared with the share that this reader usually hears of the animal that stands (learned:
some readers repeat a tag ten times a second, some say it once).  With a usual share of 80 % and ten slots:

    heard in         standing here    waiting or lingering    in the adjoining pen
    10 of 10             +7.3               +2.9                    +3.9
     5 of 10             +5.7               +4.3                    +5.8
     1 of 10             +4.7               +5.0                    +6.8
     0 of 10             -3.0               -0.2                    -1.2

Zero points: a tag that has nothing to do with the stay, heard by chance.  What speaks for a tag in the stays beside its
own is added to what speaks for it in its own, so a tag heard twice here and ten times in the next stay belongs there.
How often a neighbour is heard at all, and how often the animal that stands is not, is learned too (15 % and 5 % in the
table).  The adjoining pen costs `PEN` first: it takes reads in several stays to believe in it.
"""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import exp, lgamma, log
from operator import attrgetter

from neckyoke.bridge.station.tags.readers.detections import BEFORE_S, Detection, Span, during
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel

CHANCE = 0.002
"""How often a tag is heard in a stay it has nothing to do with."""
OTHERWISE = 0.15
"""How often an animal is heard otherwise than usual: then any share is as likely as any other."""
LATE = 0.15
"""How often an animal that stands is first heard at any moment of its stay."""
PEN = -9.5
WAITS_S = 60.0
LINGERS_S = 8.0
"""A tag that waits is heard no longer than this before its stay; one that lingers, into the next or after its own."""
COMES, GOES = 2.0, 1.0
"""Return the points for being heard just before the stay, or just after, while nobody stands, and not in it."""
SLOTS = 30


def slots(span: Span) -> int:
    """Return the number of slots that a stay is cut into."""
    return max(1, min(SLOTS, round(span.length_s)))


def heard_slots(detections: Sequence[Detection], span: Span) -> int:
    """Return the number of them in which a tag was heard."""
    if not detections:
        return 0
    count = slots(span)
    on, per_s = span.on, count / span.length_s
    return len({max(0, min(count - 1, int((heard.t - on) * per_s))) for heard in detections})


@lru_cache(maxsize=2048)
def _spread(n: int, of: int, share: float, firmness: float) -> float:
    """Return the chance of `n` slots of `of` when shares scatter about `share`.

    Beta-binomial (J. G. Skellam 1948, from memory).
    """
    a, b = share * firmness, (1 - share) * firmness
    return exp(
        lgamma(of + 1) - lgamma(n + 1) - lgamma(of - n + 1)
        + lgamma(n + a) + lgamma(of - n + b) - lgamma(of + a + b)
        + lgamma(a + b) - lgamma(a) - lgamma(b)
    )  # fmt: skip


def _heard(n: int, of: int, share: float, firmness: float) -> float:
    """Return the chance of `n` slots of `of` given that there was any, over that of being heard in `n` by chance."""
    return _spread(n, of, share, firmness) / (1 - _spread(0, of, share, firmness)) * of / CHANCE


@lru_cache(maxsize=2048)
def stands(n: int, of: int, usual: float, missed: float = 0.05) -> float:
    """Return the points for standing there of a tag heard in `n` slots of `of`.

    `missed`: how often an animal that stands there is not heard at all.
    """
    if n == 0:
        return log(max(missed, _spread(0, of, usual, 3.0)))
    return log((1 - missed) * ((1 - OTHERWISE) * _heard(n, of, usual, 3.0) + OTHERWISE / CHANCE))


def beside(n: int, of: int, usual: float, often: float = 0.15) -> float:
    """Return the points for waiting or lingering while another stands.

    `often`: how often a neighbour is heard here at all.
    """
    return log(often * _heard(n, of, 0.4 * usual, 2.5)) if n else log(1 - often)


@lru_cache(maxsize=2048)
def in_pen(n: int, of: int, usual: float) -> float:
    """Return the points for being in the adjoining pen all along."""
    return log(0.7 * _heard(n, of, 0.3 * usual, 2.5)) if n else log(0.3)


def entered(after_s: float, span: Span, usual_s: float) -> float:
    """Return the points for standing there of a tag that was first heard so long after stepping on.

    Its own animal's head comes to the reader with it: soon, exponentially about `usual_s`, but for `LATE` of animals.
    One that comes up to wait behind does so at any moment of the stay.
    """
    soon = exp(-after_s / usual_s) / usual_s / (1 - exp(-span.length_s / usual_s))
    return log((1 - LATE) * soon * span.length_s + LATE)


def unheard(span: Span, model: ReaderModel) -> float:
    """Return the points for standing there unheard, of a tag that other readers heard."""
    return stands(0, slots(span), round(model.share, 2), model.missed)


def score(detections: Sequence[Detection], spans: Sequence[Span], model: ReaderModel) -> dict[int, dict[str, float]]:
    """Return, for every stay that one tag's detections may speak for, its points by name."""
    usual, often = round(model.share, 2), model.beside
    first, last = detections[0].t, detections[-1].t
    near = [at for at, span in enumerate(spans) if first <= span.off + LINGERS_S and last >= span.on - WAITS_S]
    counts = {at: heard_slots(during(detections, spans[at]), spans[at]) for at in near}
    of = {at: slots(spans[at]) for at in near}
    pen = {at: in_pen(n, of[at], usual) for at, n in counts.items() if n or first <= spans[at].on <= last}
    pen_all = max(0.0, PEN + sum(pen.values()))
    found: dict[int, dict[str, float]] = {}
    for at, n in counts.items():
        neighbours = {
            **_waited(at, counts, detections, spans, usual, often),
            **_lingered(at, counts, detections, spans, usual, often),
        }
        if not n and not neighbours:
            continue
        found[at] = {f"heard in {n} of {of[at]} s": stands(n, of[at], usual, model.missed)}
        found[at].update((name, points) for (name, _), points in neighbours.items())
        if n and spans[at].on - BEFORE_S <= first <= spans[at].off:
            after_s = max(0.0, first - spans[at].on)
            found[at][f"first heard {after_s:.1f} s after stepping on"] = entered(after_s, spans[at], model.entry_s)
        explained = {at, *(other for _, other in neighbours)}
        pen_rest = max(0.0, PEN + sum(value for other, value in pen.items() if other not in explained))
        if pen_all != pen_rest:
            found[at]["may be in the next pen"] = pen_rest - pen_all
    return found


def _waited(
    at: int,
    counts: Mapping[int, int],
    detections: Sequence[Detection],
    spans: Sequence[Span],
    usual: float,
    often: float,
) -> Mapping[tuple[str, int], float]:
    """Return the points, by name and stay, for waiting behind: in the stay before, or between it and this one."""
    if counts.get(at - 1):
        return {("waited before", at - 1): beside(counts[at - 1], slots(spans[at - 1]), usual, often)}
    since = max(spans[at].on - WAITS_S, spans[at - 1].off if at else 0.0)
    if not counts[at] and _between(detections, since, spans[at].on):
        return {("came up before", at): COMES}
    return {}


def _lingered(
    at: int,
    counts: Mapping[int, int],
    detections: Sequence[Detection],
    spans: Sequence[Span],
    usual: float,
    often: float,
) -> Mapping[tuple[str, int], float]:
    """Return the points, by name and stay, for lingering in front: into the stay after, or until it began."""
    off = spans[at].off
    following = spans[at + 1] if at + 1 < len(spans) else None
    if following is not None and counts.get(at + 1):
        if during(detections, following)[-1].t > following.on + LINGERS_S:
            return {}
        return {("lingered after", at + 1): beside(counts[at + 1], slots(following), usual, often)}
    until = off + LINGERS_S if following is None else min(off + LINGERS_S, following.on)
    return {("lingered", at): GOES} if not counts[at] and _between(detections, off, until) else {}


def _between(detections: Sequence[Detection], start: float, end: float) -> bool:
    at = bisect_left(detections, start, key=attrgetter("t"))
    return at < len(detections) and detections[at].t < end
