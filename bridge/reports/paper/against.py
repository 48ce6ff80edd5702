"""One job of a mob beside another: who is missing, who is new, and how far the weights have moved.

The change that says something is that of the same animals: a mean over others than last time moves with who came.  So
both are told, that of the same animals first.  An animal counts with a weight graded good or fair in both jobs.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, tzinfo
from math import sqrt
from typing import Any

from neckyoke.bridge.job.growth import LEAST_DAYS
from neckyoke.bridge.many import many
from neckyoke.bridge.reports.paper.lists import by_name
from neckyoke.bridge.reports.pictures.then_and_now import Pair
from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.statistics import Figures, figures
from neckyoke.bridge.reports.tally import Tally

MOST_NAMED = 60


@dataclass(frozen=True, slots=True)
class Same:
    """The same animals in both jobs: how many, their means then and now, and the change of each, kg."""

    animals: int
    mean_then_kg: float | None
    mean_now_kg: float | None
    change: Figures

    @property
    def standard_error_kg(self) -> float | None:
        """Standard error of the mean change: its standard deviation over the root of how many."""
        return None if self.change.sd is None else self.change.sd / sqrt(self.animals)


@dataclass(frozen=True, slots=True)
class Against:
    """Two jobs of one mob.  `then` and `now` are of all animals of each; `days` lie between their first stays."""

    same: Same
    then: Figures
    now: Figures
    pairs: tuple[Pair, ...]
    missing: tuple[str, ...]
    new: tuple[str, ...]
    unknown: int
    days: int | None

    @property
    def change_of_all_kg(self) -> float | None:
        """How far the mean over all has moved."""
        known = self.then.mean is not None and self.now.mean is not None
        return (self.now.mean or 0.0) - (self.then.mean or 0.0) if known else None


def against(then: Tally, now: Tally, zone: tzinfo, root: Callable[[str], str] = lambda animal: animal) -> Against:
    """Compare two tallies.  `root` gives the id by which a beast of the herd book goes now (`Book.root`)."""
    before, after = _by_beast(then.animals, root), _by_beast(now.animals, root)
    weighed_then, weighed_now = _by_beast(then.sure, root), _by_beast(now.sure, root)
    pairs = [
        Pair(row.name, weighed_then[key].kg or 0.0, row.kg or 0.0)
        for key, row in weighed_now.items()
        if key in weighed_then
    ]
    return Against(
        same=Same(
            animals=len(pairs),
            mean_then_kg=figures([one.then_kg for one in pairs]).mean,
            mean_now_kg=figures([one.now_kg for one in pairs]).mean,
            change=figures([one.now_kg - one.then_kg for one in pairs]),
        ),
        then=then.weight,
        now=now.weight,
        pairs=tuple(pairs),
        missing=_named(before[key] for key in before.keys() - after.keys()),
        new=_named(after[key] for key in after.keys() - before.keys()),
        unknown=sum(row.animal is None for row in (*then.animals, *now.animals)),
        days=_days(then.began, now.began, zone),
    )


def _by_beast(rows: Iterable[Row], root: Callable[[str], str]) -> dict[str, Row]:
    """Index rows by who it is; those whom nothing names can be nobody's other weight."""
    return {root(row.beast) if row.beast else row.animal: row for row in rows if row.animal or row.beast}  # type: ignore[misc]


def _named(rows: Iterable[Row]) -> tuple[str, ...]:
    return tuple(row.name for row in sorted(rows, key=by_name))


def _days(then: str | None, now: str | None, zone: tzinfo) -> int | None:
    if then is None or now is None:
        return None
    first, last = (datetime.fromisoformat(one).astimezone(zone).date() for one in (then, now))
    return (last - first).days


def told(found: Against, then: str, now: str) -> Iterator[str]:
    """Yield the comparison as lines of text; `then` and `now` name the two jobs."""
    same = found.same
    yield f"{now} against {then}, {found.days} days before"
    if same.change.mean is None:
        yield "no animal has a sure weight in both"
    else:
        error = same.standard_error_kg
        spread = "" if error is None else f" (SD {same.change.sd:.1f}, standard error {error:.1f})"
        means = f"{same.mean_then_kg:.1f} to {same.mean_now_kg:.1f} kg"
        yield f"the same {many(same.animals, 'animal')}: {means}, mean change {same.change.mean:+.1f} kg{spread}"
        ends = f"from {same.change.smallest:+.1f} to {same.change.largest:+.1f} kg"
        yield f"  each {ends}{_a_day(same.change.mean, found.days)}"
    if found.change_of_all_kg is not None:
        yield (
            f"all: {found.then.mean:.1f} kg over {found.then.count} to {found.now.mean:.1f} kg over {found.now.count}, "
            f"{found.change_of_all_kg:+.1f} kg: it moves with who came too"
        )
    yield f"missing, {len(found.missing)}: {_some(found.missing)}" if found.missing else "missing: none"
    yield f"new, {len(found.new)}: {_some(found.new)}" if found.new else "new: none"
    if found.unknown:
        yield f"{found.unknown} without a tag or number are neither"
    lost = sorted((one for one in found.pairs if one.now_kg < one.then_kg), key=lambda one: one.now_kg - one.then_kg)
    names = tuple(f"{one.name} ({one.now_kg - one.then_kg:.1f} kg)" for one in lost)
    yield (
        f"lost weight, {len(lost)} of {same.animals}: {_some(names)}"
        if lost
        else f"lost weight: none of {same.animals}"
    )


def _a_day(kg: float, days: int | None) -> str:
    if days is None or days < LEAST_DAYS:
        return f"; {days} days are too few for a gain a day" if days is not None else ""
    return f"; {kg / days:.2f} kg/day"


def _some(names: tuple[str, ...]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def as_json(found: Against) -> dict[str, Any]:
    """Spell the comparison for a program."""
    same = found.same
    return {
        "days": found.days,
        "same": {
            "animals": same.animals,
            "mean_then_kg": same.mean_then_kg,
            "mean_now_kg": same.mean_now_kg,
            "mean_change_kg": same.change.mean,
            "sd_change_kg": same.change.sd,
            "standard_error_kg": same.standard_error_kg,
            "least_change_kg": same.change.smallest,
            "most_change_kg": same.change.largest,
        },
        "all": {
            "then": {"animals": found.then.count, "mean_kg": found.then.mean},
            "now": {"animals": found.now.count, "mean_kg": found.now.mean},
            "change_kg": found.change_of_all_kg,
        },
        "missing": list(found.missing),
        "new": list(found.new),
        "unknown": found.unknown,
        "animals": [_pair(one) for one in found.pairs],
    }


def _pair(pair: Pair) -> dict[str, Any]:
    return {**pair._asdict(), "change_kg": round(pair.now_kg - pair.then_kg, 3)}
