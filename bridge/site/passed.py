"""Animals that passed while a job was paused: somebody forgot the pause, and may count them in after all.

What counts nowhere has no tally to be missed from, so it is kept here which stays had an animal's tag, also through a
stop.  Who was counted in since, or struck out, is none of them any more.
"""

from dataclasses import dataclass, field

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.job.jobs.job import Job
from neckyoke.bridge.job.jobs.jobs import Jobs
from neckyoke.bridge.telling.status import PassedStatus

KEPT = 1000
"""Stays remembered."""


@dataclass(slots=True)
class Passed:
    """Those of one station, by its numbers."""

    jobs: Jobs
    numbers: list[int] = field(default_factory=list)

    def saw(self, data: Weighing) -> str | None:
        """Take a weighing as it is published; return what a person should know of it."""
        tagged = data.tag is not None and data.tag.animal and Flag.VOIDED not in data.flags
        if data.job is not None or Flag.PAUSED not in data.flags or not tagged:
            self.numbers = [number for number in self.numbers if number != data.number]
            return None
        self.numbers = sorted({*self.numbers, data.number})[-KEPT:]
        job = self.jobs.open
        if job is None or job.standing != "paused":  # it was, as that one came
            return None
        text = f"Job {job.turn} is paused, and number {data.number} was an animal with a tag.  It counts nowhere until"
        return f"{text} somebody says: neckyoke tell resume --from {data.number}."

    def of(self, job: Job) -> PassedStatus | None:
        """Return how many passed in the pauses of a job, and from which on they would be counted in; None if nobody."""
        paused = self.jobs.paused_stays(job)
        animals = sorted({*self.numbers} & {*paused})
        if not animals:
            return None
        others = sum(number >= animals[0] for number in paused) - len(animals)
        return PassedStatus(animals=len(animals), others=others, first=animals[0])
