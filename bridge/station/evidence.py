"""The points a pass gets for a stay: natural logarithms of odds, added up.

Theory.  Of a tag, four things may be true: its animal stood in this stay; it waited behind this stay's animal and stood
in the next; it lingered in front and stood in the one before; it never stood here, but was near (in the adjoining pen).
Each says how much of a stay a reader at the platform would hear of it.  A stay is cut into slots of a second; the share
of them in which the tag was heard is compared with the share that this reader usually hears of the animal that stands
(learned: some readers repeat a tag ten times a second, some say it once).  With a usual share of 70 % and ten slots:

    heard in         standing here    waiting or lingering    in the adjoining pen
    10 of 10             +7.1               +3.4                    +3.0
     5 of 10             +5.3               +3.4                    +4.6
     1 of 10             +3.4               +3.4                    +5.1
     0 of 10             -3.0               -0.2                    -1.2

Zero points: a tag that has nothing to do with the stay, heard by chance.  Three points are odds of twenty to one, seven
of a thousand to one.  What speaks for a tag in the stays beside its own is added to what speaks for it in its own, so a
tag heard twice here and ten times in the next stay belongs there.  The adjoining pen costs `PEN` first: it takes reads in
several stays to believe in it.

A reader ahead gives `AHEAD` points to the stay that the tag's place in the queue leads to (race.py), less what another
stay would cost.  Heard ahead after a stay began, it cannot have stood in it.  A read by hand is meant for the animal that
stands: `HAND` points; less the longer before or after.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import exp, lgamma, log

from bridge.station.ears import Heard, Pass, Span, during
from bridge.station.race import lay

STANDS = 3.0
"""Nineteen of twenty stays have a tag that works: any tag that fits is better than none by so much."""
CHANCE = 0.005
"""How often a tag is heard in a stay it has nothing to do with."""
MISSED = 0.05
"""How often the reader at the platform does not hear the tag of the animal that stands there."""
BESIDE = 0.15
"""How often the neighbour's tag is heard."""
PEN = -5.0
LINGERS_S = 10.0
"""A tag that lingers is not heard longer than this after its stay."""
AHEAD = 3.0
CANNOT = -9.0
HAND = 6.0
HAND_AWAY, HAND_PER_S = 1.5, 0.4
"""A read by hand outside the stay costs the first at once and the second for every second of distance."""
AGAIN_S = 8.0
"""Unheard for so long, a tag in front of a reader ahead has gone and come again."""
SLOTS = 30
QUEUE_STAYS = 14
"""Stays beside which the queue is laid: those still open to change, and some before as a hold."""


@dataclass(slots=True)
class Habits:
    """What is learned of one reader: the `share` of a stay in which it hears the animal that stands."""

    share: float = 0.5

    def learn(self, share: float) -> None:
        """Learn from one clear pair."""
        self.share += 0.1 * (min(0.95, max(0.03, share)) - self.share)


@dataclass(slots=True)
class Points:
    """What speaks for one pass in one stay, by name."""

    parts: dict[str, float] = field(default_factory=dict)

    @property
    def total(self) -> float:
        """All of it."""
        return sum(self.parts.values())


def slots(span: Span) -> int:
    """Into how many slots a stay is cut."""
    return max(1, min(SLOTS, round(span.length_s)))


def heard_slots(heards: Sequence[Heard], span: Span) -> int:
    """In how many of them a tag was heard."""
    count = slots(span)
    return len({max(0, min(count - 1, int((heard.t - span.on) / span.length_s * count))) for heard in heards})


@lru_cache(maxsize=8192)
def _spread(n: int, of: int, share: float, firmness: float) -> float:
    """Chance of `n` slots of `of` when shares scatter about `share`: beta-binomial (Skellam 1948, from memory)."""
    a, b = share * firmness, (1 - share) * firmness
    return exp(
        lgamma(of + 1) - lgamma(n + 1) - lgamma(of - n + 1)
        + lgamma(n + a) + lgamma(of - n + b) - lgamma(of + a + b)
        + lgamma(a + b) - lgamma(a) - lgamma(b)
    )  # fmt: skip


def _given_heard(n: int, of: int, share: float, firmness: float) -> float:
    return _spread(n, of, share, firmness) / (1 - _spread(0, of, share, firmness))


def _chance(n: int, of: int, usual: float) -> float:
    return 1 - CHANCE if n == 0 else CHANCE * _given_heard(n, of, 0.5 * usual, 1.5)


def stands(n: int, of: int, usual: float) -> float:
    """Points of a tag heard in `n` slots of `of` for standing there."""
    if n == 0:
        return log(max(MISSED, _spread(0, of, usual, 3.0)))
    return log((1 - MISSED) * _given_heard(n, of, usual, 3.0) / _chance(n, of, usual))


def beside(n: int) -> float:
    """Points for waiting or lingering while another stands."""
    return log(BESIDE / CHANCE) if n else log(1 - BESIDE)


def in_pen(n: int, of: int, usual: float) -> float:
    """Points for being in the adjoining pen all along."""
    return log(0.3) if n == 0 else log(0.7 * _given_heard(n, of, 0.25, 2.0) / _chance(n, of, usual))


class Witness:
    """Everything heard, seen against every stay: made once for a deal.  `deaf(link, span)`: that reader heard nothing."""

    def __init__(
        self,
        spans: Sequence[Span],
        readers: Mapping[str, str],
        habits: Mapping[str, Habits],
        deaf: frozenset[tuple[str, int]] = frozenset(),
    ) -> None:
        self._spans = spans
        self._readers = readers
        self._habits = habits
        self._deaf = deaf
        self._queues: dict[str, dict[tuple[int, int], float]] = {}

    def weigh(self, passes: Sequence[Pass], fixed: Mapping[int, int | None]) -> dict[tuple[int, int], Points]:
        """Give the points of (stay, pass), by their places in the lists.  `fixed`: the passes of stays long decided."""
        for link, position in self._readers.items():
            if position == "ahead":
                self._queues[link] = self._queue(link, passes, fixed)
        return {(at, of): points for of, one in enumerate(passes) for at, points in self._points(of, one).items()}

    def _queue(
        self, link: str, passes: Sequence[Pass], fixed: Mapping[int, int | None]
    ) -> dict[tuple[int, int], float]:
        came = {of: _came([heard.t for heard in one.heard if heard.link == link]) for of, one in enumerate(passes)}
        order = sorted((t, of) for of, t in came.items() if t is not None)
        place = {of: at for at, (_, of) in enumerate(order)}
        skip = max(0, len(self._spans) - QUEUE_STAYS)
        began = [span.on for span in self._spans[skip:]]
        known = {at - skip: place.get(of) if of is not None else None for at, of in fixed.items() if at >= skip}
        costs = lay([t for t, _ in order], began, known)
        return {(order[tag][1], stay + skip): cost for (tag, stay), cost in costs.items()}

    def _points(self, of: int, one: Pass) -> dict[int, Points]:
        found: dict[int, Points] = {}
        by_link: dict[str, list[Heard]] = {link: [] for link in self._readers}
        for heard in one.heard:
            by_link[heard.link].append(heard)
        for link, position in self._readers.items():
            heards = by_link[link]
            if not heards:
                continue
            match position:
                case "platform":
                    self._at_platform(link, heards, found)
                case "ahead":
                    self._ahead(link, of, heards, found)
                case _:
                    self._by_hand(link, heards, found)
        for at, points in found.items():
            self._unheard(at, by_link, points)
            points.parts["a stay has a tag"] = STANDS
        return found

    def _at_platform(self, link: str, heards: Sequence[Heard], found: dict[int, Points]) -> None:
        usual = self._habits[link].share
        counts: dict[int, int] = {}
        for at, span in enumerate(self._spans):
            if heards[0].t <= span.off + LINGERS_S and heards[-1].t >= (span.before or span.on) - 60.0:
                counts[at] = heard_slots(during(heards, span), span)
        pen = {at: in_pen(n, slots(self._spans[at]), usual) for at, n in counts.items() if self._within(at, heards)}
        pen_all = max(0.0, PEN + sum(pen.values()))
        for at, n in counts.items():
            span = self._spans[at]
            before, after = counts.get(at - 1, 0), counts.get(at + 1, 0)
            waited = any((span.before if span.before is not None else span.on - 60.0) <= h.t < span.on for h in heards)
            if not n and not waited and not any(span.off < h.t <= span.off + LINGERS_S for h in heards):
                continue
            parts = found.setdefault(at, Points()).parts
            parts[f"{link}: heard in {n} of {slots(span)} s"] = stands(n, slots(span), usual)
            lingered = after and all(h.t <= span.off + LINGERS_S for h in during(heards, self._spans[at + 1]))
            if before or (waited and not n):
                parts[f"{link}: waited before"] = beside(1)
            if lingered:
                parts[f"{link}: lingered after"] = beside(1)
            near = {at, *([at - 1] if before else []), *([at + 1] if lingered else [])}
            pen_rest = max(0.0, PEN + sum(value for other, value in pen.items() if other not in near))
            if pen_all != pen_rest:
                parts[f"{link}: may be in the next pen"] = pen_rest - pen_all

    def _within(self, at: int, heards: Sequence[Heard]) -> bool:
        span = self._spans[at]
        return heards[0].t <= span.off and heards[-1].t >= span.on

    def _ahead(self, link: str, of: int, heards: Sequence[Heard], found: dict[int, Points]) -> None:
        for at, span in enumerate(self._spans):
            cost = self._queues[link].get((of, at))
            if cost is not None:
                found.setdefault(at, Points()).parts[f"{link}: its place in the queue"] = (
                    AHEAD if cost < 1e-9 else -3.0 * cost
                )
            elif any(heard.t < span.on for heard in heards):
                found.setdefault(at, Points()).parts[f"{link}: heard ahead later"] = CANNOT

    def _by_hand(self, link: str, heards: Sequence[Heard], found: dict[int, Points]) -> None:
        for at, span in enumerate(self._spans):
            away = min(max(span.on - heard.t, heard.t - span.off, 0.0) for heard in heards)
            cost = HAND_AWAY + HAND_PER_S * away if away else 0.0
            if cost < HAND + STANDS:
                text = f"{link}: read while it stood" if not away else f"{link}: read {away:.1f} s away"
                found.setdefault(at, Points()).parts[text] = HAND - cost

    def _unheard(self, at: int, by_link: Mapping[str, list[Heard]], points: Points) -> None:
        """Count it against a tag that a reader at the platform never heard it, if that reader could."""
        span = self._spans[at]
        for link, position in self._readers.items():
            if position == "platform" and not by_link[link] and (link, span.number) not in self._deaf:
                points.parts[f"{link}: not heard"] = stands(0, slots(span), self._habits[link].share)


def _came(times: Sequence[float]) -> float | None:
    """When a tag came before a reader ahead for the last time: one that backed out comes again."""
    came = None
    for before, t in zip([None, *times], times, strict=False):
        if before is None or t - before > AGAIN_S:
            came = t
    return came
