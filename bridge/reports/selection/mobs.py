"""What is known of jobs beside their weighings: which mob, whose property; and how a mob grew from job to job."""

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from neckyoke.bridge.reports.pictures.mob_growth import Spread
from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.selection.works import Work, day_of, key_of, works_of
from neckyoke.bridge.reports.statistics import figures
from neckyoke.bridge.reports.tally import best_rows


@dataclass(frozen=True, slots=True)
class JobSaid:
    """What a job's newest event says of it; `mob` is null in events of before it was said.

    `place` is the property's name, else the site's.
    """

    turn: int | None = None
    sheet: str | None = None
    mob: str | None = None
    place: str | None = None
    begun: datetime | None = None
    ended: datetime | None = None


def jobs_said(bodies: Iterable[str]) -> dict[str, JobSaid]:
    """Read job events, given as JSON in any order, by the job's id; the highest revision counts."""
    newest: dict[str, dict[str, Any]] = {}
    for body in bodies:
        event = json.loads(body)
        data = {"site": str(event.get("source", "")).partition("/")[2].partition("/")[0], **(event.get("data") or {})}
        if "job" in data and data.get("revision", 1) >= newest.get(data["job"], {}).get("revision", 0):
            newest[data["job"]] = data
    return {job: _said(data) for job, data in newest.items()}


def _said(data: Mapping[str, Any]) -> JobSaid:
    begun, ended = (datetime.fromisoformat(data[key]) if data.get(key) else None for key in ("begun", "ended"))
    return JobSaid(
        data.get("turn"),
        data.get("sheet"),
        data.get("mob"),
        data.get("property_name") or data["site"] or None,
        begun,
        ended,
    )


def mob_of(work: Work, said: Mapping[str, JobSaid]) -> str | None:
    """Return the mob that a job was about: what it says, else its sheet's title."""
    known = said.get(work.job or "", JobSaid())
    return known.mob or work.title or known.sheet


def growth(rows: Iterable[tuple[str, Row]], mob: str | None, said: Mapping[str, JobSaid], zone: tzinfo) -> list[Spread]:
    """Return the weights of each job of a mob, oldest first: all animals weighed well enough in it."""
    rows = list(rows)
    mine = {work.key for work in works_of(rows, zone) if mob_of(work, said) == mob}
    of_job: dict[str, list[Row]] = defaultdict(list)
    for _, row in rows:
        if (key := key_of(row, zone)) in mine:
            of_job[key].append(row)
    found = []
    for those in of_job.values():
        weights = [row.kg for row in best_rows(those) if row.kg is not None]
        shown = figures(weights)
        if shown.mean is not None:
            edges = (shown.smallest, shown.quarter, shown.three_quarters, shown.largest)
            least, quarter, three_quarters, most = (one or 0.0 for one in edges)
            day = min(day_of(row, zone) for row in those)
            found.append(Spread(day, shown.count, shown.mean, least, quarter, three_quarters, most))
    return sorted(found)


def mob_picked(
    rows: Iterable[tuple[str, Row]], pick: Callable[[Row], bool], said: Mapping[str, JobSaid], zone: tzinfo
) -> str | None:
    """Return the mob of the last job of which a weighing is picked."""
    works = works_of(((name, row) for name, row in rows if pick(row)), zone)
    return mob_of(works[-1], said) if works else None
