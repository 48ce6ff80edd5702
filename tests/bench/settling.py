"""How fast and how right weights are, over seeded regimes, beside the rules they should beat.

    python tests/bench/settling.py --stays 1000 [--regime typical] [--seed 1]

Each regime is a recipe for yards: animals, indicator, gaps, all drawn anew for every ten stays.  The table gives, for
the final and for the first weight (the first if it came before a foot was lifted): the share given, the share of all
within 1 %, the root mean square error, the 95th percentile and the worst, in per cent of the true weight, the time it
took (seconds after all feet are on, median and 90th percentile), and the grades' promises: of those graded good how
many were wrong by more than 1 %, of those fair by more than 2 %, of either by more than 5 %.  Last come the stays that
were not exactly one weighing, and how many of these were not flagged.
"""

import argparse
import math
import sys
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from statistics import fmean, median

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.platform.happenings import Ended, Happening, SettledAt
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.protocols.readings import Condition, WeightReading
from neckyoke.simulators.crush.indicator import Shown
from tests.bench.regimes import PER_YARD, REGIMES, yard


@dataclass
class Stay:
    """What became of one visit."""

    kg: float
    all_on_t: float
    leave_t: float
    ended: list[Ended] = field(default_factory=list)
    first: SettledAt | None = None
    rules: dict[str, tuple[float, float] | None] = field(default_factory=dict)  # baselines: time, kilograms


def weigh(shown: list[Shown], settings: Settings) -> list[Happening]:
    """Send readings through a platform."""
    platform = Platform(settings, Memory())
    out: list[Happening] = []
    for one in shown:
        condition = Condition.OVERLOAD if one.overload else Condition.OK
        out += platform.weight(one.t, WeightReading(one.kg, stable=one.stable, condition=condition))
    return out


def _rule_band(band: Callable[[float], float]) -> Callable[[list[Shown]], tuple[float, float] | None]:
    def rule(readings: list[Shown]) -> tuple[float, float] | None:
        for n in range(10, len(readings) + 1):
            kgs = [one.kg for one in readings[n - 10 : n] if one.kg is not None]
            if len(kgs) == 10 and min(kgs) > 0 and max(kgs) - min(kgs) <= band(kgs[-1]):
                return readings[n - 1].t, kgs[-1]
        return None

    return rule


def _rule_moving_mean(readings: list[Shown]) -> tuple[float, float] | None:
    """Two-second moving mean, steady within 1 % for a second."""
    means: list[tuple[float, float]] = []
    for n, one in enumerate(readings):
        kgs = [r.kg for r in readings[: n + 1] if r.t > one.t - 2.0 and r.kg is not None]
        if one.t - readings[0].t < 2.0 or not kgs:
            continue
        means.append((one.t, fmean(kgs)))
        lately = [kg for t, kg in means if t > one.t - 1.0]
        if one.t - means[0][0] >= 1.0 and max(lately) - min(lately) <= 0.01 * lately[-1]:
            return one.t, lately[-1]
    return None


RULES: dict[str, Callable[[list[Shown]], tuple[float, float] | None]] = {
    "10 within 2 kg": _rule_band(lambda _: 2.0),
    "10 within 2 %": _rule_band(lambda kg: 0.02 * kg),
    "2 s mean": _rule_moving_mean,
}


def run_yard(name: str, seed: int, *, rules: bool) -> tuple[list[Stay], int]:
    """Return what became of each visit, and how many weighings belong to none."""
    visits, shown, settings = yard(REGIMES[name], seed)
    stays = [Stay(v.kg, v.all_on_t, v.leave_t) for v in visits]
    middles = [(v.all_on_t + v.leave_t) / 2 for v in visits]
    strays = 0
    firsts: dict[int, SettledAt] = {}
    for one in weigh(shown, settings):
        if isinstance(one, SettledAt):
            firsts.setdefault(one.number, one)
        if not isinstance(one, Ended):
            continue
        middle = (one.on + one.off) / 2
        near = min(range(len(visits)), key=lambda n, at=middle: abs(middles[n] - at))  # type: ignore[misc]
        if one.on < visits[near].leave_t and one.off > visits[near].on_t:
            stays[near].ended.append(one)
            stays[near].first = stays[near].first or firsts.get(one.number)
        else:
            strays += 1
    if rules:
        for stay, visit in zip(stays, visits, strict=True):
            inside = [one for one in shown if visit.on_t <= one.t < visit.leave_t]
            stay.rules = {rule: find(inside) for rule, find in RULES.items()}
    return stays, strays


@dataclass
class Promise:
    """How often a grade was given, and how often it was wrong."""

    given: int = 0
    broken: int = 0

    def __str__(self) -> str:
        return f"{self.broken}/{self.given}"


class Figures:
    """What weights of one kind came to: their errors in per cent, when they came, and their grades' promises."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.errors: list[float] = []
        self.times: list[float] = []
        self.promises = {name: Promise() for name in ("good", "fair", "gross")}

    def add(self, error: float, grade: str | None = None, time: float | None = None) -> None:
        """Count one weight."""
        self.errors.append(error)
        if time is not None:
            self.times.append(time)
        for name, bound in (("good", 1.0), ("fair", 2.0)):
            if grade == name:
                self.promises[name].given += 1
                self.promises[name].broken += abs(error) > bound
                self.promises["gross"].given += 1
                self.promises["gross"].broken += abs(error) > 5.0

    @property
    def given(self) -> float:
        """Share of all that got a weight."""
        return len(self.errors) / self.count

    @property
    def within(self) -> float:
        """Share of all that got one within 1 %."""
        return sum(abs(error) <= 1.0 for error in self.errors) / self.count

    @property
    def rmse(self) -> float:
        """Root mean square error."""
        return math.sqrt(fmean(error * error for error in self.errors)) if self.errors else math.nan

    def row(self, label: str) -> str:
        """Spell a line of the table."""
        sizes = sorted(map(abs, self.errors)) or [math.nan]
        times = sorted(self.times) or [math.nan]
        size, time = (values[int(share * (len(values) - 1))] for values, share in ((sizes, 0.95), (times, 0.9)))
        kept = "  ".join(f"{name} {promise}" for name, promise in self.promises.items() if promise.given)
        how_right = f"{100 * self.given:5.1f} {100 * self.within:5.1f}  {self.rmse:5.2f} {size:5.2f} {sizes[-1]:5.1f}"
        return f"{label:26} {how_right}  {median(times):5.1f} {time:5.1f}  {kept}"


@dataclass
class Summary:
    """One regime: the final and the first weights, each baseline's, and the stays that were not one weighing."""

    final: Figures
    first: Figures
    rules: dict[str, Figures]
    miscounted: int
    unflagged: int


def summarise(stays: list[Stay], strays: int) -> Summary:
    """Reduce stays to figures."""
    final, first = Figures(len(stays)), Figures(len(stays))
    rules = {name: Figures(len(stays)) for name in RULES}
    for stay in stays:
        for ended in stay.ended[-1:]:
            if ended.weight.kg is not None:
                final.add(100 * (ended.weight.kg / stay.kg - 1), ended.weight.grade)
        if stay.first and stay.first.weight.kg is not None and stay.first.t <= stay.leave_t:
            error = 100 * (stay.first.weight.kg / stay.kg - 1)
            first.add(error, stay.first.weight.grade, stay.first.t - stay.all_on_t)
        for name, found in stay.rules.items():
            if found:
                rules[name].add(100 * (found[1] / stay.kg - 1), None, found[0] - stay.all_on_t)
    wrong = [n for n, stay in enumerate(stays) if len(stay.ended) != 1]
    unflagged = sum(not _flagged(stays[max(0, n - 1) : n + 2]) for n in wrong)
    return Summary(final, first, rules, len(wrong) + strays, unflagged + strays)


def _flagged(stays: list[Stay]) -> bool:
    return any({Flag.CROWDED, Flag.CAME_BACK} & set(ended.flags) for stay in stays for ended in stay.ended)


def _run_yard(job: tuple[str, int, bool]) -> tuple[list[Stay], int]:
    return run_yard(job[0], job[1], rules=job[2])


def run(
    name: str, stays: int, seed: int = 1, *, rules: bool = False, pool: ProcessPoolExecutor | None = None
) -> Summary:
    """Run one regime."""
    jobs = [(name, seed * 1_000_003 + n, rules) for n in range(math.ceil(stays / PER_YARD))]
    every: list[Stay] = []
    strays = 0
    for some, lost in pool.map(_run_yard, jobs) if pool else map(_run_yard, jobs):
        every += some
        strays += lost
    return summarise(every, strays)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="How fast and how right weights are, over seeded regimes.")
    parser.add_argument("--stays", type=int, default=1000)
    parser.add_argument("--regime", choices=sorted(REGIMES), action="append")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rules", action=argparse.BooleanOptionalAction, default=True, help="the baselines too")
    args = parser.parse_args()
    print(f"{'':26} given  <1 %   rmse   p95 worst    t50   t90  promises broken/given")
    with ProcessPoolExecutor() as pool:
        for name in args.regime or REGIMES:
            result = run(name, args.stays, args.seed, rules=args.rules, pool=pool)
            print(result.final.row(name), f"  not one weighing: {result.miscounted} ({result.unflagged} unflagged)")
            print(result.first.row("  first"), flush=True)
            for rule in RULES if args.rules else ():
                print(result.rules[rule].row(f"  {rule}"), flush=True)


if __name__ == "__main__":
    main()
