"""One yard drawn by its number: its animals, what else presses on the platform, and what the indicator shows of it.

What happens is told in `yards.py`, which says what became of it.  Bumps have a random stream of their own: the same
yard without them is the same in all else.
"""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from neckyoke.bridge.station.settings import Settings
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator, Shown
from neckyoke.simulators.crush.walk import Touch

STAYS = 40
CLASSES = {  # lightest, heaviest, capacity and smallest animal, in kilograms
    "lambs": (18.0, 45.0, 150.0, 8.0),
    "sheep": (40.0, 110.0, 300.0, 20.0),
    "calves": (60.0, 200.0, 1000.0, 25.0),
    "steers": (200.0, 480.0, 1500.0, 25.0),
    "cows": (400.0, 900.0, 2000.0, 25.0),
}
FILTERS: dict[str, tuple[Filter, float, float]] = {  # kind, shortest and longest time in seconds
    "none": ("average", 0.02, 0.06),
    "average": ("average", 0.1, 1.2),
    "smooth": ("smooth", 0.1, 1.5),
    "adaptive": ("adaptive", 0.3, 2.0),
}
EVEN = 0.0705
"""Coefficient of variation of the weights in one mob: of 60 calves of Kenward 1987 (Applied Statistics 36:296, Table
1) on day 133; mean 322.97 kg, standard deviation 22.78 (the data: `kenward.cattle` in the R package agridat)."""
CLEAR_S = 1.5
"""Empty for so long between two animals a platform shows what lies on it."""
BUMPED, BETWEEN_S = 0.25, (8.0, 60.0)
"""The share of yards that are bumped, and how many seconds lie between two bumps in the middle: empty or loaded."""


@dataclass(frozen=True, slots=True)
class Bump:
    """A knock: a swing of `hz` that dies away, or (`hz` 0) a push that is over at `off_t`."""

    kg: float
    on_t: float
    off_t: float
    hz: float
    dies_s: float

    def force_kg(self, t: float) -> float:
        """Return the force at `t`."""
        s = t - self.on_t
        if self.hz:
            return self.kg * math.exp(-s / self.dies_s) * math.sin(2 * math.pi * self.hz * s)
        return self.kg * math.sin(math.pi * max(0.0, min(1.0, s / (self.off_t - self.on_t))))


@dataclass
class OneYard:
    """What was drawn: `lay` is what lies on the platform at each visit, `gaps_s` how long it was empty before."""

    kind: str
    filter: str
    filter_s: float
    rate_hz: float
    calm: bool
    settings: Settings
    visits: list[Visit] = field(default_factory=list)
    biased: set[int] = field(default_factory=set)
    wild: set[int] = field(default_factory=set)
    with_person: set[int] = field(default_factory=set)
    lay: list[float] = field(default_factory=list)
    gaps_s: list[float] = field(default_factory=list)
    bumps: list[Bump] = field(default_factory=list)
    shown: list[Shown] = field(default_factory=list)

    @property
    def is_clear(self) -> bool:
        """Whether nothing is ever left on the platform, and it can be seen empty before every animal."""
        return not any(self.lay) and min(self.gaps_s) >= CLEAR_S


def _between(rng: random.Random, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def _manner(rng: random.Random) -> Manner:
    low = _between(rng, 0.2, 3.5)
    slow = rng.uniform(0.4, 2.0)
    return Manner(
        sway_percent=(low, low * rng.uniform(1.0, 2.0)),
        sway_hz=(slow, rng.uniform(slow, 3.0)),
        frequency_drift=rng.uniform(0.0, 0.25),
        amplitude_drift=rng.uniform(0.0, 0.5),
        breath_percent=(0.0, rng.uniform(0.0, 0.6)),
        entry_s=(0.5, rng.uniform(0.8, 2.5)),
        pause_chance=rng.choice((0.0, 0.0, 0.2)),
        entry_extra=(0.0, rng.uniform(0.0, 2.5)),
        calming_s=(0.3, 1.5),
        kicks_per_s=rng.choice((0.0, 0.0, 0.1, 0.3)),
        kick_percent=(5.0, rng.uniform(10.0, 50.0)),
        shifts_per_s=rng.uniform(0.0, 0.4),
        lean_chance=rng.choice((0.0, 0.0, 0.0, 0.2)),
        stay_median_s=_between(rng, 0.8, 12.0),
        stay_s=(0.3, 60.0),
        leave_s=(0.3, rng.uniform(0.5, 2.0)),
    )


Presses: TypeAlias = Visit | Touch | Bump


class _Load:
    """All that presses on the platform, asked for in order of time."""

    def __init__(self, others: Sequence[Presses], wind: Callable[[float], float]) -> None:
        self._coming = sorted(others, key=lambda one: -one.on_t)
        self._here: list[Presses] = []
        self._wind = wind
        self.left: list[tuple[float, float]] = []  # from when on what lies there

    def __call__(self, t: float) -> float:
        while self._coming and self._coming[-1].on_t <= t:
            self._here.append(self._coming.pop())
        self._here = [one for one in self._here if one.off_t > t]
        lies = next((kg for since, kg in reversed(self.left) if since <= t), 0.0)
        return lies + self._wind(t) + sum(one.force_kg(t) for one in self._here)


def _wind(rng: random.Random, kg: float) -> Callable[[float], float]:
    waves = [(kg * rng.random() / 2, rng.uniform(0.05, 0.6), rng.uniform(0, 6.3)) for _ in range(3 if kg else 0)]
    return lambda t: sum(size * math.sin(2 * math.pi * hz * t + phase) for size, hz, phase in waves)


def _bumps(number: int, until_t: float) -> list[Bump]:
    """Draw the bumps of a yard: in most none."""
    rng = random.Random(f"bumps/{number}")
    bumps = list[Bump]()
    if rng.random() >= BUMPED:
        return bumps
    between_s = _between(rng, *BETWEEN_S)
    t = 0.0
    while (t := t + rng.expovariate(1 / between_s)) < until_t:
        kg = _between(rng, 5.0, 60.0)
        if rng.random() < 0.5:
            dies_s = rng.uniform(0.15, 0.6)
            bumps.append(Bump(kg, t, t + 5 * dies_s, _between(rng, 1.0, 8.0), dies_s))
        else:
            bumps.append(Bump(kg, t, t + rng.uniform(0.1, 0.5), 0.0, 0.0))
    return bumps


def _even(number: int, lightest: float, heaviest: float) -> Callable[[], float]:
    """Return what draws the animals of an even mob, from a random stream of its own."""
    rng = random.Random(f"even/{number}")
    middle = _between(rng, lightest * math.exp(2 * EVEN), heaviest * math.exp(-2 * EVEN))
    return lambda: min(max(middle * rng.lognormvariate(0.0, EVEN), lightest), heaviest)


def bring(number: int, *, bumped: bool = True, even: bool = False) -> OneYard:
    """Draw a yard, and let its animals through.

    `bumped`: with the bumps that it may have; `even`: one mob, in place of anything from the lightest of the class to
    the heaviest.
    """
    rng = random.Random(f"yards/{number}")
    kind = rng.choice(sorted(CLASSES))
    lightest, heaviest, capacity_kg, smallest_kg = CLASSES[kind]
    smallest_kg = rng.choice((smallest_kg, 0.4 * lightest))
    rate_hz = rng.choice((2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 12.5, 20.0, 25.0, 50.0))
    filter_name = rng.choice(sorted(FILTERS))
    how, shortest, longest = FILTERS[filter_name]
    interval_kg = rng.choice((0.1, 0.2, 0.5)) if capacity_kg <= 300 else rng.choice((0.2, 0.5, 1.0, 2.0))
    told_kg = interval_kg * rng.choice((1.0, 1.0, 1.0, 1.0, 0.2, 5.0))  # who writes the configuration may be wrong
    manner = _manner(rng)
    wild = replace(manner, sway_percent=(20.0, 33.0), sway_hz=(0.5, 2.0), stay_median_s=6.0, second_harmonic=(0.0, 0.2))
    wilds, people = rng.choice((0.0, 0.0, 0.0, 0.05)), rng.choice((0.0, 0.0, 0.0, 0.1))
    mud_kg = rng.choice((0.0, 0.0, 0.0, rng.uniform(0.1, 0.8)))
    gate_at = rng.choice((-1, -1, -1, rng.randrange(STAYS)))
    gap_s = rng.choice(((0.2, 1.5), (1.5, 6.0), (1.5, 6.0), (2.0, 10.0)))
    visits, touches, biased, wilder, with_person = list[Visit](), list[Touch](), set[int](), set[int](), set[int]()
    left: list[tuple[float, float]] = []
    t, lies, lay = 3.0, 0.0, list[float]()
    gaps_s = [t]
    of_mob = _even(number, lightest, heaviest)
    for n in range(STAYS):
        is_wild = rng.random() < wilds
        any_kg, mob_kg = _between(rng, lightest, heaviest), of_mob()
        visit = Visit(rng, mob_kg if even else any_kg, wild if is_wild else manner, t)
        visits.append(visit)
        long_s = visit.leave_t - visit.all_on_t
        if rng.random() < people:
            part = rng.uniform(0.33, 0.67) * long_s
            start = rng.uniform(visit.all_on_t, visit.leave_t - part)
            touches.append(Touch("person", rng.uniform(20.0, 95.0), start, start + part, 0.3))
            with_person.add(n)
        if is_wild:
            wilder.add(n)
        if n in with_person or is_wild or manner.lean_chance:
            biased.add(n)
        gaps_s.append(rng.uniform(*gap_s))
        t = visit.off_t + gaps_s[-1]
        lay.append(lies)
        lies += rng.uniform(0.0, 2 * mud_kg)
        if n == gate_at:
            lies += rng.uniform(0.3, 1.0) * smallest_kg
        if mud_kg and rng.random() < 0.05:
            lies = 0.0
        if not left or lies != left[-1][1]:
            left.append((visit.off_t, lies))
    bumps = _bumps(number, t) if bumped else []
    load = _Load([*visits, *touches, *bumps], _wind(rng, rng.choice((0.0, 0.0, 0.002 * lightest))))
    load.left = left
    indicator = Indicator(
        rate_hz=rate_hz,
        filter=how,
        filter_s=_between(rng, shortest, longest),
        interval_kg=interval_kg,
        capacity_kg=capacity_kg,
        noise_kg=0.1 * interval_kg,
        jitter=rng.choice((0.0, 0.5)),
        lost=rng.choice((0.0, 0.0, 0.03)),
        seed=number,
    )
    settings = Settings(
        "larkmoor", "crush", "indicator", capacity_kg=capacity_kg, interval_kg=told_kg, smallest_kg=smallest_kg
    )
    calm = manner.sway_percent[1] <= 3.0 and not manner.pause_chance and not wilds and not people
    yard = OneYard(kind, filter_name, indicator.filter_s, rate_hz, calm, settings)
    yard.visits, yard.biased, yard.wild, yard.with_person = visits, biased, wilder, with_person
    yard.lay, yard.gaps_s, yard.bumps = lay, gaps_s, bumps
    yard.shown = list(indicator.samples(load, 0.0, t + 4.0))
    return yard
