"""What the stations carry from run to run, kept in the journal by its changes.

    memory/STATION         number, zero, the habits of the readers, the last turns, the stay that may still go on, and
                           the last one, with what its animal was given
    weighed/STATION/JOB/NAME   the weighing that the animal of this name has in a job
    jobs/STATION           which job is open, the sheet named last, the last number
    job/STATION/JOB        one job: how it stands, its sheets, its stays by number
    jobs-base/STATION, jobs-log/STATION/N   the jobs as they were a while ago, and what has happened since
    undo/STATION/ASKED     what a request changed, while it can be taken back
    open-stay STATION      the stay that is open: the weighing that it becomes if the box stops now

A mob under one sheet grows to thousands of tags; written whole with each weighing they would wear a card out, so only
what changed since the last time is.  An open stay is written when it begins, with every event of its station, and each
time that it has lasted half as long again as when it was written last: the box may stop at any moment, and a card wears
by what is written.

Beside a stay stands what stood there last, roughly, since it may be too short for a weight; and when it was last seen,
in seconds of the machine's own clock, and which boot they count from: that clock runs through a restart of the daemon,
whatever the wall clock does, and tells how long the box was away.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.station.again import Before
from neckyoke.bridge.station.amend import claimed
from neckyoke.bridge.station.platform.view import View
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.station.station import Station

MEMORY = "memory/"
WEIGHED = "weighed/"
JOBS, JOB = "jobs/", "job/"
BASE, LOG = "jobs-base/", "jobs-log/"
UNDO = "undo/"
NOWHERE = "unknown"
AGAIN = 1.5
"""An open stay is written again when it has lasted so many times as long."""


@dataclass(frozen=True, slots=True)
class Run:
    """When this run began: so many seconds since the boot of this name."""

    boot: str = NOWHERE
    began_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Left:
    """A stay that an earlier run left open.

    `seen_s` seconds since this boot, None when that was another boot's; `stood_kg` what stood there last, roughly;
    `leaves`: most feet were lifted.
    """

    weighing: Weighing
    seen_s: float | None
    stood_kg: float | None = None
    leaves: bool = False

    @property
    def offset(self) -> float | None:
        """The wall clock less the machine's own when its times were made; None when that cannot be known."""
        return None if self.seen_s is None else self.weighing.off.timestamp() - self.seen_s


class Carried:
    """The journal's knowledge of each station's memory.  Made from what the journal kept of the last run.

    `left` holds the stays that were open when the last run ended, by station; `unread` the stations whose open stay was
    there and made no sense.
    """

    def __init__(
        self,
        values: Mapping[str, str],
        open_stays: Mapping[str, str] = MappingProxyType({}),
        run: Run = Run(),  # it is frozen
    ) -> None:
        self._run = run
        self._kept = {
            name: body
            for name, body in values.items()
            if name.startswith((MEMORY, WEIGHED, JOBS, JOB, BASE, LOG, UNDO))
        }
        self._written: dict[str, tuple[str, float]] = {}  # the open stay's weighing, and how long it had lasted
        self._awaiting = {name for name in self._stations() if self._table(name).get("interrupted")}
        self.left: dict[str, Left] = {}
        self.unread: list[str] = []
        for station, body in open_stays.items():
            try:
                self.left[station] = self._read_left(json.loads(body))
            except (ValidationError, ValueError, TypeError, KeyError):
                self.unread.append(station)

    def _stations(self) -> Iterator[str]:
        return (name.removeprefix(MEMORY) for name in self._kept if name.startswith(MEMORY))

    def _table(self, station: str) -> dict[str, Any]:
        table: dict[str, Any] = json.loads(self._kept.get(MEMORY + station, "{}"))
        return table

    def _read_left(self, table: dict[str, Any]) -> Left:
        if isinstance(table["weighing"], str):  # as it was kept before the time it was seen was
            return Left(Weighing.model_validate(table), None)
        weighing, leaves = Weighing.model_validate(table["weighing"]), table.get("leaves") is True
        return Left(weighing, self._seen_s(table), table.get("stood_kg"), leaves)

    def _seen_s(self, table: Mapping[str, Any]) -> float | None:
        """Return when something was seen, None when that was in another boot."""
        same = self._run.boot != NOWHERE and table.get("boot") == self._run.boot
        return float(table["seen_s"]) if same and table.get("seen_s") is not None else None

    def _away_s(self, seen_s: float | None) -> float | None:
        return None if seen_s is None else self._run.began_s - seen_s

    def memory(self, station: str) -> Memory:
        """Return what a station remembers of the last run, the stay that was left open included.

        That one has had its number and its tag, though the run did not live to say so.
        """
        table = self._table(station)
        jobs = self._jobs(station)
        weighed = self._weighed(station, jobs)
        away_s = self._away_s(self._seen_s(table))
        names = ("number", "zero_kg", "habits", "interrupted", "stood_kg", "leaves", "had")
        known = {name: table[name] for name in names if name in table}
        start = f"{UNDO}{station}/"
        undo = {name.removeprefix(start): body for name, body in self._kept.items() if name.startswith(start)}
        visits = tuple((*one,) for one in table.get("visits", ()))
        before = dict(table.get("before", {}))
        ago_s = self._away_s(self._seen_s(before))
        known |= {"before": {name: value for name, value in before.items() if name not in {"boot", "seen_s"}} or None}
        memory = replace(Memory(**known), weighed=weighed, jobs=jobs, away_s=away_s, undo=undo, visits=visits)
        memory = replace(memory, before_ago_s=ago_s)
        if (left := self.left.get(station)) is None:
            return memory
        one = left.weighing
        job = one.job or ""
        counted = {**weighed, job: {**dict.fromkeys(claimed(one), one.weighing), **weighed.get(job, {})}}
        if jobs:  # whatever has a later number is a part of it: it is told as one
            parts = range(one.number + 1, memory.number + 1)
            jobs = {**jobs, "now": max(jobs["now"], one.number), "parts": [*jobs.get("parts", ()), *parts]}
        return replace(
            memory,
            number=max(memory.number, one.number),
            weighed=counted,
            jobs=jobs,
            interrupted=one.model_dump(mode="json"),
            away_s=self._away_s(left.seen_s),
            stood_kg=left.stood_kg,
            leaves=left.leaves,
            **self._before(memory, left),
        )

    def _before(self, memory: Memory, left: Left) -> dict[str, Any]:
        """Return what the next stay is held against, the one that was left open having ended."""
        away_s = self._away_s(left.seen_s)
        one = Before.of(left.weighing, None if away_s is None else -away_s)
        before = Before.read(memory.before, memory.before_ago_s) if memory.before else None
        now = one.or_before(before)
        return {"before": now.spell(), "before_ago_s": None if now.off is None else -now.off}

    def changes(self, memories: Mapping[str, Memory]) -> dict[str, str | None]:
        """Return what must be written so that the journal knows these memories, by name; None takes a name out."""
        now = {
            name: body
            for station, memory in memories.items()
            for name, body in (
                (MEMORY + station, json.dumps(self._short(memory))),
                *(
                    (f"{WEIGHED}{station}/{job}/{claim}", weighing)
                    for job, weighed in memory.weighed.items()
                    for claim, weighing in weighed.items()
                ),
                *self._spelled_jobs(station, memory.jobs),
                *((f"{UNDO}{station}/{asked}", body) for asked, body in memory.undo.items()),
            )
        }
        ours = {name for name in self._kept if name.split("/")[1] in memories}
        changed: dict[str, str | None] = {
            **dict.fromkeys(ours - now.keys()),
            **{name: body for name, body in now.items() if self._kept.get(name) != body},
        }
        self._kept = {**{name: body for name, body in self._kept.items() if name not in ours}, **now}
        self._awaiting = {station for station, memory in memories.items() if memory.interrupted}
        return changed

    def _jobs(self, station: str) -> dict[str, Any]:
        table: dict[str, Any] = json.loads(self._kept.get(JOBS + station, "{}"))
        start = f"{JOB}{station}/"
        jobs = (json.loads(body) for name, body in self._kept.items() if name.startswith(start))
        if not table:
            return {}
        table["jobs"] = {job["id"]: job for job in sorted(jobs, key=_turn)}
        start = f"{LOG}{station}/"
        if BASE + station in self._kept:
            table["base"] = json.loads(self._kept[BASE + station])
            table["log"] = {
                name.removeprefix(start): body for name, body in self._kept.items() if name.startswith(start)
            }
        return table

    @staticmethod
    def _spelled_jobs(station: str, jobs: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        if jobs:
            short = {name: value for name, value in jobs.items() if name not in {"jobs", "base", "log"}}
            yield JOBS + station, json.dumps(short)
            if "base" in jobs:
                yield BASE + station, json.dumps(jobs["base"])
                yield from ((f"{LOG}{station}/{at}", body) for at, body in jobs["log"].items())
            for name, table in jobs["jobs"].items():
                yield f"{JOB}{station}/{name}", json.dumps(table)

    def _weighed(self, station: str, jobs: Mapping[str, Any]) -> dict[str, dict[str, str]]:
        """Return who was weighed in each job, the present one last."""
        order = sorted(jobs.get("jobs", {}).values(), key=_turn)
        weighed: dict[str, dict[str, str]] = {job["id"]: {} for job in order}
        if jobs.get("open") in weighed:
            weighed[jobs["open"]] = weighed.pop(jobs["open"])
        start = f"{WEIGHED}{station}/"
        for name, body in self._kept.items():
            job, parted, claim = name.removeprefix(start).partition("/") if name.startswith(start) else ("", "", "")
            if parted and (job in weighed or not jobs):
                weighed.setdefault(job, {})[claim] = body
        return weighed

    def _short(self, memory: Memory) -> dict[str, object]:
        """Return what is written whole whenever it changes."""
        short: dict[str, object] = {"number": memory.number, "zero_kg": memory.zero_kg, "habits": {**memory.habits}}
        if memory.visits:
            short["visits"] = memory.visits
        if memory.before:
            seen_s = self._counted(memory.before_ago_s)
            short |= {"before": {**memory.before, "boot": self._run.boot, "seen_s": seen_s}, "had": {**memory.had}}
        if memory.interrupted:
            seen_s = self._counted(memory.away_s)
            short |= {"interrupted": dict(memory.interrupted), "boot": self._run.boot, "seen_s": seen_s}
            short |= {"stood_kg": memory.stood_kg, "leaves": memory.leaves}
        return short

    def _counted(self, ago_s: float | None) -> float | None:
        """Return so long before this run in seconds of the machine's own clock."""
        return None if ago_s is None else round(self._run.began_s - ago_s, 3)

    def open_stays(
        self,
        stays: Mapping[str, Weighing | None],
        offset: float,
        views: Mapping[str, View] = MappingProxyType({}),
    ) -> dict[str, str | None]:
        """Return what the journal keeps of open stays, by station; None where none is open.

        `offset` is the wall clock less the machine's own, as their times were made with it; `views` tell what stood
        there last, roughly, and whether it leaves.
        """
        return {name: self._spelled(stay, offset, views.get(name)) if stay else None for name, stay in stays.items()}

    def _spelled(self, stay: Weighing, offset: float, view: View | None) -> str:
        seen_s = round(stay.off.timestamp() - offset, 3)
        stood = {"stood_kg": view.stood_kg, "leaves": view.leaves} if view else {}
        known = {"boot": self._run.boot, "seen_s": seen_s, **stood}
        return json.dumps({"weighing": stay.model_dump(mode="json"), **known})

    def due(self, t: float, stations: Mapping[str, Station]) -> tuple[list[str], bool]:
        """Return the stations whose open stay is to be written now, and whether their memories are too.

        These are when a stay begins, for the turn before it; and when it is known of one that was left open whether it
        goes on: it must not be held against the animal after.
        """
        names, begun = [], False
        for name, station in stations.items():
            view = station.view
            if view.weighing is None or view.platform.on is None:
                continue
            lasted_s = t - view.platform.on
            weighing, before_s = self._written.get(name, ("", 0.0))
            if weighing != view.weighing or lasted_s >= AGAIN * before_s:
                begun |= weighing != view.weighing
                self._written[name] = view.weighing, lasted_s
                names.append(name)
        known = begun or any(name in stations and not stations[name].awaits for name in self._awaiting)
        return names, known


def _turn(job: Mapping[str, Any]) -> int:
    turn: int = job["turn"]
    return turn
