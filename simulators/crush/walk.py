"""Who stands on the platform when, what else presses on it, and the force of all that together.

A mob is drawn from a scenario and sent over the platform one by one, as often as there are rounds.  Each visit moves
by a stream of its own, so that none hangs on what another did.
"""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.scenario import Scenario
from neckyoke.simulators.spelling.tags import Tag

EMPTY_S = 6.0
"""The platform is empty for so long before the first animal and after the last."""


@dataclass(frozen=True, slots=True)
class Animal:
    """One animal of the mob: `tag` is None when it wears none; `works` is False when its tag is dead."""

    number: int
    kg: float
    tag: Tag | None
    works: bool


@dataclass(frozen=True, slots=True)
class Stay:
    """The truth about one stay.  Times in seconds since the start, weights in kilograms.

    `own_reads` counts reads of its own tag while it was there to be read, by all readers; `others` are the tags of
    other animals heard between its first foot on and last foot off.  `crowded`: it shared the platform with another.
    `came_back`: the same animal stood here just before.
    """

    number: int
    animal: int
    kg: float
    tag: str | None
    works: bool
    on_t: float
    all_on_t: float
    leave_t: float
    off_t: float
    round: int = 1
    crowded: bool = False
    came_back: bool = False
    own_reads: int = 0
    others: tuple[str, ...] = ()

    @property
    def readable(self) -> bool:
        """Whether a reader heard its own tag in its own turn at all."""
        return self.own_reads > 0


@dataclass(frozen=True, slots=True)
class Touch:
    """Something else on the platform: `kind` is person, leaning, gate or false-start."""

    kind: str
    kg: float
    on_t: float
    off_t: float
    ramp_s: float = 0.4

    def force_kg(self, t: float) -> float:
        """Rise over the ramp, stay, and fall over it."""
        edge_s = min(t - self.on_t, self.off_t - t)
        return 0.0 if edge_s <= 0 else self.kg * min(1.0, edge_s / self.ramp_s)


class Walk:
    """One mob's day on the platform: `mob`, `stays` and their `visits`, `others`, `scraped` times, and the end.

    `stream` gives a random stream of its own for each name.
    """

    def __init__(self, scenario: Scenario, animals: int, stream: Callable[..., random.Random]) -> None:
        self._scenario, self._stream = scenario, stream
        self._rng = stream("walk")
        self.mob = _draw(scenario, animals, stream("mob"))
        self.others: list[Touch] = []
        self.scraped: list[float] = []
        self.visits: list[Visit] = []
        self.stays: list[Stay] = []
        on_t = EMPTY_S
        for turn in range(1, scenario.mob.rounds + 1):
            for animal in _order(self.mob, turn, self._rng):
                self._bring(animal, turn, on_t)
                on_t = self._scrape(max(self.visits[-1].on_t + 0.5, self._next_on_t()))
        self.end_t = max((visit.off_t for visit in self.visits), default=0.0) + EMPTY_S
        self._mark_crowded()

    def _bring(self, animal: Animal, turn: int, on_t: float) -> None:
        """Let one animal stand there, with what else happens about it."""
        bother, rng = self._scenario.bother, self._rng
        chance = rng.random()
        came_back = False
        if chance < bother.false_start:
            length = rng.uniform(0.6, 2.5)
            self.others.append(Touch("false-start", animal.kg * rng.uniform(0.5, 0.6), on_t, on_t + length))
            on_t += length + rng.uniform(0.8, 4.0)
        elif chance < bother.false_start + bother.came_back:
            manner = replace(self._scenario.manner, stay_median_s=2.0, stay_s=(0.3, 5.0), leave_s=(0.4, 1.0))
            on_t = self._stand(animal, turn, on_t, manner).off_t + rng.uniform(*bother.back_s)
            came_back = True
        visit = self._stand(animal, turn, on_t, self._scenario.manner, came_back=came_back)
        if rng.random() < bother.gate:
            start, length = rng.uniform(visit.on_t, visit.leave_t), rng.uniform(0.5, 8.0)
            self.others.append(Touch("gate", rng.uniform(*bother.gate_kg), start, min(start + length, visit.off_t)))
        if rng.random() < bother.person_leans:
            start = rng.uniform(visit.on_t, visit.leave_t)
            self.others.append(Touch("leaning", rng.uniform(*bother.lean_kg), start, start + rng.uniform(0.8, 4.0)))

    def _stand(self, animal: Animal, turn: int, on_t: float, manner: Manner, *, came_back: bool = False) -> Visit:
        number = len(self.visits) + 1
        visit = Visit(self._stream("visit", number), animal.kg, manner, on_t)
        self.visits.append(visit)
        self.stays.append(
            Stay(
                number,
                animal.number,
                animal.kg,
                str(animal.tag) if animal.tag else None,
                animal.works,
                visit.on_t,
                visit.all_on_t,
                visit.leave_t,
                visit.off_t,
                turn,
                came_back=came_back,
            )
        )
        return visit

    def _next_on_t(self) -> float:
        """Return when the next animal steps on; a person may walk over the platform before it does."""
        gaps, bother, rng = self._scenario.gaps, self._scenario.bother, self._rng
        last = self.visits[-1]
        chance = rng.random()
        if chance < gaps.together:
            return last.leave_t - rng.uniform(*gaps.together_s)
        if chance < gaps.together + gaps.overlap:
            return last.off_t - rng.uniform(*gaps.overlap_s)
        if chance < gaps.together + gaps.overlap + gaps.none:
            return last.off_t + rng.uniform(*gaps.none_s)
        low, high = gaps.s
        on_t = last.off_t + min(high, max(low, gaps.median_s * math.exp(rng.gauss(0.0, gaps.spread))))
        if rng.random() < bother.person_on:
            start, length = last.off_t + rng.uniform(0.8, 2.0), rng.uniform(1.0, 5.0)
            kg = rng.uniform(*bother.person_kg)
            self.others.append(Touch("person", kg, start, start + length))
            on_t = max(on_t, start + length + rng.uniform(0.8, 2.0))
        return on_t

    def _scrape(self, on_t: float) -> float:
        """Scrape the platform clean when it is time, and let the next animal wait for that."""
        every = self._scenario.bother.cleaned_every
        if not every or len(self.visits) % every:
            return on_t
        self.scraped.append(self.visits[-1].off_t + 3.0)
        return max(on_t, self.scraped[-1] + 3.0)

    def _mark_crowded(self) -> None:
        crowded: set[int] = set()
        for n, stay in enumerate(self.stays):
            still_there = [m for m in range(max(0, n - 3), n) if self.stays[m].off_t > stay.on_t]
            crowded.update(still_there, [n] * bool(still_there))
        self.stays = [replace(stay, crowded=n in crowded) for n, stay in enumerate(self.stays)]


class Force:
    """The sum of all that presses on the platform.  Asked for in order of time, it looks only at what is near."""

    def __init__(self, visits: Sequence[Visit], others: Sequence[Touch], scraped: Sequence[float]) -> None:
        self._coming: list[Visit | Touch] = sorted([*visits, *others], key=lambda one: one.on_t, reverse=True)
        self._here: list[Visit | Touch] = []
        self._left_kg = 0.0
        self._scraped = sorted(scraped, reverse=True)

    def __call__(self, t: float) -> float:
        """Return kilograms at `t`, which never goes back."""
        while self._coming and self._coming[-1].on_t <= t:
            self._here.append(self._coming.pop())
        if self._scraped and self._scraped[-1] <= t:
            self._scraped.pop()
            self._left_kg = 0.0
        if not self._here:
            return self._left_kg
        total = self._left_kg
        ended = False
        for one in self._here:
            total += one.force_kg(t)
            if isinstance(one, Visit) and one.residue_kg and t > one.leave_t:
                total += one.residue_kg * min(1.0, (t - one.leave_t) / (one.off_t - one.leave_t))
            ended |= t >= one.off_t
        if ended:
            self._let_go(t)
        return total

    def _let_go(self, t: float) -> None:
        for one in [one for one in self._here if t >= one.off_t]:
            self._here.remove(one)
            if isinstance(one, Visit):
                self._left_kg += one.residue_kg


def _draw(scenario: Scenario, count: int, rng: random.Random) -> list[Animal]:
    """Draw the animals: weights, and tag numbers that are all different and follow no order."""
    mob = scenario.mob
    nationals = rng.sample(range(100_000, 10_000_000), count)
    animals = []
    for number, national in enumerate(nationals, 1):
        kg = rng.gauss(mob.mean_kg, mob.sd_kg) if mob.sd_kg else rng.uniform(*mob.kg)
        chance = rng.random()
        tag = None if chance < mob.untagged or number in mob.bare else Tag(national)
        works = mob.untagged + mob.dead <= chance
        animals.append(Animal(number, round(min(mob.kg[1], max(mob.kg[0], kg)), 1), tag, works))
    return animals


def _order(mob: Sequence[Animal], turn: int, rng: random.Random) -> list[Animal]:
    """Put the mob in the order of one round: animals keep roughly, not exactly, to the order they had."""
    if turn == 1:
        return list(mob)
    return [mob[n] for n in sorted(range(len(mob)), key=lambda n: n + rng.uniform(0.0, 6.0))]
