"""How right weights are in yards drawn at random, each different in everything, and held apart in two halves.

    python tests/bench/yards.py --yards 250 [--half held-out] [--by class] [--first 0]

A yard of forty stays is drawn by its number: what animals (lambs to bulls), how calm, how long they stand, what
indicator (2 to 50 readings a second, four kinds of filters, its steps), what disturbs it (mud that grows and is scraped
off, a gate hung on the platform, wind, leaning, people stepping on for a part of the stay, animals that throw
themselves about), and whether the configuration has the right interval.  Ranges are wide and assumed: nothing like this
is published.  Even numbers are the half to tune on; odd ones are the half that is only ever reported.

Printed in all and by class, rate and filter: grades given and their promises broken (good beyond 1 %, fair beyond 2 %),
gross errors (beyond 5 %) that carry a grade, stays missing, doubled or extra; of stays that nothing biased, by how long
all feet were on, the share within 1 % and 2 % and the share graded; and when the first weight comes in calm yards.

Unbiased is what nobody leaned on or stood beside, in a yard where no animal leans, and what did not throw itself about.
What an animal before it left, a gate and mud bias it all the same where the platform was not empty for long enough to
show them: "all seen" are the unbiased ones without such.
"""

import argparse
import math
import random
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from statistics import median

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.station.platform.happenings import Ended, SettledAt
from neckyoke.bridge.station.settings import Settings
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator
from neckyoke.simulators.crush.walk import Touch
from tests.bench.settling import weigh

STAYS = 40
HALVES = {"tuning": 0, "held-out": 1}
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
LONG = {"< 1 s": (0.0, 1.0), "1 to 2 s": (1.0, 2.0), "2 s and more": (2.0, math.inf)}
"""How long all feet were on."""
SEEN_S, SEEN_SHARE = 2.0, 0.0025
"""What lies on the platform shows when it is empty for so long, and the filter's own time; less of a weight is none."""


@dataclass
class Stood:
    """What became of one visit."""

    kg: float
    long_s: float
    lies_kg: float  # on the platform, beside it
    biased: bool  # something leaned on it, stood beside it, or it threw itself about
    unseen_kg: float = 0.0  # of what lies there, what has come or gone since the platform could last be seen empty
    ended: list[Ended] = field(default_factory=list)
    first_s: float | None = None  # after all feet were on
    first_error: float = 0.0  # per cent

    @property
    def error(self) -> float | None:
        """The last weighing's error in per cent."""
        kg = self.ended[-1].weight.kg if self.ended else None
        return None if kg is None else 100 * (kg / self.kg - 1)


@dataclass
class Yard:
    """One yard's stays, and how many weighings belong to none of them."""

    kind: str
    rate_hz: float
    filter: str
    calm: bool
    stays: list[Stood]
    extra: int
    readings: int


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


class _Load:
    """All that presses on the platform, asked for in order of time."""

    def __init__(self, visits: list[Visit], touches: list[Touch], wind: Callable[[float], float]) -> None:
        self._coming: list[Visit | Touch] = sorted([*visits, *touches], key=lambda one: -one.on_t)
        self._here: list[Visit | Touch] = []
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


def draw(number: int) -> Yard:
    """Draw one yard, let its animals through, and see what became of them."""
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
    visits, touches, biased = list[Visit](), list[Touch](), set[int]()
    left: list[tuple[float, float]] = []
    t, lies, lay = 3.0, 0.0, list[float]()
    gaps_s = [t]
    for n in range(STAYS):
        is_wild = rng.random() < wilds
        visit = Visit(rng, _between(rng, lightest, heaviest), wild if is_wild else manner, t)
        visits.append(visit)
        long_s = visit.leave_t - visit.all_on_t
        if rng.random() < people:
            part = rng.uniform(0.33, 0.67) * long_s
            start = rng.uniform(visit.all_on_t, visit.leave_t - part)
            touches.append(Touch("person", rng.uniform(20.0, 95.0), start, start + part, 0.3))
            biased.add(n)
        if is_wild or manner.lean_chance:
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
    load = _Load(visits, touches, _wind(rng, rng.choice((0.0, 0.0, 0.002 * lightest))))
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
    shown = list(indicator.samples(load, 0.0, t + 4.0))
    calm = manner.sway_percent[1] <= 3.0 and not manner.pause_chance and not wilds and not people
    yard = Yard(kind, rate_hz, filter_name, calm, [], 0, len(shown))
    seen_kg = 0.0
    for n, (visit, empty_s) in enumerate(zip(visits, gaps_s, strict=False)):
        seen_kg = lay[n] if empty_s >= SEEN_S + indicator.filter_s else seen_kg
        long_s = visit.leave_t - visit.all_on_t
        yard.stays.append(Stood(visit.kg, long_s, lay[n], n in biased, abs(lay[n] - seen_kg)))
    firsts: dict[int, SettledAt] = {}
    for one in weigh(shown, settings):
        if isinstance(one, SettledAt):
            firsts.setdefault(one.number, one)
        if not isinstance(one, Ended):
            continue
        shared = [min(one.off, visit.off_t) - max(one.on, visit.on_t) for visit in visits]
        n = max(range(STAYS), key=lambda at, shared=shared: shared[at])  # type: ignore[misc]
        if shared[n] <= 0:
            yard.extra += 1
            continue
        yard.stays[n].ended.append(one)
        first = firsts.get(one.number)
        if first and first.weight.kg is not None and first.t <= visits[n].leave_t and yard.stays[n].first_s is None:
            yard.stays[n].first_s = first.t - visits[n].all_on_t
            yard.stays[n].first_error = 100 * (first.weight.kg / visits[n].kg - 1)
    return yard


def _share(some: list[bool]) -> str:
    return f"{100 * sum(some) / len(some):5.1f} %" if some else "    -  "


def rows(yards: list[Yard]) -> Iterator[str]:
    """Spell what became of the stays of some yards."""
    stays = [stay for yard in yards for stay in yard.stays]
    graded = {"good": (1.0, list[bool]()), "fair": (2.0, list[bool]())}
    gross = 0
    for stay in stays:
        grade = stay.ended[-1].weight.grade if stay.ended else "none"
        if grade in graded and stay.error is not None:
            most, broken = graded[grade]
            broken.append(abs(stay.error) > most)
            gross += abs(stay.error) > 5.0
    counts = [len(stay.ended) for stay in stays]
    kept = "  ".join(f"{name} {sum(broken)}/{len(broken)} {_share(broken)}" for name, (_, broken) in graded.items())
    strays = sum(yard.extra for yard in yards)
    several = sum(n > 1 for n in counts)
    yield f"{kept}  gross {gross}  missing {counts.count(0)}  doubled {several}  extra {strays} of {len(stays)}"


def details(yards: list[Yard]) -> Iterator[str]:
    """Spell how the stays fared that nothing biased, by how long all feet were on, and when first weights came."""
    unbiased = [stay for yard in yards for stay in yard.stays if not stay.biased]
    seen = [stay for stay in unbiased if stay.unseen_kg <= SEEN_SHARE * stay.kg]
    for about, stays in (("unbiased", unbiased), ("all seen", seen)):
        for name, (low, high) in LONG.items():
            some = [stay for stay in stays if low <= stay.long_s < high]
            sizes = [abs(stay.error) if stay.error is not None else math.inf for stay in some]
            graded = [bool(stay.ended) and stay.ended[-1].weight.grade in {"good", "fair"} for stay in some]
            yield (
                f"  {about}, {name:13} {len(some):6}  within 1 % {_share([one <= 1 for one in sizes])}"
                f"  within 2 % {_share([one <= 2 for one in sizes])}  graded {_share(graded)}"
            )
    calm = [stay for yard in yards if yard.calm for stay in yard.stays if not stay.biased and stay.long_s >= 3.0]
    times = sorted(stay.first_s for stay in calm if stay.first_s is not None)
    if times:
        broken = sum(abs(stay.first_error) > 2.0 for stay in calm if stay.first_s is not None)
        late = times[int(0.9 * (len(times) - 1))]
        yield (
            f"  first weight in calm yards: median {median(times):.1f} s, p90 {late:.1f} s,"
            f" given to {100 * len(times) / len(calm):.1f} %, {broken} beyond 2 % of {len(times)}"
        )


def _blame(stay: Stood) -> str:
    """Name the cause of an error, where it is plain."""
    weight = stay.ended[-1].weight
    net_kg = (weight.kg or 0.0) + weight.zero_kg - stay.lies_kg
    if abs(net_kg / stay.kg - 1) < 0.01:
        return f"(zero taken as {weight.zero_kg:g}, was {stay.lies_kg:.1f})"
    return "(biased)" if stay.biased else ""


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--yards", type=int, default=50, help="of the half")
    parser.add_argument("--half", choices=sorted(HALVES), default="tuning")
    parser.add_argument("--first", type=int, default=0, help="skip so many yards of the half")
    parser.add_argument("--by", choices=("kind", "rate_hz", "filter"), action="append", default=[])
    parser.add_argument("--worst", type=int, default=0, help="list so many of the worst promises broken")
    args = parser.parse_args()
    numbers = [HALVES[args.half] + 2 * (args.first + n) for n in range(args.yards)]
    with ProcessPoolExecutor() as pool:
        yards = list(pool.map(draw, numbers, chunksize=2))
    print(*rows(yards), *details(yards), sep="\n")
    for by in args.by:
        groups = defaultdict(list)
        for yard in yards:
            groups[getattr(yard, by)].append(yard)
        for name in sorted(groups):
            print(f"{name!s:10}", *rows(groups[name]))
    broken = [
        (abs(stay.error), number, n, yard.kind, yard.rate_hz, yard.filter, stay)
        for number, yard in zip(numbers, yards, strict=True)
        for n, stay in enumerate(yard.stays)
        if stay.error is not None
        and abs(stay.error) > {"good": 1.0, "fair": 2.0}.get(stay.ended[-1].weight.grade, math.inf)
    ]
    for size, *where, stay in sorted(broken, key=lambda one: -one[0])[: args.worst]:
        last = stay.ended[-1]
        print(
            f"{size:6.1f} %",
            *where,
            f"{stay.kg:.1f} -> {last.weight.kg} {last.weight.grade}",
            *last.flags,
            _blame(stay),
        )


if __name__ == "__main__":
    main()
