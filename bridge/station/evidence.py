"""What speaks for which tag in which stay: the points of all readers of a station, added up.

Points are natural logarithms of odds: three are twenty to one, seven a thousand to one.

    reader       how its reads are weighed                                                  points
    platform     the share of the stay in which the tag was heard, and of the stays beside  panel.py's table
    ahead        tags queue: their order is laid beside that of the stays (order.py)        AHEAD on the best way, else none
    hand         a person reads one animal after the other: likewise                        HAND on the best way, else none
    any          a stay has a tag that works, nineteen times of twenty                      STANDS

A reader ahead says nothing of animals that it hears again after the stay began: they cannot have stood in it.  A read by
hand costs by its distance from the stay: the animal standing now is meant, or the last one for a while, or the next.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from math import inf

from bridge.events import Position
from bridge.station import panel
from bridge.station.ears import Heard, Pass, Span
from bridge.station.habits import Habits
from bridge.station.order import Laid, Lengths, lay

STANDS = 3.0
AHEAD = 3.0
CANNOT = -9.0
PLACES = 9
"""Places between a reader ahead and the platform, at most."""
BACKED_OUT, UNHEARD, ODD_PLACE, LONGER, SHORTER = 6.3, 3.6, 2.2, 5.0, 5.7
"""Ahead, what it costs to skip a tag, to skip a stay, that one came past a place sooner or later, and a longer or shorter
queue from there on."""
AGAIN_S = 8.0
"""Unheard for so long, a tag in front of a reader ahead has gone and come again."""
HAND = 6.0
MISREAD, UNREAD, SWAPPED = 4.6, 3.9, 1.5
"""By hand, what it costs to skip a tag, to skip a stay, and that two were read in the wrong order."""
AWAY, AWAY_PER_S, AWAY_MOST = 1.5, 0.4, 9.0
"""A read by hand outside the stay costs the first at once and the second for every second of distance."""


@dataclass(slots=True)
class Points:
    """What speaks for one pass in one stay, by name.

    `margin`: by how much an order was sure of it, and the pass that it would have had else (None: none).
    """

    parts: dict[str, float] = field(default_factory=dict)
    margin: tuple[float, int | None] = (inf, None)
    heard_well: bool = False  # a reader at the platform speaks for it

    @property
    def total(self) -> float:
        """All of it."""
        return sum(self.parts.values())


class Witness:
    """Everything heard, weighed against every stay: made once for a deal.

    `readers`: where each stands.  `habits`: what was learned of each.  `deaf`: (link, number) of stays
    of which a reader's silence says nothing.
    """

    def __init__(
        self,
        readers: Mapping[str, Position],
        habits: Mapping[str, Habits],
        spans: Sequence[Span],
        deaf: frozenset[tuple[str, int]] = frozenset(),
    ) -> None:
        self._readers, self._habits, self._spans, self._deaf = readers, habits, spans, deaf
        self._fixed: Mapping[int, int | None] = {}
        self._taken: AbstractSet[int] = frozenset()

    def weigh(
        self, passes: Sequence[Pass], fixed: Mapping[int, int | None], taken: AbstractSet[int] = frozenset()
    ) -> dict[tuple[int, int], Points]:
        """Give the points of (stay, pass), by their places in the lists.

        `fixed`: the pass, or None, of stays long decided; `taken`: all passes that are spoken for, by these or others.
        """
        self._fixed, self._taken = fixed, taken
        table: dict[tuple[int, int], Points] = {}
        for link, position in self._readers.items():
            heards = {of: mine for of, one in enumerate(passes) if (mine := [h for h in one.heard if h.link == link])}
            if position == "platform":
                for of, mine in heards.items():
                    for at, parts in panel.weigh(mine, self._spans, self._habits[link].share).items():
                        named = {f"{link}: {name}": points for name, points in parts.items()}
                        points = table.setdefault((at, of), Points())
                        points.parts.update(named)
                        points.heard_well |= sum(parts.values()) > 0
            elif heards:
                self._in_order(link, heards, table, ahead=position == "ahead")
        for (at, of), points in table.items():
            points.parts.update(self._unheard(at, passes[of]))
            points.parts["a stay has a tag"] = STANDS
        return table

    def _in_order(
        self,
        link: str,
        heards: Mapping[int, Sequence[Heard]],
        table: dict[tuple[int, int], Points],
        *,
        ahead: bool,
    ) -> None:
        """Lay the order of one reader's tags beside that of the stays, and let it speak for the best way."""
        when = {of: came(mine) if ahead else mine[0].t for of, mine in heards.items()}
        order = sorted(when, key=lambda of: (when[of], of))
        laid = self._lay_queue(link, order, when) if ahead else self._lay_hand(order, heards)
        what = "its place in the queue" if ahead else "read in its turn"
        for (place, at), cost in laid.pairs.items():
            of = order[place]
            points = table.setdefault((at, of), Points())
            if cost > 1e-9:
                points.parts[f"{link}: not {what}"] = -STANDS - min(9.0, cost)
                continue
            margin, rival = laid.margin(place, at)
            points.margin = min(
                points.margin, (margin, None if rival is None else order[rival]), key=lambda one: one[0]
            )
            away = 0.0 if ahead else _away(heards[of], self._spans[at])
            points.parts[f"{link}: {what}" + (f", {away:.1f} s away" if away else "")] = (
                AHEAD if ahead else HAND - _away_cost(away)
            )
        if ahead:
            for (at, of), points in table.items():
                if of in when and heards[of][0].t < self._spans[at].on < when[of]:
                    points.parts[f"{link}: came past again later"] = CANNOT

    def _lay_queue(self, link: str, order: Sequence[int], when: Mapping[int, float]) -> Laid:
        began = [span.on for span in self._spans]
        lags = {
            (place, stay): lag
            for stay, on in enumerate(began)
            for place, of in enumerate(order)
            if self._may(of, stay) and when[of] < on and (lag := stays_since(when[of], began[: stay + 1])) <= PLACES
        }
        usual = self._habits[link].queue
        lengths = sorted({*lags.values()} | ({usual} if usual is not None else set())) or [1]
        steps = [more - less for less, more in zip(lengths, lengths[1:], strict=False)]
        return lay(
            {pair: [ODD_PLACE * abs(lag - length) for length in lengths] for pair, lag in lags.items()},
            [BACKED_OUT] * len(order),
            self._skips(order, UNHEARD),
            Lengths(
                start=[0.0 if usual in (None, length) else inf for length in lengths],
                longer=[LONGER * step for step in steps],
                shorter=[SHORTER * step for step in steps],
            ),
        )

    def _lay_hand(self, order: Sequence[int], heards: Mapping[int, Sequence[Heard]]) -> Laid:
        pairs = {
            (place, stay): [cost]
            for stay, span in enumerate(self._spans)
            for place, of in enumerate(order)
            if self._may(of, stay) and (cost := _away_cost(_away(heards[of], span))) < AWAY_MOST
        }
        return lay(pairs, [MISREAD] * len(order), self._skips(order, UNREAD), swap=SWAPPED)

    def _may(self, of: int, at: int) -> bool:
        """Tell whether a pass can still be a stay's, by what is decided."""
        return self._fixed[at] == of if at in self._fixed else of not in self._taken

    def _skips(self, order: Sequence[int], cost: float) -> list[float]:
        """What leaving each stay empty costs: nothing for one long decided without a tag from here."""
        return [
            cost if at not in self._fixed else inf if self._fixed[at] in order else 0.0
            for at in range(len(self._spans))
        ]

    def _unheard(self, at: int, one: Pass) -> dict[str, float]:
        """Count it against a tag that a reader at the platform never heard it, if that reader could."""
        span = self._spans[at]
        return {
            f"{link}: not heard": panel.stands(0, panel.slots(span), round(self._habits[link].share, 2))
            for link, position in self._readers.items()
            if position == "platform"
            and (link, span.number) not in self._deaf
            and not any(heard.link == link for heard in one.heard)
        }


def came(heards: Sequence[Heard]) -> float:
    """When a tag came before a reader ahead for the last time: one that backed out comes again."""
    last = heards[0].t
    for before, heard in zip(heards, heards[1:], strict=False):
        if heard.t - before.t > AGAIN_S:
            last = heard.t
    return last


def _away(heards: Sequence[Heard], span: Span) -> float:
    """Seconds from a stay to the nearest read; nothing when it was read during the stay."""
    return min(max(span.on - heard.t, heard.t - span.off, 0.0) for heard in heards)


def _away_cost(away: float) -> float:
    return AWAY + AWAY_PER_S * away if away else 0.0


def stays_since(t: float, began: Sequence[float]) -> int:
    """Count the stays that began since: 1 when the next one is meant."""
    return sum(1 for on in began if on > t)
