"""The jobs of a site's stations: what is asked of them, what is published of them, and which sheet holds for whom."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, tzinfo
from typing import Any, assert_never

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
    Settled,
    Stamper,
    Weighing,
    wrap,
)
from neckyoke.bridge.job.clerk import Held
from neckyoke.bridge.job.jobs.editing import with_batch
from neckyoke.bridge.job.jobs.job import Job, SheetRef
from neckyoke.bridge.job.jobs.jobs import Jobs
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, JobReply, Pause, Resume, Word
from neckyoke.bridge.job.kept import Given, changed, check_whole, summary
from neckyoke.bridge.job.load import Job as Prepared
from neckyoke.bridge.job.pens.taken import Taken
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.many import many
from neckyoke.bridge.site.job_counts import JobCounts
from neckyoke.bridge.site.job_state import job_state
from neckyoke.bridge.site.job_words import JobWords
from neckyoke.bridge.site.passed import Passed
from neckyoke.bridge.site.sheets import Sheets
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.settings import Place

RECALLED = 3
"""Jobs of a station that are counted up from the start."""


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
    place_name: str | None = None
    memory_before: Mapping[str, Any] = field(default_factory=dict)
    jobs: Jobs = field(init=False)
    words: JobWords = field(init=False)
    taken: Taken = field(init=False, default_factory=Taken)
    passed: Passed = field(init=False)
    _prepared: dict[str, Prepared | None] = field(init=False, default_factory=dict)
    _counts: JobCounts = field(init=False, default_factory=JobCounts)
    _revisions: dict[str, int] = field(init=False, default_factory=dict)
    _standing: Standing = field(init=False, default_factory=Standing)
    _said: list[Attention] = field(init=False, default_factory=list)
    _news: str = ""
    _told: int = 0

    def __post_init__(self) -> None:
        self.jobs = Jobs(self.site, self.station, self.run, self.stamp, self.memory_before)
        self.account.kept_by = self.jobs
        self.passed = Passed(self.jobs, [*self.memory_before.get("passed", ())])
        self.words = JobWords(self.jobs, self.stamp, self.zone, self._next_sheet)
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

    def _next_sheet(self) -> Sheet | None:  # a method, not a lambda: what is copied with all its parts stays whole
        return self.next.sheet

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

    def ask(
        self, t: float, request: JobRequest, asked: str, rest: int | None = None
    ) -> tuple[JobReply, tuple[int, ...]]:
        """Do what is asked; return the numbers of stays that have another place or sheet by it.

        `rest`: what stands there, where it is held to be the rest of an earlier stay: it is no animal more.
        """
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
        text = self.words.done(word, job, before, tuple(one for one in moved if one != rest), self._news)
        return JobReply(done=True, text=text, job=reply.job), moved

    def undo(self, asked: str) -> tuple[JobReply, tuple[int, ...]] | None:
        """Take a word on jobs back; None when it was none, or too long ago."""
        reply = self.jobs.undo(asked)
        if reply is None:
            return None
        moved = self.jobs.moved()
        self._present()
        job = self.jobs.open
        now = self.words.describe(job) if job else "no job is open"
        more = f"  {many(len(moved), 'weighing')} amended." if moved else ""
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
                return Pause(request.why or "")
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
        """Describe what is in a sheet, and what differs from the one named before."""
        differs = f"  {changed(before.sheet, now.sheet)}" if before else ""
        return f"It has {summary(now.sheet, now.roster)}.{differs}"

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
        self._counts.saw(event, data)
        if (text := self.passed.saw(data)) is not None:
            said = self._standing.note(0.0, Attention(station=self.station, about="paused", text=text))
            self._said += [said] if said else []

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
        of_it = [event for event in weighings if isinstance(event.data, Weighing) and event.data.job == job]
        self._counts.recall(job, of_it)
        for event in of_it:
            if isinstance(event.data, Weighing):
                self.taken.saw(event.data)
        if (found := self.jobs.which(job)) is not None:
            self._counts.told(job, self._counts.tally(job, self._paused(found)))

    def events(self, t: float) -> list[Event]:
        """Return what is to be said of the jobs since this was last called."""
        changed, touched = self.jobs.take(), self._counts.touched
        self._counts.touched = set()
        events = []
        for job in changed:
            why = self.words.why(job, first=self._revisions.get(job.id, 0) == 0)
            events.append(self._event(t, job, why))
            events += self._attend(t, job)
        said = {job.id for job in changed}
        for name in sorted(touched - said):
            known = self.jobs.which(name)
            if known is not None and not known.is_open and not self._counts.is_told(name, self._paused(known)):
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
        return {**memory, "passed": self.passed.numbers}

    def _present(self) -> None:
        """Let the account's present job be the open one."""
        job = self.jobs.open
        if self.account.job != (job.id if job else ""):
            self.account.begin(job.id if job else None)

    def _event(self, t: float, job: Job, why: str) -> Event:
        revision = self._revisions[job.id] = self._revisions.get(job.id, 0) + 1
        state = job_state(
            job,
            revision,
            why,
            station=self.station,
            zone=self.zone,
            place=self.place_name,
            prepared=self._read(job.sheet) if job.sheet else None,
            counts=self._counts,
            paused=self._paused(job),
        )
        if state.tally is not None:
            self._counts.told(job.id, state.tally)
        return wrap(state, site=self.site, time=self.stamp(t).time, key=f"{job.id}/{revision}")

    def _attend(self, t: float, job: Job) -> list[Event]:
        """Return what a person should know of a job that has changed."""
        stale, lacks = self.jobs.stale, job.is_open and job.sheet is None and self.jobs.stale is not None
        text = f"Job {job.turn} has no sheet: no doses, no pens.  Which sheet?"
        text += f"  The last was {stale.title!r}: neckyoke tell sheet FILE." if stale else ""
        told = [Attention(station=self.station, about="which-sheet", text=text, over=not lacks)]
        if job.is_open:
            text = self.words.expired().strip()
            told.append(
                Attention(station=self.station, about="expired", text=text or "No batch has expired.", over=not text)
            )
        if job.standing != "paused":
            told.append(Attention(station=self.station, about="paused", text="The job is not paused.", over=True))
        if job.standing == "ended" and job.idle:
            text = f"{self.words.ended(job)}  Nothing was seen for four hours.  neckyoke tell resume opens it again."
            self._said.append(Attention(station=self.station, about="job", text=text, over=True, lasted_s=0.0))
        return [self._wrap(t, said) for one in told if (said := self._standing.note(t, one)) is not None]

    def _paused(self, job: Job) -> int:
        return len(self.jobs.paused_stays(job))

    def _wrap(self, t: float, attention: Attention) -> Event:
        self._told += 1
        key = f"{self.run}/jobs/{self._told}"
        return wrap(attention, site=self.site, time=self.stamp(t).time, key=key)
