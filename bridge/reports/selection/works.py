"""Which jobs there were, by their weighings; and which of them a person means.

Weighings from before there were jobs form one job a station, title and farm day: they are named by that day.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any, TypeAlias

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports.rows import Row

Pick: TypeAlias = Callable[[Row], bool]
"""Returns whether a weighing is selected."""


@dataclass(slots=True)
class Work:
    """One job as its weighings tell it.  `first` and `last` are when its first and last stays began, farm time."""

    key: str
    job: str | None
    station: str
    title: str | None
    first: datetime
    last: datetime
    seen: set[str] = field(default_factory=set)
    untagged: int = 0
    turn: int | None = None

    @property
    def animals(self) -> int:
        """How many animals."""
        return len(self.seen) + self.untagged

    @property
    def name(self) -> str:
        """What a person calls it by: its turn, or its day."""
        return f"job {self.turn}" if self.turn else f"{self.first:%Y-%m-%d}"

    def as_dict(self) -> dict[str, Any]:
        """Spell it for JSON."""
        return {
            "job": self.job,
            "turn": self.turn,
            "station": self.station,
            "title": self.title,
            "first": self.first.isoformat(timespec="seconds"),
            "last": self.last.isoformat(timespec="seconds"),
            "animals": self.animals,
        }


@dataclass(frozen=True, slots=True)
class Selection:
    """What a person wants to see: by default the last job.

    `job` is a turn or an id; `day`, `first` and `last` are the farm's dates, `last` included.
    """

    job: str | None = None
    day: date | None = None
    first: date | None = None
    last: date | None = None
    title: str | None = None
    station: str | None = None
    everything: bool = False

    @property
    def is_narrow(self) -> bool:
        """Whether anything but a station is said."""
        said = (self.job, self.day, self.first, self.last, self.title)
        return self.everything or any(one is not None for one in said)

    def picks(self, work: Work, day: date) -> bool:
        """Return whether a weighing of a job, on a farm date, is meant."""
        return (
            (self.job is None or self.job in {work.job, str(work.turn)})
            and (self.day is None or day == self.day)
            and (self.first is None or day >= self.first)
            and (self.last is None or day <= self.last)
            and (self.title is None or (work.title or "").casefold() == self.title.casefold())
            and (self.station is None or work.station == self.station)
        )


def key_of(row: Row, zone: tzinfo) -> str:
    """Return what tells one job from another: its id, else station, title and farm day."""
    setting = row.setting
    return setting.job or f"{setting.station}/{setting.sheet or ''}/{day_of(row, zone)}"


def day_of(row: Row, zone: tzinfo) -> date:
    """Return the farm's date of a weighing."""
    return datetime.fromisoformat(row.on).astimezone(zone).date()


def works_of(rows: Iterable[tuple[str, Row]], zone: tzinfo, turns: dict[str, int] | None = None) -> list[Work]:
    """Gather the jobs of weighings, in order of their first stay; struck-out and paused ones make none."""
    found: dict[str, Work] = {}
    for _, row in rows:
        setting = row.setting
        if {"voided", "paused"} & {*setting.flags}:
            continue
        key, on = key_of(row, zone), datetime.fromisoformat(row.on).astimezone(zone)
        work = found.get(key)
        if work is None:
            work = found[key] = Work(key, setting.job, setting.station, setting.sheet, on, on)
        work.first, work.last = min(work.first, on), max(work.last, on)
        work.title = setting.sheet or work.title
        if row.animal:
            work.seen.add(row.animal)
        else:
            work.untagged += 1
    ordered = sorted(found.values(), key=lambda one: one.first)
    for work in ordered:
        work.turn = (turns or {}).get(work.job or "")
    return ordered


def picker(rows: Iterable[tuple[str, Row]], selection: Selection, zone: tzinfo, turns: dict[str, int]) -> Pick:
    """Return which weighings are meant.  Raises ConfigError saying what there is, when none is."""
    rows = list(rows)
    there = works_of(rows, zone, turns)
    by_key = {one.key: one for one in there}
    if selection.is_narrow:

        def pick(row: Row) -> bool:
            work = by_key.get(key_of(row, zone))
            return work is not None and selection.picks(work, day_of(row, zone))
    else:
        mine = [one for one in there if selection.station in {None, one.station}]
        last = max(mine, key=lambda one: one.first).key if mine else None

        def pick(row: Row) -> bool:
            return key_of(row, zone) == last

    if not any(pick(row) for _, row in rows):
        raise nothing(selection, there)
    return pick


def nothing(selection: Selection, there: list[Work]) -> ConfigError:
    """Explain that nothing was selected, and what there is to select."""
    told = "; ".join(
        f"{one.name}, {one.title or 'no sheet'}, {one.station}, {one.first:%Y-%m-%d}" for one in there[-8:]
    )
    what = "no weighing is in this selection"
    hint = f"There is: {told}." if there else "There is no weighing at all."
    where = " ".join(f"{name}={value}" for name, value in _said(selection)) or "the last job"
    return ConfigError([Problem(file="selection", where=where, what=what, hint=hint)])


def _said(selection: Selection) -> list[tuple[str, object]]:
    names = ("job", "day", "first", "last", "title", "station")
    return [(name, value) for name in names if (value := getattr(selection, name)) is not None]
