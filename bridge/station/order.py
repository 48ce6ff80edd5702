"""Tags laid beside stays in order: for readers that animals, or a person, come to one after the other.

Theory.  The tags, in the order in which they were read, are laid beside the stays, in the order in which they began.
Some tags are skipped (misread, or the animal backed out), some stays (the reader missed them), and a pair may cost
something by itself.  The cheapest way of laying all of them is looked for, and for each pair and each empty stay the
cheapest way that has it; the difference says how sure the pair is.  Two neighbours may have been read in the wrong
order, at a cost, where that is allowed.

A queue between reader and platform keeps its length: mostly one comes when one goes.  So a way of laying has a *length*
at every step, a pair costs by how far it is from that, and a change of length costs `longer`.

The sums are those of the shortest path through a grid of tags and stays (edit distance: Wagner and Fischer, J. ACM 21
(1974) 168, from memory), once from either end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

EQUAL = 1e-4
"""Between equal ways the one that leaves the earlier stay empty is taken: one of them, not a bit of each."""
Pair: TypeAlias = tuple[int, int]
"""A tag and a stay, by their places."""
Costs: TypeAlias = Sequence[float]
"""A cost at each length that the queue may have."""


@dataclass(frozen=True, slots=True)
class Lengths:
    """The lengths that a queue may have: what it costs to have each at first, to go from each to the next, and back."""

    start: Costs = (0.0,)
    longer: Costs = ()
    shorter: Costs = ()


@dataclass(frozen=True, slots=True)
class Laid:
    """What each pair, and each stay left empty, costs more than the cheapest way."""

    pairs: Mapping[Pair, float]
    empty: Sequence[float]

    def margin(self, tag: int, stay: int) -> tuple[float, int | None]:
        """Give how much the cheapest way without this pair costs more, and the tag that the stay has in it."""
        rivals: list[tuple[float, int | None]] = [(self.empty[stay], None)]
        rivals += [(cost, other) for (other, at), cost in self.pairs.items() if at == stay and other != tag]
        least, rival = min(rivals, key=lambda one: one[0])
        return least - self.pairs[tag, stay], rival


def lay(
    pairs: Mapping[Pair, Costs],
    skip_tag: Sequence[float],
    skip_stay: Sequence[float],
    lengths: Lengths = Lengths(),
    swap: float = inf,
) -> Laid:
    """Lay tags beside stays.

    `pairs` holds those that can be, with their costs at each length; `skip_tag` and `skip_stay` say what leaving one
    out costs (infinite: it must not be).  `lengths`: those of the queue.  `swap`: what it costs that two neighbours
    change places.  Tags left over at the end cost nothing: they still wait.
    """
    skip_stay = [skip + EQUAL * stay for stay, skip in enumerate(skip_stay)]
    swaps = {
        (tag, stay): [a + b + swap for a, b in zip(pairs[tag, stay + 1], pairs[tag + 1, stay], strict=True)]
        for tag, stay in pairs
        if swap < inf and (tag, stay + 1) in pairs and (tag + 1, stay) in pairs
    }
    grid = _Grid(pairs, swaps, skip_tag, skip_stay, lengths)
    forth, back = grid.forth(), grid.back()
    costs = {
        (tag, stay): min(a + b + c for a, b, c in zip(forth[stay][tag], cost, back[stay + 1][tag + 1], strict=True))
        for (tag, stay), cost in pairs.items()
    }
    for (tag, stay), cost in swaps.items():
        both = min(a + b + c for a, b, c in zip(forth[stay][tag], cost, back[stay + 2][tag + 2], strict=True))
        for pair in ((tag, stay + 1), (tag + 1, stay)):
            costs[pair] = min(costs[pair], both)
    empty = [skip + _cheapest(forth[stay], back[stay + 1]) for stay, skip in enumerate(skip_stay)]
    least = min([*costs.values(), *empty], default=0.0)
    if least == inf:
        return Laid({}, [inf] * len(skip_stay))
    return Laid({pair: cost - least for pair, cost in costs.items() if cost < inf}, [cost - least for cost in empty])


class _Grid:
    """The grid: a column a stay, a row a tag; at each crossing a cost for every length."""

    def __init__(
        self,
        pairs: Mapping[Pair, Costs],
        swaps: Mapping[Pair, Costs],
        skip_tag: Sequence[float],
        skip_stay: Sequence[float],
        lengths: Lengths,
    ) -> None:
        self._swaps = swaps
        self._pairs, self._skip_tag, self._skip_stay, self._lengths = pairs, skip_tag, skip_stay, lengths

    def forth(self) -> list[list[Costs]]:
        """Give the least cost, by stays and tags, of having laid the first of both."""
        tags, longer, shorter = len(self._skip_tag), self._lengths.longer, self._lengths.shorter
        column: list[Costs] = [_stretch(self._lengths.start, longer, shorter)]
        for skip in self._skip_tag:
            column.append([cost + skip for cost in column[-1]])
        columns = [column]
        for stay, skip in enumerate(self._skip_stay):
            before, column = columns[-1], []
            for tag in range(tags + 1):
                costs: Costs = [cost + skip for cost in before[tag]]
                if tag:
                    costs = _least(costs, column[tag - 1], self._skip_tag[tag - 1])
                    pair = self._pairs.get((tag - 1, stay))
                    if pair is not None:
                        costs = _least(costs, [a + b for a, b in zip(before[tag - 1], pair, strict=True)])
                    both = self._swaps.get((tag - 2, stay - 1))
                    if both is not None:
                        costs = _least(costs, [a + b for a, b in zip(columns[-2][tag - 2], both, strict=True)])
                column.append(_stretch(costs, longer, shorter))
            columns.append(column)
        return columns

    def back(self) -> list[list[Costs]]:
        """Give the least cost, by stays and tags, of laying what is left."""
        tags, longer, shorter = len(self._skip_tag), self._lengths.longer, self._lengths.shorter
        never = [inf] * len(self._lengths.start)
        columns: list[list[Costs]] = [[[0.0] * len(never)] * (tags + 1)]
        for stay in range(len(self._skip_stay) - 1, -1, -1):
            after, skip = columns[-1], self._skip_stay[stay]
            column: list[Costs] = [never] * (tags + 1)
            for tag in range(tags, -1, -1):
                costs: Costs = [cost + skip for cost in after[tag]]
                if tag < tags:
                    costs = _least(costs, column[tag + 1], self._skip_tag[tag])
                    pair = self._pairs.get((tag, stay))
                    if pair is not None:
                        costs = _least(costs, [a + b for a, b in zip(after[tag + 1], pair, strict=True)])
                    both = self._swaps.get((tag, stay))
                    if both is not None:
                        costs = _least(costs, [a + b for a, b in zip(columns[-2][tag + 2], both, strict=True)])
                column[tag] = _stretch(costs, shorter, longer)
            columns.append(column)
        return columns[::-1]


def _stretch(costs: Costs, up: Sequence[float], down: Sequence[float]) -> Costs:
    """Let the queue change its length: from each to the next for `up`, back for `down`."""
    if not up:
        return costs
    out = list(costs)
    for at, more in enumerate(up):
        out[at + 1] = min(out[at + 1], out[at] + more)
    for at in range(len(down) - 1, -1, -1):
        out[at] = min(out[at], out[at + 1] + down[at])
    return out


def _least(one: Costs, other: Costs, more: float = 0.0) -> Costs:
    return [min(b + more, a) for a, b in zip(one, other, strict=True)]


def _cheapest(forth: Sequence[Costs], back: Sequence[Costs]) -> float:
    """Give the least cost of going on from anywhere: over all tags and lengths."""
    return min(a + b for one, other in zip(forth, back, strict=True) for a, b in zip(one, other, strict=True))
