"""One job as it is published: where it stands, and at its end how it went."""

from collections.abc import Mapping
from datetime import tzinfo

from neckyoke.bridge.events import JobState
from neckyoke.bridge.job.jobs.job import Job
from neckyoke.bridge.job.load import Job as Prepared
from neckyoke.bridge.job.load import expected_by
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.site.job_counts import JobCounts


def job_state(
    job: Job,
    revision: int,
    why: str,
    *,
    station: str,
    zone: tzinfo,
    place: str | None,
    prepared: Prepared | None,
    counts: JobCounts,
    paused: int,
) -> JobState:
    """Return the state of a job.  `prepared` is its sheet and roster, where they are at hand; `paused`: stays then."""
    mob = prepared.sheet.of_mob if prepared else None
    ended: Mapping[str, object] = {}
    if job.standing == "ended":
        about = About(place, mob, station, job.turn)
        ended = {
            "tally": counts.tally(job.id, paused),
            "summary": counts.summary(job.id, about, zone, expected_by(prepared)),
        }
    return JobState.model_validate(
        {
            "job": job.id,
            "revision": revision,
            "station": station,
            "turn": job.turn,
            "state": job.standing,
            "why": why,
            "sheet": job.sheet.title if job.sheet else None,
            "mob": mob or (job.sheet.title if job.sheet else None),
            "digest": job.sheet.digest if job.sheet else None,
            "by_itself": job.by_itself,
            "begun": job.begun,
            "ended": job.ended,
            "timezone": str(zone),
            "property_name": place,
            **ended,
        }
    )
