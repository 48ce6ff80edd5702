"""The assignment: who gets which tag when several stays and several tags are open at once.

Every tag may go to one stay, every stay may take one tag, and either may go without.  Of all assignments the
one with the most points in all is taken.  How far it stands ahead of the best one that gives a certain stay anything
else is that stay's *margin*; it says how sure the assignment is there, whatever it is elsewhere.

The assignment problem is solved by shortest augmenting paths with prices (the "Hungarian" method, H. W. Kuhn, Naval
Research Logistics 2 (1955) 83; J. Munkres, J. SIAM 5 (1957) 32; both from memory).  Stays take *places*: a
tag, or a place of their own that costs nothing and means no tag; points are costs below nothing.  Each stay in turn
takes what it likes best and, if that is taken, the shortest chain of "then you take another" frees it.  The prices that
this leaves behind make a margin as cheap: it is the shortest chain that begins with the stay leaving its place and ends
with another, or nobody, taking that.
"""

from collections.abc import Iterable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from math import inf
from typing import Final, TypeAlias

PairPoints: TypeAlias = Mapping[tuple[int, int], float]
"""(stay, tag): points.  A pair that is absent, or has no more than nothing, is never assigned."""
NOBODY: Final = -1
"""Who holds every place that no stay does."""


@dataclass(frozen=True, slots=True)
class Assigned:
    """What one stay got: a tag or None, its margin in points, and what it would get in the next best assignment.

    `taker` is the stay that would get its tag then, if any; `taker_untagged`: that one goes without now.
    """

    tag: int | None
    margin: float
    rival: int | None
    taker: int | None = None
    taker_untagged: bool = False


class Assignment:
    """The best assignment of tags to stays, both numbered from 0.  Among equal ones it is always the same."""

    def __init__(self, stays: Iterable[int], points: PairPoints) -> None:
        self._costs: dict[int, dict[int, float]] = {stay: {} for stay in stays}
        for (stay, tag), value in sorted(points.items()):
            if value > 0:
                self._costs[stay][tag] = -value
        self._stay_price = dict.fromkeys([NOBODY, *self._costs], 0.0)
        self._place_price: dict[int, float] = {}  # of those held; the others cost nothing
        self._holder: dict[int, int] = {}
        self._place: dict[int, int] = {}
        for stay, costs in self._costs.items():
            costs[_no_tag(stay)] = 0.0
            self._seat(stay)

    @property
    def stays(self) -> AbstractSet[int]:
        """The stays that were assigned a place."""
        return self._place.keys()

    def tag(self, stay: int) -> int | None:
        """Return the tag that a stay got."""
        return _tag(self._place[stay])

    def at(self, stay: int) -> Assigned:
        """Return what a stay got, and how sure that is."""
        own = self._place[stay]
        if len(self._costs[stay]) == 1:
            return Assigned(None, inf, None)
        least, before = self._chains(stay, own)
        *_, rival = _chain(own, before)
        left = before[own]  # where the one who takes its own place then stands now
        taker = None if left is None else self._holder.get(left)
        return Assigned(_tag(own), least[own], _tag(rival), taker, taker is not None and left == _no_tag(taker))

    def _seat(self, stay: int) -> None:
        """Give one more stay a place, moving others where that is best."""
        prices = self._place_price
        least, before = self._chains(stay)
        end, total = least.popitem()
        for place, cost in least.items():
            prices[place] = prices.get(place, 0.0) + cost - total
            self._stay_price[self._holder[place]] += total - cost
        self._stay_price[stay] += total
        for place in _chain(end, before):
            freed = before[place]
            taker = stay if freed is None else self._holder[freed]
            self._holder[place], self._place[taker] = taker, place

    def _chains(self, start: int, left: int | None = None) -> tuple[dict[int, float], dict[int, int | None]]:
        """Find the shortest chains that begin with a stay (E. W. Dijkstra, 1959, from memory).

        A stay that has no place yet goes up to the first place that nobody holds; one that leaves its place (`left`),
        until that is taken, by anybody who does better so or by nobody.  Returns what it costs at least that each place
        on the way is taken, the last of them last; and for each the place that its taker left, None for the start.
        """
        least: dict[int, float] = {}
        before: dict[int, int | None] = {}
        waiting: dict[int, float] = {}
        place, stay, spent = None, start, 0.0
        while True:
            spent -= self._stay_price[stay]
            costs = self._costs[stay] if stay != NOBODY else dict.fromkeys(self._holder, 0.0)
            for other, cost in costs.items():
                if other in least or (stay == start and other == left):
                    continue
                sum_ = spent + cost - self._place_price.get(other, 0.0)
                if sum_ < waiting.get(other, inf):
                    waiting[other], before[other] = sum_, place
            place = min(waiting, key=waiting.__getitem__)
            spent = least[place] = waiting.pop(place)
            stay = self._holder.get(place, NOBODY)
            if place == left or (left is None and stay == NOBODY):
                return least, before


def _chain(end: int, before: Mapping[int, int | None]) -> Iterator[int]:
    """Yield the places of a chain, from its end to its beginning."""
    place: int | None = end
    while place is not None:
        yield place
        place = before[place]


def _no_tag(stay: int) -> int:
    """Return the place of its own that a stay has: to go without."""
    return -1 - stay


def _tag(place: int) -> int | None:
    return place if place >= 0 else None
