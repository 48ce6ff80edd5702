"""The jobs of a station counted up, the last few at hand: what is published of one when it has ended."""

from collections.abc import Iterable, Mapping
from datetime import tzinfo

from neckyoke.bridge.events import Event, JobTally, UsedInJob, Weighing
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.reports.paper.summary import summary as in_lines
from neckyoke.bridge.reports.tally import Count

COUNTED = 8
"""Jobs counted up at most; an earlier one is when somebody amends it."""


class JobCounts:
    """Counts by job.  `touched` are the jobs whose figures may be others since it was last cleared."""

    def __init__(self) -> None:
        self._counts: dict[str, Count] = {}
        self._told: dict[str, JobTally] = {}
        self.touched: set[str] = set()

    def __contains__(self, job: object) -> bool:
        return job in self._counts

    def saw(self, event: Event, data: Weighing) -> None:
        """Take a weighing: it counts in its own job, and in no other any more."""
        for job, count in self._counts.items():
            if job != data.job and count.drop(data.weighing):
                self.touched.add(job)
        if data.job is not None and (data.job in self._counts or data.job_number == 1):
            self._counts.setdefault(data.job, Count()).add(event)
            self.touched.add(data.job)
        while len(self._counts) > COUNTED:
            del self._counts[next(iter(self._counts))]

    def recall(self, job: str, weighings: Iterable[Event]) -> None:
        """Take the weighings of a job from the journal."""
        count = self._counts.setdefault(job, Count())
        for event in weighings:
            count.add(event)

    def told(self, job: str, tally: JobTally) -> None:
        """Remember what was last published of a job."""
        self._told[job] = tally

    def is_told(self, job: str, paused: int) -> bool:
        """Return whether what was last published of a job is what it is now."""
        return self.tally(job, paused) == self._told.get(job)

    def tally(self, job: str, paused: int) -> JobTally:
        """Return a job's figures; `paused`: stays recorded while it was."""
        count = self._counts.get(job)
        if count is None:
            return self._told.get(job, JobTally(paused=paused))
        counted = count.tally()
        some = ("animals", "weighings", "untagged", "repeats", "voided", "poor", "no_weight")
        return JobTally(
            **{name: counted.counts[name] or 0 for name in some},
            paused=paused,
            mean_kg=_rounded(counted.weight.mean),
            min_kg=counted.weight.smallest,
            max_kg=counted.weight.largest,
            total_kg=_rounded(counted.weight.total),
            gain_kg_per_day=_rounded(counted.gain.mean),
            pens={pen: one.count for pen, one in counted.by_pen.items()},
            treatments=tuple(
                UsedInJob(
                    name=name,
                    given=used.given,
                    skipped=used.skipped,
                    totals={unit: round(amount, 3) for unit, amount in used.totals.items()},
                )
                for name, used in counted.treatments.items()
            ),
        )

    def summary(
        self, job: str, about: About, zone: tzinfo, expected: Mapping[str, str] | None = None
    ) -> tuple[str, ...]:
        """Return a job in a dozen plain lines; none where its weighings are not at hand."""
        count = self._counts.get(job)
        return () if count is None else in_lines(count.tally(expected), about, zone)


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 3)
