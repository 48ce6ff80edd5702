"""The day counted up.

What counts: of each weighing the highest revision, unless a person struck it out or the job was paused.  An animal
weighed again in the same job is one animal, by its id in the herd book whatever tag it wore: its best weighing speaks
for it (good before fair before poor, the later of equals), and a treatment counts where it was first given; also one
that was given in a weighing that was struck out.  Untagged animals count one each.  Statistics rest on weights graded
good or fair; poor ones and stays without a weight are counted beside them, since nothing is promised of those.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple, TypeAlias

from neckyoke.bridge.job.doses.dosing import MILLILITRES
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.reports.reading import read_line, weighing_of
from neckyoke.bridge.reports.rows import Given, Row, Setting, brief_row, row_of
from neckyoke.bridge.reports.selection.same import as_one, best_of, grouped, is_struck, stands
from neckyoke.bridge.reports.statistics import Bins, Figures, bins, figures

Expected: TypeAlias = Iterable[str] | Mapping[str, str]
BySetting: TypeAlias = dict[Setting, list[float]]
LEAST_BIN_KG = 1.0
"""Nobody reads weights of animals in finer steps."""
NO_BINS = Bins(0, 0.1, ())
SURE = frozenset({"good", "fair"})


@dataclass(slots=True)
class Used:
    """One treatment over the day: animals given it and passed over, and how much went in, in millilitres.

    `undosed` counts animals given it whose dose is not known here (no weight, or dosed as a group).  All of them are
    clear from the dates `meat` and `export`; `unknown` where no period was given, None where there is none.
    """

    given: int = 0
    skipped: int = 0
    undosed: int = 0
    totals: dict[str, float] = field(default_factory=dict)
    batches: set[str] = field(default_factory=set)
    meat: str | None = None
    export: str | None = None

    @property
    def total_ml(self) -> float:
        """What was given in millilitres."""
        return self.totals.get(MILLILITRES, 0.0)

    def add(self, one: Given, animals: int = 1) -> None:
        """Count what one animal was given, or so many alike."""
        if one.skipped:
            self.skipped += animals
            return
        self.given += animals
        if one.amount is None:
            self.undosed += animals
        else:
            self.totals[one.unit] = self.totals.get(one.unit, 0.0) + one.amount * animals
        if one.batch:
            self.batches.add(one.batch)
        self.meat, self.export = longest((self.meat, one.meat)), longest((self.export, one.export))


class Seen(NamedTuple):
    """The animals of which one thing was seen: how many, and the figures of those with a sure weight, and a gain."""

    animals: int
    weight: Figures
    gain: Figures


@dataclass(frozen=True, slots=True)
class Tally:
    """The day's counts and figures.  Weights in kilograms, gains in kilograms a day.

    `animals` has a row for each animal, the one that speaks for it, `standing` one for each weighing that counts;
    `not_seen` are keys of the roster, `missing` the same by name.
    """

    counts: Mapping[str, int | None]
    weight: Figures
    by_pen: Mapping[str, Figures]
    by_detail: Mapping[str, Mapping[str, Figures]]
    gain: Figures
    gain_by_pen: Mapping[str, Figures]
    treatments: Mapping[str, Used]
    distribution: Bins
    sheets: tuple[str, ...]
    began: str | None
    ended: str | None
    heaviest: str | None
    lightest: str | None
    not_seen: tuple[str, ...] = ()
    by_finding: Mapping[str, Mapping[str, Seen]] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    animals: tuple[Row, ...] = field(default=(), compare=False)
    standing: tuple[Row, ...] = field(default=(), compare=False)
    gains: Bins = NO_BINS

    @property
    def sure(self) -> list[Row]:
        """The animals that the figures of weights rest on: those with a weight graded good or fair."""
        return _sure(self.animals)

    @property
    def losers(self) -> list[Row]:
        """The animals that lost weight since they were last weighed, who lost most first."""
        lost = [row for row in self.animals if row.gained is not None and row.gained < 0]
        return sorted(lost, key=lambda row: row.gained or 0.0)


class Count:
    """Takes events in as they come and can be asked for the tally at any time: the live one and the one after.

    `sheet` limits it to one sheet's title, `station` to one station, `since` and `until` to weighings begun between two
    moments, spelled as events spell them.
    """

    def __init__(
        self,
        *,
        sheet: str | None = None,
        station: str | None = None,
        since: str | None = None,
        until: str | None = None,
    ) -> None:
        self._sheet, self._station, self._since, self._until = sheet, station, since, until
        self._rows: dict[str, Row] = {}

    def add(self, event: Any) -> None:
        """Take in one event: JSON as a dictionary, or bridge.events.Event.  All but weighings are passed over."""
        data = weighing_of(event)
        if data is not None:
            self._take(data["weighing"], row_of(data))

    def add_line(self, line: str) -> bool:
        """Take in one event as a line of JSON; False when it was no weighing or could not be read."""
        found = brief_row(line)
        if found is None:
            data = read_line(line)
            if data is None:
                return False
            found = data["weighing"], row_of(data)
        self._take(*found)
        return True

    def _take(self, weighing: str, row: Row) -> None:
        old = self._rows.get(weighing)
        if old is not None and old.revision >= row.revision:
            return
        self._rows[weighing] = row

    def rows(self) -> list[tuple[str, Row]]:
        """Return the newest revision of each weighing, by its id, in the order in which they came."""
        return list(self._rows.items())

    def drop(self, weighing: str) -> bool:
        """Count a weighing no more; False when it was not counted."""
        return self._rows.pop(weighing, None) is not None

    def _wanted(self, row: Row) -> bool:
        return (
            (self._sheet is None or row.setting.sheet == self._sheet)
            and (self._station is None or row.setting.station == self._station)
            and (self._since is None or row.on >= self._since)
            and (self._until is None or row.on < self._until)
        )

    def tally(
        self,
        expected: Expected | None = None,
        pick: Callable[[Row], bool] = lambda _: True,
        root: Callable[[str], str] = str,
    ) -> Tally:
        """Count up what is picked.  `expected`: the roster's keys (`Animal.key`), perhaps with the animals' names.

        `root` gives the id by which an animal of the herd book goes now, where some were merged (`Book.root`).
        """
        rows = [row for row in self._rows.values() if self._wanted(row) and pick(row)]
        voided, paused = (sum(flag in row.setting.flags for row in rows) for flag in ("voided", "paused"))
        standing = [row for row in rows if stands(row)]
        animals = [group[0] if len(group) == 1 else as_one(group) for group in grouped(standing, root)]
        alike = Counter(row.setting for row in animals)
        used: dict[str, Used] = defaultdict(Used)
        for setting, many in alike.items():
            for one in setting.treatments:
                used[one.name].add(one, many)
        for one in (one for row in rows if is_struck(row) for one in row.setting.treatments if not one.skipped):
            used[one.name].add(one, 1)
        sure = _sure(animals)
        missing = None if expected is None else _not_seen(expected, standing)
        flags, grades = Counter[str](), Counter[str]()
        for setting, many in alike.items():
            grades[setting.grade] += many
            flags.update(dict.fromkeys(setting.flags, many))
        gains = [row.gain for row in animals if row.gain is not None]
        days = [row.on for row in standing]
        weights = [row.kg for row in sure if row.kg is not None]
        by_setting = _by_setting(sure, "kg")
        return Tally(
            counts={
                "animals": len(animals),
                "weighings": len(standing),
                "untagged": flags["no-tag"],
                "repeats": len(standing) - len(animals),
                "not_expected": flags["not-expected"],
                "not_seen": None if missing is None else len(missing),
                "voided": voided,
                "paused": paused,
                "withheld": flags["withheld"],
                "poor": grades["poor"],
                "no_weight": grades["none"],
            },
            weight=figures(weights),
            by_pen=_figures_by_pen(by_setting),
            by_detail=_figures_by_detail(by_setting),
            gain=figures(gains),
            gain_by_pen=_figures_by_pen(_by_setting(animals, "gain")),
            treatments=dict(used),
            distribution=bins(weights, least=LEAST_BIN_KG),
            sheets=tuple(dict.fromkeys(row.setting.sheet for row in standing if row.setting.sheet)),
            began=min(days, default=None),
            ended=max(days, default=None),
            heaviest=max(sure, key=_kg, default=_NOBODY).animal,
            lightest=min(sure, key=_kg, default=_NOBODY).animal,
            animals=tuple(animals),
            standing=tuple(standing),
            gains=bins(gains),
            not_seen=missing or (),
            missing=tuple(expected[key] if isinstance(expected, Mapping) else key for key in missing or ()),
            by_finding=_by_finding(animals),
        )


def tally(events: Iterable[Any], *, expected: Iterable[str] | None = None, **limits: str | None) -> Tally:
    """Count up events: lines of JSON, JSON dictionaries, or bridge.events.Event.  `limits` as for `Count`."""
    count = Count(**limits)
    for event in events:
        if isinstance(event, str):
            count.add_line(event)
        else:
            count.add(event)
    return count.tally(expected)


def best_rows(rows: Iterable[Row]) -> list[Row]:
    """Return the row of each animal that speaks for it, where its weight is good or fair: of one job's weighings."""
    return _sure(best_of(group) for group in grouped(row for row in rows if stands(row)))


def _sure(rows: Iterable[Row]) -> list[Row]:
    """Return the rows that figures of weights rest on."""
    return [row for row in rows if row.kg is not None and row.setting.grade in SURE]


_NOBODY = Row(0, None, None, None, "", Setting("", "none", (), None, None, (), (), None))


def _kg(row: Row) -> float:
    return row.kg or 0.0


def _not_seen(expected: Iterable[str], rows: Iterable[Row]) -> tuple[str, ...]:
    seen = {row.animal for row in rows}
    return tuple(key for key in expected if key not in seen)


def _by_setting(rows: Iterable[Row], number: Literal["kg", "gain"]) -> BySetting:
    gathered: dict[Setting, list[float]] = defaultdict(list)
    for row in rows:
        found = row.kg if number == "kg" else row.gain
        if found is not None:
            gathered[row.setting].append(found)
    return gathered


def _figures_by_pen(by_setting: BySetting) -> dict[str, Figures]:
    pens: dict[str, list[float]] = defaultdict(list)
    for setting, numbers in by_setting.items():
        if setting.pen is not None:
            pens[setting.pen] += numbers
    return {pen: figures(numbers) for pen, numbers in sorted(pens.items())}


def _figures_by_detail(by_setting: BySetting) -> dict[str, dict[str, Figures]]:
    details: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for setting, numbers in by_setting.items():
        for name, value in setting.details:
            details[name][value] += numbers
    return {
        name: {value: figures(numbers) for value, numbers in sorted(values.items())} for name, values in details.items()
    }


def _by_finding(animals: Iterable[Row]) -> dict[str, dict[str, Seen]]:
    seen: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in animals:
        for name, value in row.findings:
            seen[name][value].append(row)
    return {
        name: {
            value: Seen(
                len(rows),
                figures([row.kg for row in _sure(rows) if row.kg is not None]),
                figures([row.gain for row in rows if row.gain is not None]),
            )
            for value, rows in sorted(values.items())
        }
        for name, values in seen.items()
    }
