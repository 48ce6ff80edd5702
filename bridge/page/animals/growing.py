"""How a mob grew from job to job, for a phone: few jobs are read, one after the other, and each is kept for a while.

The paper counts up the whole journal; a box that weighs has no time for that whenever a phone looks.
"""

import time
from collections.abc import Sequence
from datetime import timedelta, tzinfo

from neckyoke.bridge.events import Event, Weighing
from neckyoke.bridge.page.chosen import EARLY, Chosen
from neckyoke.bridge.page.doors import Memory
from neckyoke.bridge.reports.pictures.mob_growth import MOST_JOBS, Spread
from neckyoke.bridge.reports.selection.mobs import JobSaid, jobs_said
from neckyoke.bridge.reports.tally import tally

KEPT_S = 120.0
"""What a job of before came to is counted up anew after so long: somebody may have mended it."""


class Growing:
    """Tells how mobs grew."""

    def __init__(self, journal: Memory) -> None:
        self._journal = journal
        self._said: tuple[float, dict[str, JobSaid]] = (0.0, {})
        self._spreads: dict[str, tuple[float, Spread | None]] = {}

    async def mob(self, chosen: Chosen) -> str | None:
        """Return the mob of the job that is looked at: what it says, else its sheet's title."""
        said = await self._jobs()
        known = said.get(chosen.job.job) if chosen.job else None
        return _mob(known) or (chosen.job.sheet if chosen.job else None)

    async def of(self, chosen: Chosen, events: Sequence[Event], zone: tzinfo) -> list[Spread]:
        """Return the weights of each job of the mob, oldest first; nobody's for a day, or for a mob of one job."""
        if chosen.job is None or (mob := await self.mob(chosen)) is None:
            return []
        said = await self._jobs()
        others = {name: one for name, one in said.items() if _mob(one) == mob and name != chosen.job.job and one.begun}
        last = sorted(others, key=lambda name: str(others[name].begun))[-MOST_JOBS:]
        found = [await self._spread(name, others[name], zone) for name in last]
        spreads = [one for one in (*found, _spread(events, zone)) if one is not None]
        return sorted(spreads) if len(spreads) > 1 else []

    async def _jobs(self) -> dict[str, JobSaid]:
        until, said = self._said
        if until < time.monotonic():
            said = jobs_said(await self._journal.jobs())
            self._said = time.monotonic() + KEPT_S, said
        return said

    async def _spread(self, job: str, said: JobSaid, zone: tzinfo) -> Spread | None:
        until, spread = self._spreads.get(job, (0.0, None))
        if until < time.monotonic():
            assert said.begun is not None, "the others are left out"
            ended = said.ended + timedelta(seconds=1) if said.ended else None
            events = await self._journal.weighings(since=said.begun - EARLY, until=ended)
            spread = _spread([one for one in events if isinstance(one.data, Weighing) and one.data.job == job], zone)
            self._spreads[job] = time.monotonic() + KEPT_S, spread
        return spread


def _mob(said: JobSaid | None) -> str | None:
    return (said.mob or said.sheet) if said else None


def _spread(events: Sequence[Event], zone: tzinfo) -> Spread | None:
    shown = tally(events).weight
    if shown.mean is None:
        return None
    edges = (shown.smallest, shown.quarter, shown.three_quarters, shown.largest)
    least, quarter, three_quarters, most = (one or 0.0 for one in edges)
    begun = min(one.data.on for one in events if isinstance(one.data, Weighing))
    return Spread(begun.astimezone(zone).date(), shown.count, shown.mean, least, quarter, three_quarters, most)
