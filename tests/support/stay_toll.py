"""Stops of the box within stays: when they come, and for each stay how many weighings it has in the end."""

import random
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.simulators.crush.walk import Stay

SURE_S, LIKELY_S = 1.0, 0.8


@dataclass(slots=True)
class StayToll:
    """Stays, and how many of them had exactly one weighing or none, by what became of them.

    `unmarked`: those with more than one that is not marked as perhaps the same.
    """

    kills: int = 0
    unmarked: Counter[str] = field(default_factory=Counter)
    none: Counter[str] = field(default_factory=Counter)
    stays: Counter[str] = field(default_factory=Counter)
    right: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    disagree: list[str] = field(default_factory=list)
    """Where herd book and journal did not agree, after a kill or at the end."""


def plan(chance: random.Random, stay: Stay) -> list[tuple[float, float]]:
    """Draw one or two kills within a stay: each so long after its first foot, and for how long the box is away."""
    length_s = stay.off_t - stay.on_t
    kills = []
    at = chance.choice((chance.uniform(0.0, 1.5), chance.uniform(0.0, length_s)))
    for _ in range(chance.choice((1, 1, 2))):
        away_s = chance.choice((chance.uniform(0.3, 1.0), chance.uniform(2.0, 8.0)))
        kills.append((at, away_s))
        at += away_s + chance.choice((chance.uniform(0.1, 1.5), chance.uniform(0.5, 6.0)))
        if at >= length_s:
            break
    return kills


def count(
    truth: list[Stay],
    shown: Mapping[int, float],
    gaps: list[tuple[float, float]],
    found: Iterable[Weighing],
    toll: StayToll,
    of: str,
    wall_s: float,
) -> None:
    """Give each weighing to the stay it overlaps most, and count each stay's.  `wall_s`: the wall clock at 0 s."""
    of_stay: dict[int, list[Weighing]] = defaultdict(list)
    for one in found:
        on, off = one.on.timestamp() - wall_s, one.off.timestamp() - wall_s
        best = max(truth, key=lambda stay: min(off, stay.off_t) - max(on, stay.on_t))
        of_stay[best.number].append(one)
    for stay in truth:
        kind = _kind(stay, shown.get(stay.number, stay.off_t), gaps)
        toll.stays[kind] += 1
        toll.right[kind] += len(of_stay[stay.number]) == 1
        toll.none[kind] += not of_stay[stay.number]
        toll.unmarked[kind] += sum(Flag.MAYBE_SAME not in one.flags for one in of_stay[stay.number]) > 1
        if len(of_stay[stay.number]) != 1:
            has = [f"{one.number}: {one.weight.kg} {one.weight.grade} {[*one.flags]}" for one in of_stay[stay.number]]
            near = [gap for gap in gaps if gap[1] > stay.on_t - 30 and gap[0] < stay.off_t + 30]
            toll.wrong.append(f"{kind}: {of}, stay {stay.number} from {stay.on_t:.2f}, away {near}, has {has}")


def _kind(stay: Stay, shown_t: float, gaps: list[tuple[float, float]]) -> str:
    """Name what happened to a stay: for how long it was heard at a stretch, and how often the box was killed in it.

    It can be heard from `shown_t` on, when the indicator first shows half the smallest animal: a foot that is put down
    presses by and by.
    """
    within = [gap for gap in gaps if gap[0] < stay.off_t and gap[1] > stay.on_t]
    if not within:
        return "no kill"
    edges = [shown_t, *(moment for gap in within for moment in gap), stay.off_t]
    heard_s = max(off - on for on, off in zip(edges[::2], edges[1::2], strict=True))
    length = "1 s or more" if heard_s >= SURE_S else "0.8 to 1 s" if heard_s >= LIKELY_S else "less than 0.8 s"
    gone = ", gone when the box was back" if within[-1][1] >= stay.off_t else ""
    came = ", came while it was away" if within[0][0] < stay.on_t else ""
    return f"heard {length}, {len(within)} kill{'s' * (len(within) > 1)}{came}{gone}"
