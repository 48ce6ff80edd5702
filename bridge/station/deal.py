"""The deal: who gets which tag when several stays and several tags are open at once.

Every tag may go to one stay, every stay may take one tag, and either may go without.  Of all ways to deal the tags out,
the one with the most points in all is taken.  How far it stands ahead of the best deal that gives a certain stay
anything else is that stay's *lead*; it says how sure the deal is there, whatever it is elsewhere.

The best deal is an assignment problem: solved by shortest augmenting paths with potentials (the "Hungarian" method,
H. W. Kuhn, Naval Research Logistics 2 (1955) 83; J. Munkres, J. SIAM 5 (1957) 32; both from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

Points: TypeAlias = Mapping[tuple[int, int], float]
"""(stay, tag): points.  A pair that is absent, or has no more than nothing, is never dealt."""


@dataclass(frozen=True, slots=True)
class Dealt:
    """What one stay got: a tag or None, by how many points that leads, and what it would get in the next best deal."""

    tag: int | None
    lead: float
    rival: int | None


def deal(stays: list[int], points: Points) -> dict[int, Dealt]:
    """Deal tags to stays.  `stays` in order of time; among equal deals the first found is taken, always the same."""
    dealt: dict[int, Dealt] = {}
    for group in _groups(stays, points):
        own = {pair: value for pair, value in points.items() if pair[0] in group and value > 0}
        best, total = _solve(group, own)
        for stay in group:
            tag = best[stay]
            if tag is None and not any(pair[0] == stay for pair in own):
                dealt[stay] = Dealt(None, inf, None)
                continue
            other, less = _solve_without(group, own, stay, tag)
            dealt[stay] = Dealt(tag, total - less, other[stay])
    return dealt


def _groups(stays: list[int], points: Points) -> list[list[int]]:
    """Part the stays into groups that share no tag: each can be dealt by itself."""
    group_of = {stay: stay for stay in stays}
    first: dict[int, int] = {}
    for (stay, tag), value in points.items():
        if value <= 0:
            continue
        one, other = group_of[stay], group_of[first.setdefault(tag, stay)]
        if one != other:
            group_of = {name: (one if group == other else group) for name, group in group_of.items()}
    groups: dict[int, list[int]] = {}
    for stay in stays:
        groups.setdefault(group_of[stay], []).append(stay)
    return list(groups.values())


def _solve_without(group: list[int], points: Points, stay: int, tag: int | None) -> tuple[dict[int, int | None], float]:
    """Give the best deal in which `stay` gets anything but `tag`."""
    if tag is not None:
        return _solve(group, {pair: value for pair, value in points.items() if pair != (stay, tag)})
    best: tuple[dict[int, int | None], float] = ({}, -inf)
    for (name, candidate), value in points.items():
        if name != stay:
            continue
        rest = {pair: more for pair, more in points.items() if pair[0] != stay and pair[1] != candidate}
        others, total = _solve([one for one in group if one != stay], rest)
        if total + value > best[1]:
            best = ({**others, stay: candidate}, total + value)
    return best


def _solve(group: list[int], points: Points) -> tuple[dict[int, int | None], float]:
    """Give the deal with the most points, and the points.  The columns are the tags, then a "none" for each stay."""
    tags = sorted({tag for _, tag in points})
    cost = [
        [-points.get((stay, tag), -inf) for tag in tags] + [0.0 if at == row else inf for at in range(len(group))]
        for row, stay in enumerate(group)
    ]
    columns = _assign(cost)
    dealt = {stay: tags[at] if at < len(tags) else None for stay, at in zip(group, columns, strict=True)}
    return dealt, -sum(line[at] for line, at in zip(cost, columns, strict=True))


def _assign(cost: list[list[float]]) -> list[int]:
    """Give each row a column of its own so that the cost in all is least.  Row and column 0 are the method's own."""
    width = len(cost[0]) if cost else 0
    row_price, column_price = [0.0] * (len(cost) + 1), [0.0] * (width + 1)
    holder = [0] * (width + 1)
    for row in range(1, len(cost) + 1):
        holder[0], column = row, 0
        least, way, used = [inf] * (width + 1), [0] * (width + 1), [False] * (width + 1)
        while holder[column]:
            used[column] = True
            at = holder[column]
            free = [other for other in range(1, width + 1) if not used[other]]
            for other in free:
                reduced = cost[at - 1][other - 1] - row_price[at] - column_price[other]
                if reduced < least[other]:
                    least[other], way[other] = reduced, column
            column = min(free, key=least.__getitem__)
            step = least[column]
            for other in range(width + 1):
                if used[other]:
                    row_price[holder[other]] += step
                    column_price[other] -= step
                else:
                    least[other] -= step
        while column:
            holder[column] = holder[way[column]]
            column = way[column]
    columns = [0] * len(cost)
    for column in range(1, width + 1):
        if holder[column]:
            columns[holder[column] - 1] = column - 1
    return columns
