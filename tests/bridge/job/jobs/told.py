"""Jobs that are told what happens, and what they have come to."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from neckyoke.bridge.events import Clock, Stamp
from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.jobs.jobs import Jobs

START = datetime(2026, 11, 24, 6, 0, tzinfo=UTC)
STEERS, LAMBS = SheetRef("Steers", "a" * 12), SheetRef("Lambs", "b" * 12)
HOURS = 3600.0


def jobs(memory: Mapping[str, Any] | None = None, *, run: int = 0, start: datetime = START) -> Jobs:
    """Make the jobs of a run; each run begins a day after the one before."""
    begun = start + timedelta(days=run)
    kept = json.loads(json.dumps(memory or {}))
    return Jobs(
        "larkmoor", "crush", f"run {run}", lambda t: Stamp(begun + timedelta(seconds=t), Clock.SYNCHRONISED), kept
    )


def told(one: Jobs) -> list[tuple[int, str]]:
    return [(job.turn, job.standing) for job in one]


def numbers(one: Jobs, last: int) -> list[int | None]:
    return [place.job_number if (place := one.place(number)) else -1 for number in range(1, last + 1)]
