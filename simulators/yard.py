"""A day in the yards from one seed: who stood on the platform when, and every byte the devices sent.

    yard = Yard.named("typical", seed=7, animals=200)
    yard.truth          one `Stay` for each time an animal stood there, in order
    yard.others         what else touched the platform
    yard.scraped        when somebody scraped it clean
    yard.reads          (t, link, tag) without a byte spelt: enough to try pairing
    yard.shown()        what the indicator displays, without a byte spelt: enough to try weighing
    yard.items()        (t, link, bytes) in order of time; empty bytes: the link hung up, or came back
    yard.write_capture(path)

Everything is drawn from the seed by named streams, so that the same seed gives the same day on every machine, and a
change of one reader leaves the animals as they were.
"""

import heapq
import math
import random
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from operator import itemgetter
from pathlib import Path

from simulators.body import Manner, Visit
from simulators.capture import Item, write_capture
from simulators.frames import SHAPES
from simulators.hearing import Heard, Passing, listen
from simulators.indicator import Shown
from simulators.scenario import Bother, Gaps, Scenario
from simulators.scenarios import SCENARIOS
from simulators.tags import SPELLINGS, Tag

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


class Yard:
    """One day.  See the module."""

    def __init__(self, scenario: Scenario, seed: int = 1, animals: int = 40) -> None:
        self.scenario, self.seed = scenario, seed
        self.mob = _mob(scenario, animals, self._stream("mob"))
        self.others: list[Touch] = []
        self.scraped: list[float] = []
        self._visits: list[Visit] = []
        self._stays: list[Stay] = []
        self._walk()

    @classmethod
    def named(cls, name: str, seed: int = 1, animals: int = 40) -> "Yard":
        """Make a yard of a named scenario; KeyError tells the names there are."""
        if name not in SCENARIOS:
            raise KeyError(f"no scenario {name!r}; there are: {', '.join(sorted(SCENARIOS))}")
        return cls(SCENARIOS[name], seed, animals)

    def _stream(self, *names: object) -> random.Random:
        """Give a random stream of its own: seeding by text is the same on every machine and in every process."""
        return random.Random("/".join(map(str, (self.seed, *names))))

    # ---- who stands where when

    def _walk(self) -> None:
        """Send every animal over the platform, as often as there are rounds."""
        gaps, bother = self.scenario.gaps, self.scenario.bother
        rng = self._stream("walk")
        on_t = EMPTY_S
        for turn in range(1, self.scenario.mob.rounds + 1):
            for animal in _order(self.mob, turn, rng):
                self._bring(animal, turn, on_t, bother, rng)
                on_t = max(self._visits[-1].on_t + 0.5, self._next_on_t(gaps, rng))
                if bother.cleaned_every and len(self._visits) % bother.cleaned_every == 0:
                    self.scraped.append(self._visits[-1].off_t + 3.0)
                    on_t = max(on_t, self.scraped[-1] + 3.0)
        self.end_t = max(visit.off_t for visit in self._visits) + EMPTY_S if self._visits else EMPTY_S
        self._mark_crowded()

    def _bring(self, animal: Animal, turn: int, on_t: float, bother: Bother, rng: random.Random) -> None:
        """Let one animal stand there, with what else happens about it."""
        chance = rng.random()
        came_back = False
        if chance < bother.false_start:
            length = rng.uniform(0.6, 2.5)
            self.others.append(Touch("false-start", animal.kg * rng.uniform(0.5, 0.6), on_t, on_t + length))
            on_t += length + rng.uniform(0.8, 4.0)
        elif chance < bother.false_start + bother.came_back:
            manner = replace(self.scenario.manner, stay_median_s=2.0, stay_s=(0.3, 5.0), leave_s=(0.4, 1.0))
            on_t = self._stand(animal, turn, on_t, manner).off_t + rng.uniform(*bother.back_s)
            came_back = True
        visit = self._stand(animal, turn, on_t, self.scenario.manner, came_back=came_back)
        if rng.random() < bother.gate:
            start, length = rng.uniform(visit.on_t, visit.leave_t), rng.uniform(0.5, 8.0)
            self.others.append(Touch("gate", rng.uniform(*bother.gate_kg), start, min(start + length, visit.off_t)))
        if rng.random() < bother.person_leans:
            start = rng.uniform(visit.on_t, visit.leave_t)
            self.others.append(Touch("leaning", rng.uniform(*bother.lean_kg), start, start + rng.uniform(0.8, 4.0)))

    def _stand(self, animal: Animal, turn: int, on_t: float, manner: Manner, *, came_back: bool = False) -> Visit:
        number = len(self._visits) + 1
        visit = Visit(self._stream("visit", number), animal.kg, manner, on_t)
        self._visits.append(visit)
        self._stays.append(
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

    def _next_on_t(self, gaps: Gaps, rng: random.Random) -> float:
        """Say when the next animal steps on; a person may walk over the platform before it does."""
        last = self._visits[-1]
        chance = rng.random()
        if chance < gaps.together:
            return last.leave_t - rng.uniform(*gaps.together_s)
        if chance < gaps.together + gaps.overlap:
            return last.off_t - rng.uniform(*gaps.overlap_s)
        if chance < gaps.together + gaps.overlap + gaps.none:
            return last.off_t + rng.uniform(*gaps.none_s)
        low, high = gaps.s
        on_t = last.off_t + min(high, max(low, gaps.median_s * math.exp(rng.gauss(0.0, gaps.spread))))
        if rng.random() < self.scenario.bother.person_on:
            start, length = last.off_t + rng.uniform(0.8, 2.0), rng.uniform(1.0, 5.0)
            kg = rng.uniform(*self.scenario.bother.person_kg)
            self.others.append(Touch("person", kg, start, start + length))
            on_t = max(on_t, start + length + rng.uniform(0.8, 2.0))
        return on_t

    def _mark_crowded(self) -> None:
        for n in range(1, len(self._stays)):
            if self._stays[n].on_t < self._stays[n - 1].off_t:
                self._stays[n - 1] = replace(self._stays[n - 1], crowded=True)
                self._stays[n] = replace(self._stays[n], crowded=True)

    # ---- what the readers hear

    @cached_property
    def _heard(self) -> list[Heard]:
        passings = [
            Passing(
                stay.tag if stay.works else None, stay.on_t, stay.all_on_t, stay.leave_t, stay.off_t, stay.came_back
            )
            for stay in self._stays
        ]
        strays = _strays(self.mob, self._stream("strays"))
        return [
            listen(hearing, passings, strays, self._stream("reader", hearing.link)) for hearing in self.scenario.readers
        ]

    @cached_property
    def reads(self) -> list[tuple[float, str, str]]:
        """Every tag read as (t, link, fifteen digits), in order of time, without those lost in an outage."""
        return sorted(
            (t, hearing.link, tag)
            for hearing, heard in zip(self.scenario.readers, self._heard, strict=True)
            for t, tag in heard.reads
            if not any(start <= t < start + length for start, length in hearing.outages)
        )

    @cached_property
    def truth(self) -> list[Stay]:
        """Every stay, with what the readers heard of it."""
        times = [t for t, _, _ in self.reads]
        return [self._with_reads(n, stay, times) for n, stay in enumerate(self._stays)]

    def _with_reads(self, n: int, stay: Stay, times: Sequence[float]) -> Stay:
        own = 0
        for hearing, heard in zip(self.scenario.readers, self._heard, strict=True):
            if (window := heard.own[n]) is not None:
                near = self.reads[bisect_left(times, window[0]) : bisect_right(times, window[1])]
                own += sum(link == hearing.link and tag == stay.tag for _, link, tag in near)
        during = self.reads[bisect_left(times, stay.on_t) : bisect_right(times, stay.off_t)]
        others = {tag: None for _, _, tag in during if tag != stay.tag}
        return replace(stay, own_reads=own, others=tuple(others))

    # ---- what the devices send

    def force(self) -> "Force":
        """Give the force on the platform, to be asked for in order of time."""
        return Force(self._visits, self.others, self.scraped)

    def shown(self) -> Iterator[Shown]:
        """Yield what the indicator displays."""
        indicator = replace(self.scenario.indicator, seed=self._stream("indicator").getrandbits(32))
        return indicator.samples(self.force(), 0.0, self.end_t)

    def weights(self) -> Iterator[Item]:
        """Yield the indicator's frames."""
        spell, style, link = SHAPES[self.scenario.shape], self.scenario.style, self.scenario.scale
        return ((shown.t, link, spell(shown, style)) for shown in self.shown())

    def tags(self) -> Iterator[Item]:
        """Yield the readers' lines, and an empty one where a link hangs up and where it comes back."""
        spell = {hearing.link: SPELLINGS[hearing.spelling] for hearing in self.scenario.readers}
        states = [
            (t, hearing.link, b"")
            for hearing in self.scenario.readers
            for start, length in hearing.outages
            for t in (start, start + length)
            if start < self.end_t
        ]
        known: dict[str, Tag] = {}
        lines = (
            (t, link, spell[link](known.setdefault(tag, Tag(int(tag[3:]), int(tag[:3])))))
            for t, link, tag in self.reads
        )
        return heapq.merge(sorted(states), lines, key=itemgetter(0))

    def items(self) -> Iterator[Item]:
        """Yield all that the devices send, in order of time."""
        return heapq.merge(self.weights(), self.tags(), key=itemgetter(0))

    def write_capture(self, path: Path, site: str = "larkmoor", started: datetime | None = None) -> None:
        """Write the day as a capture file."""
        write_capture(path, self.items(), site, started)


class Force:
    """The sum of all that presses on the platform.  Asked for in order of time, it looks only at what is near."""

    def __init__(self, visits: Sequence[Visit], others: Sequence[Touch], scraped: Sequence[float]) -> None:
        self._coming: list[Visit | Touch] = sorted([*visits, *others], key=lambda one: one.on_t, reverse=True)
        self._here: list[Visit | Touch] = []
        self._left_kg = 0.0
        self._scraped = sorted(scraped, reverse=True)

    def __call__(self, t: float) -> float:
        """Give kilograms at `t`, which never goes back."""
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


def _mob(scenario: Scenario, count: int, rng: random.Random) -> list[Animal]:
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


def _strays(mob: Sequence[Animal], rng: random.Random) -> list[str]:
    """Give tags that may be heard from the adjoining pen: strangers, and a few of the mob."""
    strangers = [str(Tag(rng.randrange(10_000_000, 11_000_000))) for _ in range(20)]
    return strangers + [str(animal.tag) for animal in mob[:: max(1, len(mob) // 10)] if animal.tag and animal.works]
