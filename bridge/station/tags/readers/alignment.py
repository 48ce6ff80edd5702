"""Tags aligned with stays in order: for readers that animals come to one after the other.

Theory.  The tags, in the order in which they were read, are aligned with the stays, in the order in which they began.
Some tags are skipped (misread, or the animal backed out), some stays (the reader missed them), and a pair may cost
something by itself.  The cheapest alignment of all of them is looked for, and for each pair and each empty stay the
cheapest way that has it; the difference says how sure the pair is.

The sums are those of the shortest path through a grid of tags and stays (edit distance: Wagner and Fischer, J. ACM 21
(1974) 168, from memory), once from either end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

EQUAL = 1e-4
"""Between equal alignments the one that leaves the earlier stay empty is taken: one of them, not a bit of each."""
Pair: TypeAlias = tuple[int, int]
"""A tag and a stay, by their places."""
Grid: TypeAlias = list[list[float]]
"""A line a stay, a column a tag: costs at each crossing."""


@dataclass(frozen=True, slots=True)
class Alignment:
    """What the cheapest alignment that has each pair, or leaves each stay empty, costs in all."""

    pairs: Mapping[Pair, float]
    empty: Sequence[float]

    @property
    def least(self) -> float:
        """What the cheapest of all costs."""
        return min([*self.pairs.values(), *self.empty], default=0.0)

    def extra(self, tag: int, stay: int) -> float:
        """Return how much the cheapest alignment with this pair costs more than the cheapest."""
        return self.pairs[tag, stay] - self.least

    def margin(self, tag: int, stay: int) -> tuple[float, int | None]:
        """Return how much more the cheapest alignment without this pair costs, and the tag it gives the stay."""
        rivals: list[tuple[float, int | None]] = [(self.empty[stay], None)]
        rivals += [(cost, other) for (other, at), cost in self.pairs.items() if at == stay and other != tag]
        least, rival = min(rivals, key=lambda one: one[0])
        return least - self.pairs[tag, stay], rival


def align(
    pairs: Mapping[Pair, float],
    skip_tag: Sequence[float],
    skip_stay: Sequence[float],
) -> Alignment:
    """Align tags with stays.

    `pairs` holds those that can be, with their costs; `skip_tag` and `skip_stay` say what leaving one out costs
    (infinite: it must not be).  Tags left over at the end cost nothing: they still wait.
    """
    skip_stay = [skip + EQUAL * stay for stay, skip in enumerate(skip_stay)]
    forth = _forth(pairs, skip_tag, skip_stay)
    back = _back(pairs, skip_tag, skip_stay)
    costs = {(tag, stay): forth[stay][tag] + cost + back[stay + 1][tag + 1] for (tag, stay), cost in pairs.items()}
    empty = [
        skip + min(a + b for a, b in zip(forth[stay], back[stay + 1], strict=True))
        for stay, skip in enumerate(skip_stay)
    ]
    return Alignment({pair: cost for pair, cost in costs.items() if cost < inf}, empty)


def cheapest(ways: Sequence[Alignment], more: Sequence[float]) -> Alignment:
    """Take the cheapest of several alignments for each pair and each empty stay; `more`: what each costs by itself."""
    pairs: dict[Pair, float] = {}
    for aligned, extra in zip(ways, more, strict=True):
        for pair, cost in aligned.pairs.items():
            pairs[pair] = min(pairs.get(pair, inf), cost + extra)
    columns = zip(
        *([cost + extra for cost in aligned.empty] for aligned, extra in zip(ways, more, strict=True)), strict=True
    )
    return Alignment(pairs, [min(column) for column in columns])


def _forth(pairs: Mapping[Pair, float], skip_tag: Sequence[float], skip_stay: Sequence[float]) -> Grid:
    """Return the least cost, by stays and tags, of having aligned the first of both."""
    line = [0.0]
    for skip in skip_tag:
        line.append(line[-1] + skip)
    lines = [line]
    for stay, skip in enumerate(skip_stay):
        above, line = lines[-1], []
        for tag, over in enumerate(above):
            cost = over + skip
            if tag:
                cost = min(cost, line[-1] + skip_tag[tag - 1], above[tag - 1] + pairs.get((tag - 1, stay), inf))
            line.append(cost)
        lines.append(line)
    return lines


def _back(pairs: Mapping[Pair, float], skip_tag: Sequence[float], skip_stay: Sequence[float]) -> Grid:
    """Return the least cost, by stays and tags, of aligning what is left."""
    tags = len(skip_tag)
    lines = [[0.0] * (tags + 1)]
    for stay in range(len(skip_stay) - 1, -1, -1):
        below, skip = lines[-1], skip_stay[stay]
        line = [inf] * (tags + 1)
        line[tags] = below[tags] + skip
        for tag in range(tags - 1, -1, -1):
            line[tag] = min(
                below[tag] + skip, line[tag + 1] + skip_tag[tag], below[tag + 1] + pairs.get((tag, stay), inf)
            )
        lines.append(line)
    return lines[::-1]
