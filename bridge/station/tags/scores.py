"""The score of each pass at each stay: what all readers of a station say of it, added up.

Points are natural logarithms of odds: three are twenty to one, seven a thousand to one.

    reader      how its reads are weighed                                       points
    platform    the share of the stay in which the tag was heard, and of those  the table of readers/panel.py
                beside it
    platform    alone, and it says each tag once: how likely it is of all       logarithm of its odds, less TURN
                ways to say them
    platform    it hears other tags, but never this one                         as heard in none of the stay
    ahead       the order of the tags beside that of the stays                  AHEAD if in its place, else below none
    hand        beside one at the platform: its distance from the stay          HAND less what the distance costs
    hand        alone: how likely it is of all ways to read them                logarithm of its odds, less TURN
    any         a stay has a tag that works, nineteen times of twenty           STANDS
"""

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from functools import partial
from math import inf, log
from typing import TypeAlias

from neckyoke.bridge.events import Position
from neckyoke.bridge.station.tags.readers import once, panel
from neckyoke.bridge.station.tags.readers.alignment import Alignment, Pair
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.readers.hand import AWAY_MOST, away_cost, away_s, in_turn
from neckyoke.bridge.station.tags.readers.lag import cycle_s
from neckyoke.bridge.station.tags.readers.race import align_queue, apart, begun_between, came_alone, last_passage
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel

STANDS = 3.0
AHEAD = 3.0
HAND = 6.0
TURN, UNSURE, LIKELY = 1.0, 1e-9, 0.5
CANNOT = -9.0
"""It came past a reader ahead again after the stay began."""


@dataclass(slots=True)
class Score:
    """What one pass scores at one stay, by name.

    `order_margin`: by how much an order was sure of it, and the pass that the stay would have had else (None: none).
    """

    parts: dict[str, float] = field(default_factory=dict)
    order_margin: tuple[float, int | None] = (inf, None)
    heard_well: bool = False  # a reader at the platform speaks for it
    queue: float = 0.0  # of the points, those for its place in a queue
    came: float | None = None  # likewise, whatever the order of the others says; None: not heard there before the stay
    chance: float | None = None  # of all ways in which tags may have been read, those in which it is the stay's
    owner: int | None = None  # the other stay that is likeliest to be its
    alone: bool = False  # it alone can have come past a reader ahead, with one place behind it
    timed: bool = False  # it came past a reader ahead a steady time before the first foot

    def take_turn(self, name: str, chance: float, owner: int | None) -> None:
        """Take the chance of all ways that it is this stay's, and which other is likeliest to be its owner."""
        self.chance, self.owner = chance, owner
        odds = max(chance, UNSURE) / max(1 - chance, UNSURE)
        self.parts[f"{name}, {100 * chance:.1f} % likely in its turn"] = log(odds) - TURN

    @property
    def total(self) -> float:
        """All of it."""
        return sum(self.parts.values())


Scores: TypeAlias = dict[tuple[int, int], Score]
"""(stay, pass), by their places in their lists."""


@dataclass(frozen=True, slots=True)
class Decided:
    """What is not assigned any more: the pass, or None, of stays long decided; and every pass that is spoken for."""

    fixed: Mapping[int, int | None] = field(default_factory=dict)
    taken: AbstractSet[int] = frozenset()

    def may(self, of: int, at: int) -> bool:
        """Return whether a pass can still be a stay's."""
        return self.fixed[at] == of if at in self.fixed else of not in self.taken

    def skips(self, stays: int, order: Sequence[int]) -> list[float]:
        """Return what leaving each stay empty costs: nothing for one decided without these tags, 1 for an open one."""
        return [1.0 if at not in self.fixed else inf if self.fixed[at] in order else 0.0 for at in range(stays)]


class Scorer:
    """Scores everything heard at every stay.

    `readers`: where each stands.  `models`: what was learned of each.  `began`: when the last stays began, those
    before `spans` too.  `deaf`: (link, number) of stays of which a reader's silence says nothing.
    """

    def __init__(
        self,
        readers: Mapping[str, Position],
        models: Mapping[str, ReaderModel],
        spans: Sequence[Span],
        began: Sequence[float],
        deaf: AbstractSet[tuple[str, int]] = frozenset(),
    ) -> None:
        rank = {"platform": 0, "ahead": 1, "hand": 2}
        self._readers = dict(sorted(readers.items(), key=lambda one: rank[one[1]]))
        self._has_panel = "platform" in readers.values()
        self._models, self._spans, self._began, self._deaf = models, spans, began, deaf
        only = next(iter(readers)) if len(readers) == 1 else None
        self._says_once = only if only and readers[only] == "platform" and models[only].once.known else None
        self.ordered = self._says_once is not None or any(position != "platform" for position in readers.values())

    def score(self, passes: Sequence[Pass], decided: Decided) -> Scores:
        """Return the score of every (stay, pass) that can be."""
        table: Scores = {}
        for link, position in self._readers.items():
            detections = {
                of: mine for of, one in enumerate(passes) if (mine := [h for h in one.heard if h.link == link])
            }
            if link == self._says_once:
                self._once(link, detections, decided, table)
            elif position == "platform":
                self._at_platform(link, detections, table)
            elif position == "ahead":
                self._ahead(link, detections, decided, table)
            elif self._has_panel:
                self._by_hand(link, detections, table)
            else:
                self._by_hand_in_order(link, detections, decided, table)
        for (at, of), points in table.items():
            points.parts.update(self._unheard(at, passes[of]))
            points.parts["a stay has a tag"] = STANDS
        return table

    def _at_platform(self, link: str, detections: Mapping[int, Sequence[Detection]], table: Scores) -> None:
        for of, mine in detections.items():
            for at, parts in panel.score(mine, self._spans, self._models[link]).items():
                points = table.setdefault((at, of), Score())
                points.parts.update((f"{link}: {name}", value) for name, value in parts.items())
                points.heard_well |= sum(parts.values()) > 0

    def _ahead(self, link: str, detections: Mapping[int, Sequence[Detection]], decided: Decided, table: Scores) -> None:
        when = {of: last_passage(mine) for of, mine in detections.items()}
        order = sorted(when, key=lambda of: (when[of], of))

        def cheaper(place: int, at: int) -> float | None:
            points = table.get((at, order[place]))
            known = min(6.0, points.total) if points is not None and points.heard_well else 0.0
            return known if decided.may(order[place], at) else None

        skips = decided.skips(len(self._spans), order)
        came = [when[of] for of in order]
        aligned = align_queue(came, self._spans, self._began, self._models[link], skips, cheaper)
        least = aligned.least
        for (place, at), value in apart(came, aligned.pairs, self._spans, self._began, self._models[link]).items():
            points = table.setdefault((at, order[place]), Score())
            points.came = value + (points.came or 0.0)
        for (place, at), cost in aligned.pairs.items():
            points = table[at, order[place]]
            if cost > least + 1e-9:
                unlikely = min(3.0, cost - least) + (0.0 if points.heard_well else STANDS)
                points.parts[f"{link}: not its place in the queue"] = -unlikely
                points.queue -= unlikely
            else:
                points.parts[f"{link}: its place in the queue"] = AHEAD
                points.queue += AHEAD
                on = self._spans[at].on
                lag_s, lag, cycle = on - when[order[place]], self._models[link].lag, cycle_s(self._began)
                if self._models[link].single_file and begun_between(when[order[place]], on, self._began) == 1:
                    points.alone = came_alone([*when.values()], on, self._began) and not lag.is_odd(lag_s, cycle)
                if lag.is_usual(lag_s, cycle):
                    points.timed = True
                    points.parts[f"{link}: {lag_s:.1f} s before it, as usual"] = max(0.0, lag.points(lag_s, cycle))
                _doubt(points, aligned, order, place, at)
        for (at, of), points in table.items():
            if of in when and detections[of][0].t < self._spans[at].on < when[of]:
                points.parts[f"{link}: came past again later"] = points.came = CANNOT

    def _by_hand(self, link: str, detections: Mapping[int, Sequence[Detection]], table: Scores) -> None:
        for of, mine in detections.items():
            for at, span in enumerate(self._spans):
                away = away_s(mine, span)
                if (cost := away_cost(away, self._models[link].slips)) < AWAY_MOST:
                    table.setdefault((at, of), Score()).parts[_read(link, away)] = HAND - cost

    def _by_hand_in_order(
        self, link: str, detections: Mapping[int, Sequence[Detection]], decided: Decided, table: Scores
    ) -> None:
        order = sorted(detections, key=lambda of: (detections[of][0].t, of))
        heard = [detections[of] for of in order]
        may = partial(_may, decided, order)
        for (place, at), chance, owner in _owned(in_turn(heard, self._spans, self._models[link].habit, may)):
            points = table.setdefault((at, order[place]), Score())
            said = _read(link, away_s(detections[order[place]], self._spans[at]))
            points.take_turn(said, chance, owner)

    def _once(self, link: str, detections: Mapping[int, Sequence[Detection]], decided: Decided, table: Scores) -> None:
        order = sorted(detections, key=lambda of: (detections[of][0].t, of))
        heard = [detections[of] for of in order]
        may = partial(_may, decided, order)
        for (place, at), chance, owner in _owned(once.in_turn(heard, self._spans, self._models[link].once, may)):
            points = table.setdefault((at, order[place]), Score(heard_well=chance > LIKELY))
            after_s = heard[place][0].t - self._spans[at].on
            when = f"{abs(after_s):.1f} s {'before' if after_s < 0 else 'after'} stepping on"
            points.take_turn(f"{link}: said once, {when}", chance, owner)

    def _unheard(self, at: int, one: Pass) -> dict[str, float]:
        """Count it against a tag that a reader at the platform never heard it, if that reader could."""
        span = self._spans[at]
        return {
            f"{link}: not heard": panel.unheard(span, self._models[link])
            for link, position in self._readers.items()
            if position == "platform"
            and (link, span.number) not in self._deaf
            and not any(heard.link == link for heard in one.heard)
        }


def _may(decided: Decided, order: Sequence[int], place: int, at: int) -> bool:
    return decided.may(order[place], at)


def _owned(found: Mapping[Pair, float]) -> Iterator[tuple[Pair, float, int | None]]:
    """Yield each pair of a place and a stay with its chance, and the other stay that is likeliest to have the tag."""
    for (place, at), chance in found.items():
        beside = [(other, it) for (of, it), other in found.items() if of == place and it != at]
        yield (place, at), chance, max(beside, default=(0.0, None))[1]


def _doubt(points: Score, aligned: Alignment, order: Sequence[int], place: int, at: int) -> None:
    """Keep how sure an order was, if it was the least sure."""
    margin, rival = aligned.margin(place, at)
    if margin < points.order_margin[0]:
        points.order_margin = margin, None if rival is None else order[rival]


def _read(link: str, away: float) -> str:
    return f"{link}: read {away:.1f} s away" if away else f"{link}: read while it stood"
