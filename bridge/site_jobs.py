"""The jobs of a site's stations: what is asked of them, what is published of them, and which sheet holds for whom."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, tzinfo
from typing import Any, Protocol, assert_never

from neckyoke.bridge.asking.job_requests import (
    BatchRequest,
    BeginRequest,
    EndRequest,
    JobRequest,
    PauseRequest,
    ResumeRequest,
    SheetRequest,
    WithSheet,
)
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.events import (
    Attention,
    Event,
    Flag,
    JobState,
    JobTally,
    Settled,
    Stamper,
    UsedInJob,
    Weighing,
    wrap,
)
from neckyoke.bridge.job.clerk import Held
from neckyoke.bridge.job.doses.treatments import expired
from neckyoke.bridge.job.jobs.editing import with_batch
from neckyoke.bridge.job.jobs.job import Job, SheetRef
from neckyoke.bridge.job.jobs.jobs import Jobs
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, JobReply, Pause, Resume, Word
from neckyoke.bridge.job.kept import Given, changed, check_whole, summary
from neckyoke.bridge.job.load import Job as Prepared
from neckyoke.bridge.job.pens.taken import Taken
from neckyoke.bridge.reports.tally import Count
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.settings import Place

RECALLED, COUNTED = 3, 8
"""Jobs of a station that are counted up from the start, and at most; an earlier one is when somebody amends it."""


class Sheets(Protocol):
    """Where sheets are found and kept.  Each raises ConfigError saying what is wrong."""

    def find(self, station: str, file: str | None) -> tuple[SheetRef, Prepared]:
        """Read a file beside the configuration, the station's own without one, and keep it."""

    def take(self, station: str, given: Given, name: str) -> tuple[SheetRef, Prepared]:
        """Keep what a person gave."""

    def load(self, digest: str) -> Prepared:
        """Read one that is kept."""


class NoSheets:
    """For a site that is given none."""

    def find(self, station: str, file: str | None) -> tuple[SheetRef, Prepared]:
        """Find nothing."""
        raise ConfigError([Problem(file=file or "request", where=station, what="no job sheets can be read here")])

    def take(self, station: str, _given: Given, name: str) -> tuple[SheetRef, Prepared]:
        """Keep nothing."""
        raise ConfigError([Problem(file=name, where=station, what="no job sheets can be kept here")])

    def load(self, digest: str) -> Prepared:
        """Load nothing."""
        raise ConfigError([Problem(file=digest, where="sheet", what="no job sheets are kept here")])


@dataclass(slots=True)
class StationJobs:
    """The jobs of one station.  Wall time comes from `stamp`, dates that people read are `zone`'s."""

    site: str
    station: str
    run: str
    stamp: Stamper
    zone: tzinfo
    account: Account
    sheets: Sheets
    memory_before: Mapping[str, Any] = field(default_factory=dict)
    jobs: Jobs = field(init=False)
    taken: Taken = field(init=False, default_factory=Taken)
    _prepared: dict[str, Prepared | None] = field(init=False, default_factory=dict)
    _counts: dict[str, Count] = field(init=False, default_factory=dict)
    _revisions: dict[str, int] = field(init=False, default_factory=dict)
    _tallies: dict[str, JobTally] = field(init=False, default_factory=dict)
    _touched: set[str] = field(init=False, default_factory=set)
    _standing: Standing = field(init=False, default_factory=Standing)
    _said: list[Attention] = field(init=False, default_factory=list)
    _news: str = ""
    _told: int = 0

    def __post_init__(self) -> None:
        self.jobs = Jobs(self.site, self.station, self.run, self.stamp, self.memory_before)
        tables: Mapping[str, Any] = self.memory_before.get("jobs", {})
        self._revisions = {name: table.get("revision", 1) for name, table in tables.items()}
        self._present()

    def configured(self, ref: SheetRef, prepared: Prepared) -> None:
        """Take the sheet that the configuration names, as the box begins."""
        self._prepared[ref.digest] = prepared
        self.jobs.say(0.0, Choose(ref, configured=True))

    # -- which sheet

    def place(self, number: int, on: float) -> Place:
        """Return where a stay belongs that begins."""
        place = self.jobs.stay(number, on)
        self._present()
        return place

    def held(self, number: int) -> Held | None:
        """Return what holds for a stay by its number: sheet, roster, who was weighed; None when it is not known."""
        place = self.jobs.place(number)
        if place is None:
            return self.next if number > self.jobs.now else None
        return self._held(None if place.paused else self.jobs.sheet_for(number, place.job), place.job)

    @property
    def next(self) -> Held:
        """What holds for the next stay."""
        job = self.jobs.open
        return self._held(job.sheet if job else self.jobs.named, job.id if job else None)

    def called(self, title: str | None) -> Held | None:
        """Return the last sheet of a title at hand: for weighings of before there were jobs."""
        refs = [sheet for job in self.jobs for _, sheet in job.sheets if sheet and sheet.title == title]
        return self._held(refs[-1], None) if refs else None

    def _held(self, ref: SheetRef | None, job: str | None) -> Held:
        prepared = self._read(ref) if ref else None
        weighed = self.account.of(job) if job else {}
        return Held(prepared.sheet if prepared else None, prepared.roster if prepared else None, weighed, self.taken)

    def _read(self, ref: SheetRef) -> Prepared | None:
        """Read a sheet once; say so when it cannot be read any more."""
        if ref.digest not in self._prepared:
            try:
                self._prepared[ref.digest] = self.sheets.load(ref.digest)
            except ConfigError as error:
                self._prepared[ref.digest] = None
                text = f"The job sheet {ref.title!r} cannot be read any more: no doses and no pens by it.  {error}"
                self._said.append(Attention(station=self.station, about="sheet", text=text))
        return self._prepared[ref.digest]

    # -- what is asked

    def ask(self, t: float, request: JobRequest, asked: str) -> tuple[JobReply, tuple[int, ...]]:
        """Do what is asked; give the numbers of stays that have another place or sheet by it."""
        before = self.jobs.open
        try:
            word = self._word(request)
        except ConfigError as error:
            return JobReply(done=False, text=str(error)), ()
        reply = self.jobs.say(t, word, asked)
        moved = self.jobs.moved()
        self._present()
        if not reply.done:
            return reply, moved
        job = self.jobs.which(reply.job) if reply.job else None
        text = self._words(word, job, before, moved)
        return JobReply(done=True, text=text, job=reply.job), moved

    def undo(self, asked: str) -> tuple[JobReply, tuple[int, ...]] | None:
        """Take a word on jobs back; None when it was none, or too long ago."""
        reply = self.jobs.undo(asked)
        if reply is None:
            return None
        moved = self.jobs.moved()
        self._present()
        job = self.jobs.open
        now = self.describe(job) if job else "no job is open"
        more = f"  {_many(len(moved), 'weighing')} amended." if moved else ""
        return JobReply(done=True, text=f"Taken back: {now}.{more}", job=reply.job), moved

    def _word(self, request: JobRequest) -> Word:
        match request:
            case SheetRequest() | BatchRequest():
                read_again = isinstance(request, SheetRequest) and request.file is None and request.text is None
                return Choose(self._sheet(request), mended=read_again)
            case BeginRequest():
                named = request.file is not None or request.text is not None
                return Begin(self._sheet(request) if named else None, bare=request.bare)
            case PauseRequest():
                return Pause()
            case ResumeRequest(job=None):
                return Resume(None, request.first)
            case ResumeRequest():
                job = self.jobs.which(request.job or "")
                return Resume(job.turn if job else -1, request.first)
            case EndRequest():
                return End()
            case _:
                assert_never(request)

    def _sheet(self, request: WithSheet | BatchRequest) -> SheetRef:
        """Find and keep the sheet that a request names.  Raises ConfigError."""
        if isinstance(request, BatchRequest):
            return self._with_batch(request)
        before = self.jobs.named
        if request.text is not None:
            check_whole(request.text.encode(), request.digest, request.file or "sheet.toml")
            given = Given(request.text.encode(), request.roster_bytes(), request.roster_name or "roster.csv")
            ref, prepared = self.sheets.take(self.station, given, request.file or "sheet.toml")
        else:
            ref, prepared = self.sheets.find(self.station, request.file)
            check_whole(prepared.sheet.path.read_bytes(), request.digest, prepared.sheet.path.name)
        self._prepared[ref.digest] = prepared
        self._news = self._new_of(self._read(before) if before else None, prepared)
        return ref

    def _with_batch(self, request: BatchRequest) -> SheetRef:
        """Keep the present sheet with another batch or product.  Raises ConfigError."""
        job = self.jobs.open
        ref = job.sheet if job else self.jobs.named
        prepared = self._read(ref) if ref else None
        if prepared is None:
            what = "no job sheet holds here, so no treatment has a batch"
            raise ConfigError([Problem(file="batch", where=self.station, what=what)])
        given = Given.of(prepared)
        try:
            text, _ = with_batch(
                given.sheet.decode(),
                request.treatment,
                batch=request.batch,
                expires=request.expires,
                product=request.product,
            )
        except ValueError as error:
            raise ConfigError([Problem(file="batch", where=self.station, what=str(error))]) from None
        before = prepared
        ref, prepared = self.sheets.take(self.station, replace(given, sheet=text.encode()), "sheet.toml")
        self._prepared[ref.digest] = prepared
        self._news = self._new_of(before, prepared)
        return ref

    def _new_of(self, before: Prepared | None, now: Prepared) -> str:
        """Say what is in a sheet, and what differs from the one named before."""
        differs = f"  {changed(before.sheet, now.sheet)}" if before else ""
        return f"It has {summary(now.sheet, now.roster)}.{differs}"

    def _words(self, word: Word, job: Job | None, before: Job | None, moved: tuple[int, ...]) -> str:
        named = f"{self.describe(job)[0].upper()}{self.describe(job)[1:]}" if job else ""
        taken = f"  {_many(len(moved), 'animal')} taken in." if moved else ""
        match word:
            case Begin():
                ended = f"  {self._ended(before)}" if before else ""
                return f"{named}.{ended}{self._no_sheet(job)}{self._expired()}"
            case Choose(sheet):
                if job is None:
                    return f"{sheet.title!r} is kept for the next job.  {self._news}"
                told = f"{sheet.title!r} holds from the next animal on: {self.describe(job)}."
                return f"{told}  {self._news}{self._expired()}"
            case Pause():
                return f"{named}: what stands on the platform now is recorded, and counts nowhere."
            case Resume():
                ended = f"  {self._ended(before)}" if before and job and before.id != job.id else ""
                return f"{named} goes on.{taken}{ended}"
            case End():
                return self._ended(job) if job else ""

    def _expired(self) -> str:
        """Say which batches of the sheet that holds now may not be used any more."""
        sheet = self.next.sheet
        today = self.stamp(0.0).time.astimezone(self.zone).date()
        return "".join(f"  {text}" for text in expired(sheet.treatments, today)) if sheet else ""

    def _ended(self, job: Job) -> str:
        count = len(list(job.numbers(self.jobs.now)))
        return f"Job {job.turn}{f', {job.sheet.title}' if job.sheet else ''}, has ended with {_many(count, 'stay')}."

    def _no_sheet(self, job: Job | None) -> str:
        stale = self.jobs.stale
        if job is None or job.sheet is not None or stale is None:
            return ""
        return f"  It has no sheet, so no doses and no pens; the last one was {stale.title!r}: name it to use it again."

    def describe(self, job: Job) -> str:
        """Say which job it is: job 2, lambs, begun 13:02."""
        begun, now = job.begun.astimezone(self.zone), self.stamp(0.0).time.astimezone(self.zone)
        day = f"{begun:%H:%M}" if begun.date() == now.date() else f"{begun:%Y-%m-%d %H:%M}"
        how = {"paused": ", paused", "ended": ", ended"}.get(job.standing, "")
        return f"job {job.turn}, {job.sheet.title if job.sheet else 'no sheet'}, begun {day}{how}"

    # -- what is published

    def advance(self, t: float) -> None:
        """Let time pass up to `t`."""
        self.jobs.advance(t)

    def saw(self, event: Event) -> None:
        """Take a weighing as it is published: it is counted up, and has taken its place."""
        data = event.data
        if isinstance(data, Settled | Weighing):
            self.taken.saw(data)
        if not isinstance(data, Weighing):
            return
        for job, count in self._counts.items():
            if job != data.job and count.drop(data.weighing):
                self._touched.add(job)
        if data.job is not None:
            if data.job in self._counts or data.job_number == 1:
                self._counts.setdefault(data.job, Count()).add(event)
                self._touched.add(data.job)
        elif Flag.PAUSED in data.flags and data.tag is not None and data.tag.animal:
            self._tell_paused(data)
        while len(self._counts) > COUNTED:
            del self._counts[next(iter(self._counts))]

    @property
    def to_recall(self) -> list[str]:
        """The jobs that are likely to be amended or gone on with: the open one, and the last few."""
        return [job.id for job in self.jobs if job.spans][-RECALLED:]

    def lacks(self, job: str | None) -> datetime | None:
        """Return when a job began whose weighings are to be recalled before one is amended; None when they are."""
        found = self.jobs.which(job) if job else None
        return found.begun if found is not None and found.id not in self._counts else None

    def recall(self, job: str, weighings: list[Event]) -> None:
        """Take the weighings of a job from the journal."""
        count = self._counts.setdefault(job, Count())
        for event in weighings:
            if isinstance(event.data, Weighing) and event.data.job == job:
                count.add(event)
                self.taken.saw(event.data)
        found = self.jobs.which(job)
        if found is not None:
            self._tallies[job] = self._tally(found)

    def events(self, t: float) -> list[Event]:
        """Return what is to be said of the jobs since this was last called."""
        changed, touched = self.jobs.take(), self._touched
        self._touched = set()
        events = []
        for job in changed:
            why = self._why(job)
            events.append(self._event(t, job, why))
            events += self._attend(t, job)
        said = {job.id for job in changed}
        for name in sorted(touched - said):
            known = self.jobs.which(name)
            if known is not None and not known.is_open and self._tally(known) != self._tallies.get(name):
                events.append(self._event(t, known, "a weighing of it was amended"))
        said_more, self._said = self._said, []
        return [*events, *(self._wrap(t, one) for one in said_more)]

    def restamp(self, t: float) -> list[Event]:
        """Set right the times of jobs, the clock being known now."""
        return [self._event(t, job, "the clock is known now") for job in self.jobs.restamp()]

    @property
    def memory(self) -> dict[str, Any]:
        """What to carry to the next run."""
        memory = self.jobs.memory
        for name, table in memory["jobs"].items():
            table["revision"] = self._revisions.get(name, 0)
        return memory

    def _present(self) -> None:
        """Let the account's present job be the open one."""
        job = self.jobs.open
        if self.account.job != (job.id if job else ""):
            self.account.begin(job.id if job else None)

    def _event(self, t: float, job: Job, why: str) -> Event:
        revision = self._revisions[job.id] = self._revisions.get(job.id, 0) + 1
        tally = None
        if job.standing == "ended":
            tally = self._tallies[job.id] = self._tally(job)
        state = JobState(
            job=job.id,
            revision=revision,
            station=self.station,
            turn=job.turn,
            state=job.standing,
            why=why,
            sheet=job.sheet.title if job.sheet else None,
            digest=job.sheet.digest if job.sheet else None,
            by_itself=job.by_itself,
            begun=job.begun,
            ended=job.ended,
            timezone=str(self.zone),
            tally=tally,
        )
        return wrap(state, site=self.site, time=self.stamp(t).time, key=f"{job.id}/{revision}")

    def _why(self, job: Job) -> str:
        """Say what has happened to a job."""
        if job.standing == "open":
            first = self._revisions.get(job.id, 0) == 0
            by = "an animal came" if job.by_itself else "a person began it"
            return by if first else "it goes on, or has another sheet"
        if job.standing == "ended" and job.idle:
            return "nothing was seen for four hours"
        return {"paused": "a person paused it", "ended": "it was ended", "undone": "a person took it back"}[
            job.standing
        ]

    def _attend(self, t: float, job: Job) -> list[Event]:
        """Say what a person should know of a job that has changed."""
        stale, lacks = self.jobs.stale, job.is_open and job.sheet is None and self.jobs.stale is not None
        text = f"Job {job.turn} has no sheet: no doses, no pens.  Which sheet?"
        text += f"  The last was {stale.title!r}: neckyoke tell sheet FILE." if stale else ""
        told = [Attention(station=self.station, about="which-sheet", text=text, over=not lacks)]
        if job.is_open:
            text = self._expired().strip()
            told.append(
                Attention(station=self.station, about="expired", text=text or "No batch has expired.", over=not text)
            )
        if job.standing != "paused":
            told.append(Attention(station=self.station, about="paused", text="The job is not paused.", over=True))
        if job.standing == "ended" and job.idle:
            text = f"{self._ended(job)}  Nothing was seen for four hours.  neckyoke tell resume opens it again."
            self._said.append(Attention(station=self.station, about="job", text=text, over=True, lasted_s=0.0))
        return [self._wrap(t, said) for one in told if (said := self._standing.note(t, one)) is not None]

    def _tell_paused(self, data: Weighing) -> None:
        job = self.jobs.open
        turn = f"Job {job.turn}" if job else "The job"
        text = (
            f"{turn} is paused, and number {data.number} was an animal with a tag.  It counts nowhere until somebody "
        )
        text += f"says: neckyoke tell resume --from {data.number}."
        said = self._standing.note(0.0, Attention(station=self.station, about="paused", text=text))
        if said is not None:
            self._said.append(said)

    def _wrap(self, t: float, attention: Attention) -> Event:
        self._told += 1
        key = f"{self.run}/jobs/{self._told}"
        return wrap(attention, site=self.site, time=self.stamp(t).time, key=key)

    def _tally(self, job: Job) -> JobTally:
        count = self._counts.get(job.id)
        paused = len(self.jobs.paused_stays(job))
        if count is None:
            return self._tallies.get(job.id, JobTally(paused=paused))
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


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 3)


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
