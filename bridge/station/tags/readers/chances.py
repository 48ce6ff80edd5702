"""How likely each tag is each stay's, of all the ways to lay tags beside stays in order.

Theory.  Tags come in the order in which they were read, stays in the order in which they began; a tag may be nobody's,
a stay may have none, and two that follow each other may have been read in the wrong order.  The cheapest way alone
(alignment.py) says which is best, not how much of all belief it has: ten ways a little worse each may outweigh it.
So all ways are added up, each with the product of its pairs' odds: how many times likelier this pair is than that the
tag is nobody's and the stay has none.  The chance of a pair is the share of the ways that have it.

The sums are the forward and backward sums of a hidden Markov model (L. R. Rabiner, Proc. IEEE 77 (1989) 257; from
memory).  Of the ways with the last stay or the last tag left out, those with both are counted once.
"""

from collections.abc import Mapping
from typing import TypeAlias

from neckyoke.bridge.station.tags.readers.alignment import Pair

Sums: TypeAlias = list[list[float]]
"""A line a stay, a column a tag: the sum of all ways up to there."""


def chances(odds: Mapping[Pair, float], tags: int, stays: int) -> dict[Pair, float]:
    """Return the chance of each pair of a tag and a stay, both numbered from 0 in their order."""
    swaps = {
        (tag, later - 1): value * odds[tag + 1, later - 1]
        for (tag, later), value in odds.items()
        if (tag + 1, later - 1) in odds
    }
    forth = _sums(odds, swaps, tags, stays)
    mirrored = {(tags - 1 - tag, stays - 1 - stay): value for (tag, stay), value in odds.items()}
    swapped = {(tags - 2 - tag, stays - 2 - stay): value for (tag, stay), value in swaps.items()}
    back = _sums(mirrored, swapped, tags, stays)
    whole = forth[stays][tags]
    found = {
        (tag, stay): forth[stay][tag] * value * back[stays - 1 - stay][tags - 1 - tag] / whole
        for (tag, stay), value in odds.items()
    }
    for (tag, stay), value in swaps.items():
        both = forth[stay][tag] * value * back[stays - 2 - stay][tags - 2 - tag] / whole
        found[tag, stay + 1] += both
        found[tag + 1, stay] += both
    return found


def _sums(odds: Mapping[Pair, float], swaps: Mapping[Pair, float], tags: int, stays: int) -> Sums:
    """Return the sum of all ways of the first stays and the first tags, for each number of both."""
    lines = [[1.0] * (tags + 1)]
    for stay in range(stays):
        above, line = lines[-1], [1.0]
        for tag in range(tags):
            ways = above[tag + 1] + line[tag] + above[tag] * (odds.get((tag, stay), 0.0) - 1.0)
            if (both := swaps.get((tag - 1, stay - 1))) is not None:
                ways += lines[-2][tag - 1] * both
            line.append(ways)
        lines.append(line)
    return lines
