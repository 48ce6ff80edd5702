"""Gathers how the daemon is (bridge/telling/status.py) from its parts."""

import os
import shutil
import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.events import WithheldFor
from neckyoke.bridge.job.doses.given import doubt
from neckyoke.bridge.job.doses.held import spell_withheld
from neckyoke.bridge.job.findings import FindingTable
from neckyoke.bridge.job.jobs.job import Job
from neckyoke.bridge.job.making.shelf import Shelf
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.telling.status import (
    ClockStatus,
    Counts,
    FindingAsked,
    JobStatus,
    LinkStatus,
    PlacesStatus,
    PlatformView,
    StationStatus,
    Status,
    TroubleStatus,
)


@dataclass(slots=True)
class Lag:
    """How late the event loop came to the last tick."""

    s: float = 0.0


@dataclass(frozen=True, slots=True)
class Gather:
    """Called, it gives the daemon's status."""

    site: Site
    clock: WallClock
    journal: Journal
    supervisors: Mapping[str, Supervisor]
    outlets: Mapping[str, Follower]
    standing: Standing
    lag: Lag

    def __call__(self) -> Status:
        """Return how the daemon is now; cheap enough to be asked every second."""
        now = self.clock.now()
        return Status(
            site=self.site.config.site,
            version=version("neckyoke"),
            pid=os.getpid(),
            started=self.site.run,
            time=self.clock.stamp(now).time,
            up_s=round(now, 1),
            stations={name: _station(self.site, name) for name in self.site.stations},
            links={name: _link(self.site, supervisor) for name, supervisor in self.supervisors.items()},
            outlets={name: outlet.health() for name, outlet in self.outlets.items()},
            journal=self.journal.health,
            clock=ClockStatus(state=self.clock.state, steps=self.clock.steps),
            disk_free_mb=_disk_free_mb(self.journal.path),
            cpu_s=round(time.process_time(), 2),
            troubles=_troubles(self.standing),
            loop_lag_s=self.lag.s,
        )


def _troubles(standing: Standing) -> tuple[TroubleStatus, ...]:
    """Return the troubles that stand, the oldest first.  Their times are seconds since 1970."""
    return tuple(
        TroubleStatus(
            about=one.said.about,
            text=one.said.text,
            since=datetime.fromtimestamp(one.since, UTC),
            station=one.said.station,
            link=one.said.link,
        )
        for one in standing.all()
    )


def _station(site: Site, name: str) -> StationStatus:
    memory, clerk, jobs = site.stations[name].memory, site.clerks[name], site.jobs[name]
    job = jobs.jobs.open
    return StationStatus(
        view=platform(site, name),
        counts=Counts(
            animals=len(set(jobs.account.weighed.values())),
            number=memory.number,
            expected=None if clerk.roster is None else len(clerk.roster),
            not_seen=None if clerk.roster is None else len(clerk.not_seen),
        ),
        job=_job(jobs, job) if job else None,
        jobs=tuple(_job(jobs, one) for one in jobs.jobs if one.standing != "undone"),
        sheet=clerk.sheet.title if clerk.sheet else None,
        treatments=tuple(one.name for one in clerk.sheet.treatments) if clerk.sheet else (),
        findings=tuple(_asked(one) for one in clerk.sheet.findings) if clerk.sheet else (),
        places=tuple(_places(site, name)),
        sheets=tuple(Shelf(site.config).files()),
        zero_kg=memory.zero_kg,
    )


def _job(jobs: StationJobs, job: Job) -> JobStatus:
    return JobStatus(
        job=job.id,
        turn=job.turn,
        text=jobs.words.describe(job),
        state=job.standing,
        sheet=job.sheet.title if job.sheet else None,
        passed=jobs.passed.of(job),
        begun=job.begun,
        ended=job.ended,
    )


def _places(site: Site, name: str) -> Iterator[PlacesStatus]:
    clerk, jobs = site.clerks[name], site.jobs[name]
    job, today = jobs.jobs.open, jobs.stamp(0.0).time.astimezone(jobs.zone).date()
    for rule in clerk.sheet.pens if clerk.sheet else ():
        if rule.heads is not None:
            places = jobs.taken.places(rule, job.id if job else None, clerk.roster, today)
            yield PlacesStatus.model_validate(asdict(places))


def _asked(one: FindingTable) -> FindingAsked:
    return FindingAsked(
        name=one.name,
        kind="words" if one.words else "number" if one.number and not one.touches else "choice",
        choices=one.touches,
        several=one.several,
        usual=one.usual_value,
        needed=one.needed,
        unit=one.number.unit if one.number else None,
        **({"low": one.number.from_, "high": one.number.to, "step": one.number.step} if one.number else {}),
    )


def _link(site: Site, supervisor: Supervisor) -> LinkStatus:
    counts = site.counts(supervisor.name)
    frames = counts.pop("frames", 0)
    tables = site.config.stations.items()
    name = supervisor.name
    stations = [
        station for station, table in tables if name == table.scale or any(name == one.link for one in table.readers)
    ]
    said = {**supervisor.health(), "frames": frames, "rejects": counts, "stations": stations}
    return LinkStatus.model_validate(said)


def platform(site: Site, name: str) -> PlatformView:
    """Return what a station shows now.

    A scale that is not heard shows nothing; a weight that was taken before stays taken.
    """
    view = site.stations[name].view
    shown = view.platform
    scale = site.config.stations[name].scale
    heard = site.state(scale) in {"", "up"}
    settled = site.settled.get(name)
    known = settled if settled is not None and settled.weighing == view.weighing else None
    withheld = known.withheld if known else ()
    held = known is not None and not known.may_leave and not known.missing
    again = doubt(known) if known is not None else ""
    todo = advice(shown.state, shown.settled_kg, view.missing, withheld, held=held, again=again)
    if not heard:
        todo = f"The scale is not heard: see to {scale}."
    tag = view.tag.id if view.tag else None
    visual, marks = site.keeper.seen(tag, view.weighing)
    asked = site.keeper.questions.open(name)
    return PlatformView(
        station=name,
        state=shown.state,
        kg=round(shown.kg, 2) if heard and shown.kg is not None else None,
        moving=shown.moving if heard else None,
        number=view.number,
        weighing=view.weighing,
        tag=tag,
        tags_seen=view.tags_seen,
        settled_kg=shown.settled_kg,
        grade=shown.grade,
        missing=view.missing,
        may_leave=shown.settled_kg is not None and not view.missing and not held,
        next=f"Look out: {'; '.join(marks)}.  {todo}" if marks else todo,
        visual=visual,
        marks=marks,
        question=asked[-1].question if asked else None,
        withheld=withheld,
    )


def advice(
    state: str,
    settled_kg: float | None,
    missing: Iterable[str],
    withheld: Iterable[WithheldFor] = (),
    *,
    held: bool,
    again: str = "",
) -> str:
    """Return in one plain sentence what to do next, and until when it is withheld.

    `again`: what to look at, where it may be the animal before it once more.
    """
    if state in {"empty", "leaving"}:
        return "Ready for the next animal." if state == "empty" else "Stepping off."
    if settled_kg is None:
        return "Wait: not settled yet."
    lacking = " and ".join(missing)
    told = spell_withheld(withheld)
    if lacking or held:
        why = [f"{lacking} missing" if lacking else "", again, told if held else ""]
        return f"Hold it: {', '.join(one for one in why if one)}."
    return f"Weighed: let it go.  It is {told}." if told else "Weighed: let it go."


def _disk_free_mb(path: Path) -> int | None:
    try:
        return shutil.disk_usage(path.parent).free // 1_000_000
    except OSError:
        return None
