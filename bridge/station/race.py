"""The queue in the race: which tag heard ahead of the platform stands in which stay.

Theory.  Animals pass a reader in the race one behind the other and stand on the platform in that order.  So the tags, in
the order in which they were last heard, are laid beside the stays, in the order in which they began, such that a tag was
heard before its stay began.  What does not fit costs:

    SKIPPED_TAG     a tag that stands nowhere although a later one does: it backed out and went
    SKIPPED_STAY    a stay with no tag from the race: the reader missed it
    LONGER          for each place by which the queue between reader and platform is longer or shorter than at the stay
                    before: animals close up or hang back, but mostly one comes when one goes

The cheapest way of laying them side by side is looked for, and for each pair the cheapest way that has this pair in it.
Two animals that change places behind the reader leave no trace here; that is why order alone is never free of doubt.
"""

from collections.abc import Mapping, Sequence
from math import inf

SKIPPED_TAG = 4.0
SKIPPED_STAY = 3.0
LONGER = 3.2
LONGEST = 12
"""Places between the reader and the platform, at most."""
REACH = 3
"""Tags or stays skipped in a row, at most."""


def lay(
    heard: Sequence[float], began: Sequence[float], fixed: Mapping[int, int | None]
) -> dict[tuple[int, int], float]:
    """Give, for each (tag, stay) that can be a pair, what it costs more than the cheapest way.

    `heard`: when each tag was last heard, ascending.  `began`: when each stay began, ascending.  `fixed`: the tag of
    stays that are decided (None: none of these).
    """
    owner = {tag: stay for stay, tag in fixed.items() if tag is not None}
    lags = {
        (tag, stay): lag
        for tag, at in enumerate(heard)
        for stay, on in enumerate(began)
        if fixed.get(stay, tag) == tag
        and owner.get(tag, stay) == stay
        and 1 <= (lag := sum(1 for other in began[: stay + 1] if other > at)) <= LONGEST
    }
    free = {stay for stay, tag in fixed.items() if tag is None}
    forth = _sweep(lags, free, len(heard), len(began))
    back = _sweep(
        {(len(heard) - 1 - tag, len(began) - 1 - stay): lag for (tag, stay), lag in lags.items()},
        {len(began) - 1 - stay for stay in free},
        len(heard),
        len(began),
        backwards=True,
    )
    costs = {pair: cost + back[len(heard) - 1 - pair[0], len(began) - 1 - pair[1]] for pair, cost in forth.items()}
    least = min(costs.values(), default=0.0)
    return {pair: cost - least for pair, cost in costs.items() if cost < inf}


def _sweep(
    lags: Mapping[tuple[int, int], int], free: set[int], tags: int, stays: int, *, backwards: bool = False
) -> dict[tuple[int, int], float]:
    """Give the least cost of all that comes before each pair.  Backwards, tags skipped at the end are merely waiting."""

    def empty(first: int, last: int) -> float:
        return SKIPPED_STAY * sum(1 for stay in range(first, last) if stay not in free)

    least: dict[tuple[int, int], float] = {}
    for tag, stay in sorted(lags):
        start = empty(0, stay) + (0.0 if backwards else SKIPPED_TAG * min(tag, REACH))
        for other in range(max(0, tag - 1 - REACH), tag):
            for before in range(max(0, stay - 1 - REACH), stay):
                if (known := least.get((other, before))) is None:
                    continue
                change = LONGER * abs(lags[tag, stay] - lags[other, before])
                cost = known + SKIPPED_TAG * (tag - other - 1) + empty(before + 1, stay) + change
                start = min(start, cost)
        least[tag, stay] = start
    return least
