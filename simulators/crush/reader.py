"""A tag reader: what it hears, and when it says so.

An antenna wakes a tag and listens, over and over; a tag in its field is therefore reported again and again, every 53 to
73 ms when nothing slows the reader down (from memory: 50 ms of field, then 3 or 20 ms of silence), or less often when
the reader limits itself.  Whether one round succeeds depends on how the ear lies to the antenna, and that changes
slowly: an animal is heard in bursts, with silence between.  One round gives one tag at most; of two in the field the
nearer mostly wins.

`Nearness` says who is near when and how well; `Reader.hear` turns all of them into reads.  It spends no time on hours
when nobody is near.
"""

import heapq
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

ROUND_S = (0.053, 0.073)
"""Shortest and longest round of an antenna."""
BURST_S = 1.2
"""About how long an ear keeps one position."""


@dataclass(frozen=True, slots=True, order=True)
class Nearness:
    """A tag within range from `start_t` to `end_t`; `chance` of a read in a round when nearest.

    The chance rises from nothing over the first `ramp_s` and falls over the last.
    """

    start_t: float
    end_t: float
    tag: str = field(compare=False)
    chance: float = field(compare=False, default=0.8)
    ramp_s: float = field(compare=False, default=0.3)

    def chance_at(self, t: float) -> float:
        """Chance that a round at `t` reads this tag, if no other answers and the ear lies well."""
        edge = min(t - self.start_t, self.end_t - t)
        return 0.0 if edge <= 0 else self.chance * min(1.0, edge / self.ramp_s) if self.ramp_s else self.chance


@dataclass(frozen=True, slots=True)
class Reader:
    """A reader's manners.

    `round_s` is the range of its rounds; `repeat_s` the least time before it reports the same tag again (0: every
    round); `turn_chance` the chance that an ear has turned away when a burst ends.
    """

    round_s: tuple[float, float] = ROUND_S
    repeat_s: float = 0.0
    turn_chance: float = 0.25

    def hear(self, near: Iterable[Nearness], rng: random.Random) -> Iterator[tuple[float, str]]:
        """Yield (t, tag) in order of time."""
        waiting = sorted(near)
        here: list[tuple[float, int]] = []  # (end_t, index)
        bursts: dict[int, tuple[float, bool]] = {}  # index: until, the ear lies well
        said: dict[str, float] = {}
        at, t = 0, 0.0
        while at < len(waiting) or here:
            if not here:
                t = max(t, waiting[at].start_t + rng.uniform(0, self.round_s[1]))
            while at < len(waiting) and waiting[at].start_t <= t:
                heapq.heappush(here, (waiting[at].end_t, at))
                at += 1
            while here and here[0][0] <= t:
                bursts.pop(heapq.heappop(here)[1], None)
            answer = self._round(t, [(index, waiting[index]) for _, index in here], bursts, rng)
            if answer is not None and t - said.get(answer, -1e9) >= self.repeat_s:
                said[answer] = t
                yield t, answer
            t += rng.uniform(*self.round_s)

    def _round(
        self,
        t: float,
        here: list[tuple[int, Nearness]],
        bursts: dict[int, tuple[float, bool]],
        rng: random.Random,
    ) -> str | None:
        """Return the tag that this round reads: the strongest answer, each shaken by chance."""
        best, winner = 0.0, None
        for index, one in here:
            until, well = bursts.get(index, (0.0, True))
            if t >= until:
                well = rng.random() >= self.turn_chance
                bursts[index] = (t + rng.expovariate(1 / BURST_S), well)
            chance = one.chance_at(t) * (1.0 if well else 0.03)
            if chance > (shaken := rng.random()) and chance - shaken > best:
                best, winner = chance - shaken, one.tag
        return winner
