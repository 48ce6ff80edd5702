"""Which weighings somebody who looks is shown: one job's, or one day's; of one station, or of all.

`?job=2` means a job by its turn, or by its id, and `?job=last` the last there is; `?day=2026-11-24` means a day by the
farm's clock.  Without either it is the last job, as everywhere; today where there was none.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.telling.status import JobStatus, Status

FIRST_DAY, LAST_DAY = date(1970, 1, 1), date(9999, 1, 1)
DAY_AND_STATION = "A day is written 2026-11-24, a station as in the configuration."
EARLY = timedelta(minutes=1)
"""A job that a stay opens begins with that stay."""
LAST = "last"


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is shown: weighings whose stay began in [since, until), in a job and at a station where these are named."""

    name: str
    since: datetime
    until: datetime | None
    station: str | None = None
    day: date | None = None
    job: JobStatus | None = None

    def has(self, one: Weighing) -> bool:
        """Return whether a weighing is shown."""
        return self.station in {None, one.station} and (self.job is None or one.job == self.job.job)


def jobs_of(status: Status, station: str | None) -> Iterator[tuple[str, JobStatus]]:
    """Yield the jobs at hand with their stations, of one station or of all, in the order in which they began."""
    found = [
        (name, job) for name, one in status.stations.items() if station in {None, name} for job in one.jobs if job.begun
    ]
    yield from sorted(found, key=lambda one: (one[1].begun, one[0]))


def choose(asked: Mapping[str, str], status: Status, now: datetime) -> Chosen | str:
    """Read what is asked for; or say in words why nothing is shown.  `now` is the farm's clock."""
    station = asked.get("station") or None
    if station is not None and not re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,31}", station):
        return DAY_AND_STATION
    if asked.get("job") or (not asked.get("day") and [*jobs_of(status, station)]):
        return _of_job(asked.get("job") or LAST, station, status)
    try:
        day = date.fromisoformat(asked.get("day") or now.date().isoformat())
    except ValueError:
        return DAY_AND_STATION
    if not FIRST_DAY < day < LAST_DAY:
        return DAY_AND_STATION
    begin = datetime.combine(day, time(), now.tzinfo)
    end = datetime.combine(day + timedelta(days=1), time(), now.tzinfo)
    return Chosen(f"{station or 'all'}-{day.isoformat()}", begin, end, station, day)


def _of_job(name: str, station: str | None, status: Status) -> Chosen | str:
    there = [*jobs_of(status, station)]
    found = there[-1:] if name == LAST else [(at, job) for at, job in there if name in {job.job, str(job.turn)}]
    if len(found) == 1:
        at, job = found[0]
        assert job.begun is not None, "jobs without are left out"
        until = job.ended + timedelta(seconds=1) if job.ended else None
        return Chosen(f"{at}-job-{job.turn}", job.begun - EARLY, until, at, job=job)
    if found:
        return f"Several stations have a job {name}: say which, as in ?job={name}&station={found[0][0]}."
    told = "; ".join(f"{at}: {job.text}" for at, job in there[-8:])
    return f"There is no such job at hand.  There is: {told}." if told else "There is no job at hand yet."
