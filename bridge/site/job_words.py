"""What is said of jobs, in words for a person: job 2, lambs, begun 13:02."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import tzinfo

from neckyoke.bridge.events import Stamper
from neckyoke.bridge.job.doses.treatments import expired
from neckyoke.bridge.job.jobs.job import Job
from neckyoke.bridge.job.jobs.jobs import Jobs
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, Pause, Resume, Word
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.many import many


@dataclass(frozen=True, slots=True)
class JobWords:
    """Speaks of one station's jobs.  `sheet` gives the one that holds for the next animal."""

    jobs: Jobs
    stamp: Stamper
    zone: tzinfo
    sheet: Callable[[], Sheet | None]
    reasons: dict[str, str] = field(default_factory=dict)

    def done(self, word: Word, job: Job | None, before: Job | None, moved: tuple[int, ...], news: str) -> str:
        """Describe what a word did: to which job, which one it ended, and how many stays it moved."""
        named = f"{self.describe(job)[0].upper()}{self.describe(job)[1:]}" if job else ""
        taken = f"  {many(len(moved), 'animal')} taken in." if moved else ""
        match word:
            case Begin():
                ended = f"  {self.ended(before)}" if before else ""
                return f"{named}.{ended}{self._no_sheet(job)}{self.expired()}"
            case Choose(sheet):
                if job is None:
                    return f"{sheet.title!r} is kept for the next job.  {news}"
                told = f"{sheet.title!r} holds from the next animal on: {self.describe(job)}."
                return f"{told}  {news}{self.expired()}"
            case Pause(why):
                if job is not None:
                    self.reasons[job.id] = why
                return f"{named}: what stands on the platform now is recorded, and counts nowhere."
            case Resume():
                ended = f"  {self.ended(before)}" if before and job and before.id != job.id else ""
                return f"{named} goes on.{taken}{ended}"
            case End():
                return self.ended(job) if job else ""

    def expired(self) -> str:
        """Describe which batches of the sheet that holds now may not be used any more."""
        sheet = self.sheet()
        today = self.stamp(0.0).time.astimezone(self.zone).date()
        return "".join(f"  {text}" for text in expired(sheet.treatments, today)) if sheet else ""

    def ended(self, job: Job) -> str:
        """Describe a job that has ended, with how many stays."""
        count = len(self.jobs.stays(job))
        return f"Job {job.turn}{f', {job.sheet.title},' if job.sheet else ''} has ended with {many(count, 'stay')}."

    def _no_sheet(self, job: Job | None) -> str:
        stale = self.jobs.stale
        if job is None or job.sheet is not None or stale is None:
            return ""
        return f"  It has no sheet, so no doses and no pens; the last one was {stale.title!r}: name it to use it again."

    def describe(self, job: Job) -> str:
        """Describe which job it is: job 2, lambs, begun 13:02."""
        begun, now = job.begun.astimezone(self.zone), self.stamp(0.0).time.astimezone(self.zone)
        day = f"{begun:%H:%M}" if begun.date() == now.date() else f"{begun:%Y-%m-%d %H:%M}"
        how = {"paused": ", paused", "ended": ", ended"}.get(job.standing, "")
        return f"job {job.turn}, {job.sheet.title if job.sheet else 'no sheet'}, begun {day}{how}"

    def why(self, job: Job, *, first: bool) -> str:
        """Describe what has happened to a job."""
        if job.standing == "open":
            by = "an animal came" if job.by_itself else "a person began it"
            return by if first else "it goes on, or has another sheet"
        if job.standing == "ended" and job.idle:
            return "nothing was seen for four hours"
        paused = f"a person paused it: {reason}" if (reason := self.reasons.get(job.id)) else "a person paused it"
        return {"paused": paused, "ended": "it was ended", "undone": "a person took it back"}[job.standing]
