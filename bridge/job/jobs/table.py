"""The state table of a station's jobs.

    state     begin        pause      resume              end       stay               four idle hours
    none      opens one    refused    opens one again     refused   opens one          -
    open      ends, opens  pauses     refused (or counts  ends      counts             ends
                                      in from a number)
    paused    ends, opens  refused    goes on             ends      is recorded only   -

A sheet that is named holds from the next stay on, in every state.  A job that a person begins takes the sheet named
last; so does one that a stay opens, unless a job under that sheet has ended since it was named: the morning's doses do
not come back by themselves.

A stay that turns out to be the rest of an earlier one (the box stopped in between) is none of its own: the next has its
number in the job, where none has come yet.  It is one by itself again, with a number behind the others, if that turns
out to be wrong.

Everything here is a function of what happened, in order of time: `step` takes one thing more.  So a word can be taken
back by leaving it out and going through the others again (`Jobs.undo`).
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime

from neckyoke.bridge.job.jobs.job import Job, SheetRef, Span
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, JobReply, Op, Part, Pause, Resume, Run, Seen, Stay
from neckyoke.bridge.station.settings import Place

IDLE_S = 4 * 3600.0
"""A job that saw nothing for so long of running, unpaused, monotonic time has ended."""
JOBS_KEPT = 32
"""Jobs at hand: those before are in the journal only, and cannot be opened again."""


@dataclass(slots=True)
class State:
    """The jobs by id, the oldest first.

    `now` is the number of the station's last stay, `turn` how many jobs there were, `named` the sheet named last,
    `fresh` whether it may be taken by itself, `active` when there was last something to see.
    """

    jobs: dict[str, Job] = field(default_factory=dict)
    open: str | None = None
    named: SheetRef | None = None
    configured: str | None = None
    fresh: bool = True
    now: int = 0
    turn: int = 0
    active: float = 0.0

    def copy(self) -> "State":
        """Return a state that can be changed without changing this one; jobs are values."""
        return replace(self, jobs=dict(self.jobs))

    @property
    def job(self) -> Job | None:
        """The open job."""
        return self.jobs[self.open] if self.open else None

    @property
    def last(self) -> Job | None:
        """The open job, else the last one."""
        return self.job or next((one for one in reversed(self.jobs.values()) if one.standing != "undone"), None)

    @property
    def idle_at(self) -> float | None:
        """When the open job will have seen nothing for too long; None without one, and while it is paused."""
        job = self.job
        return self.active + IDLE_S if job is not None and job.standing == "open" else None


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the table needs beside the state: ids by turn, and wall time by monotonic time."""

    make_id: Callable[[int], str]
    wall: Callable[[float], datetime]


def step(state: State, t: float, op: Op, around: Surroundings, turn: int | None = None) -> JobReply:
    """Take one thing that happened at `t`, changing the state; `turn`: the one that a job opened by it had before."""
    idle(state, t, around)
    work = _Step(state, t, around, turn)
    match op:
        case Begin():
            return work.begin(op)
        case Pause():
            return work.pause()
        case Resume():
            return work.resume(op)
        case End():
            return work.end()
        case Choose():
            return work.choose(op)
        case Stay(number):
            work.stay(number)
        case Seen(number):
            state.now = max(state.now, number)
        case Part():
            work.part(op)
        case Run():
            state.active = t
    return JobReply(done=True)


def idle(state: State, t: float, around: Surroundings) -> None:
    """End the open job if it has seen nothing for too long by `t`."""
    due = state.idle_at
    if due is not None and due <= t:
        _Step(state, due, around, None).close(idle=True)


@dataclass(slots=True)
class _Step:
    state: State
    t: float
    around: Surroundings
    turn: int | None

    def begin(self, said: Begin) -> JobReply:
        state = self.state
        self.close()
        if said.sheet is not None:
            self._name(said.sheet)
        sheet = None if said.bare else state.named if state.fresh else None
        job = self._open(sheet, by_itself=False)
        state.active = self.t
        return JobReply(done=True, job=job.id)

    def pause(self) -> JobReply:
        job = self.state.job
        if job is None:
            return JobReply(done=False, text="No job is open, so there is nothing to pause.")
        if job.standing == "paused":
            return JobReply(done=False, text="It is paused already.", job=job.id)
        now = self.state.now
        self._put(replace(job.closed(now).with_span(now + 1, None, 0), standing="paused"))
        return JobReply(done=True, job=job.id)

    def resume(self, said: Resume) -> JobReply:
        state = self.state
        known = (one for one in state.jobs.values() if one.turn == said.turn and one.standing != "undone")
        job = next(known, None) if said.turn is not None else state.last
        if job is None:
            return JobReply(
                done=False, text=f"No job {said.turn} is at hand." if said.turn else "There was no job yet."
            )
        if job.standing == "open" and said.first is None:
            return JobReply(done=False, text="It is open, and not paused.", job=job.id)
        if said.first is not None and said.first > state.now:
            text = f"Nothing has the number {said.first} yet; the last is {state.now}."
            return JobReply(done=False, text=text, job=job.id)
        first = said.first
        if job.standing == "ended":
            self.close()
            first = first or 1 + max((span.until(state.now) for span in job.spans), default=state.now)
        self._put(state.jobs[job.id].closed(state.now))
        taken = [n for one in state.jobs.values() for n in self._theirs(one, job.id, first, said)]
        self._take(job.id, sorted(taken))
        job = state.jobs[job.id]
        job = job.with_span(state.now + 1, None, job.count(state.now) + 1)
        self._put(replace(job, standing="open", idle=False, ended=None, ended_t=None))
        state.open, state.active = job.id, self.t
        return JobReply(done=True, job=job.id)

    def _theirs(self, one: Job, mine: str, first: int | None, said: Resume) -> list[int]:
        """List the stays from a number on that a job gives away.

        Without a word from where, only jobs that a stay opened by itself give theirs, and none gives paused ones.
        """
        now = self.state.now
        others = one.id != mine and (one.by_itself or said.first is not None)
        numbers = list(one.numbers(now)) if others else []
        if said.first is not None:
            numbers += one.numbers(now, paused=True)
        return [number for number in numbers if first is not None and number >= first]

    def _take(self, job: str, numbers: list[int]) -> None:
        """Let a job have stays of others, or its own paused ones, with numbers behind its own."""
        state = self.state
        gone = set(numbers)
        for one in [*state.jobs.values()]:
            if any(one.place_of(number, state.now) for number in gone):
                self._put(_without(one, gone, state.now))
        mine = state.jobs[job]
        for first, last in _runs(numbers):
            mine = mine.with_span(first, last, mine.count(state.now) + 1)
        self._put(mine)

    def end(self) -> JobReply:
        job = self.state.job
        if job is None:
            return JobReply(done=False, text="No job is open.")
        self.close()
        return JobReply(done=True, job=job.id)

    def close(self, *, idle: bool = False) -> None:
        """End the open job, if there is one."""
        state = self.state
        job = state.job
        if job is None:
            return
        job = job.closed(state.now)
        self._put(replace(job, standing="ended", idle=idle, ended=self.around.wall(self.t), ended_t=self.t))
        state.open = None
        if any(sheet and state.named and sheet.title == state.named.title for _, sheet in job.sheets):
            state.fresh = False

    def choose(self, said: Choose) -> JobReply:
        state = self.state
        if said.configured and state.configured == said.sheet.digest:
            return JobReply(done=True)  # as it was when the box ran last: whatever was said since stands
        if said.configured:
            state.configured = said.sheet.digest
        fresh = state.fresh and state.named is not None
        self._name(said.sheet)
        job = state.job
        if said.mended and job is None:
            state.fresh = fresh
        if said.configured or job is None:
            return JobReply(done=True)
        sheets = tuple(one for one in job.sheets if one[0] < state.now)
        self._put(replace(job, sheets=(*sheets, (state.now, said.sheet))))
        return JobReply(done=True, job=job.id)

    def stay(self, number: int) -> None:
        state = self.state
        if number <= state.now:  # the last run did not live to keep these numbers
            for one in [*state.jobs.values()]:
                self._put(one.before(number, state.now))
            state.now = number - 1
        job = state.job
        if job is None:
            state.now = number - 1
            job = self._open(state.named if state.fresh else None, by_itself=True)
        span = job.spans[-1] if job.spans and job.spans[-1].last is None else None
        if span is None or span.first > state.now:  # its first stay, or the first since a pause
            paused = job.standing == "paused"
            spans = job.spans if span is None else job.spans[:-1]
            job = replace(job, spans=spans)
            job = job.with_span(number, None, 0 if paused else job.count(state.now) + 1)
            self._put(job)
        state.now, state.active = number, self.t

    def part(self, said: Part) -> None:
        """Take a stay out of its job, or put it into that of the one that it was held to be the rest of.

        Where the first part came in a pause and the second did not, the whole has the place of the second: whatever
        that sheet gives was shown as it stood there.
        """
        now, jobs = self.state.now, [*self.state.jobs.values()]
        holds = next((one for one in jobs if one.place_of(said.number, now)), None)
        first = next((one for one in jobs if said.of is not None and one.place_of(said.of, now)), None)
        if said.apart and holds is None and first is not None:
            is_going = first.spans[-1].last is None
            paused = first.place_of(said.of or 0, now) == Place(paused=True)
            first = first.closed(now)
            first = first.with_span(said.number, said.number, 0 if paused else first.count(now) + 1)
            self._put(self._going_on(first) if is_going else first)
        elif not said.apart and holds is not None:
            place = holds.place_of(said.number, now)
            self._put(self._out_of(holds, {said.number}))
            if first is None or place is None or place.job_number is None:
                return
            first = self.state.jobs[first.id]
            if first.place_of(said.of or 0, now) == Place(paused=True):
                self._put(self._out_of(first, {said.of or 0}))
                whole = self.state.jobs[holds.id]
                spans = (*whole.spans, Span(said.of or 0, said.of, place.job_number))
                is_going = whole.spans[-1:] != () and whole.spans[-1].last is None
                whole = replace(whole, spans=spans).closed(now)
                self._put(self._going_on(whole) if is_going else whole)

    def _out_of(self, job: Job, gone: set[int]) -> Job:
        """Return a job without some of its stays; it goes on if it did."""
        is_going = job.spans[-1].last is None
        job = _without(job, gone, self.state.now)
        return self._going_on(job) if is_going else job

    def _going_on(self, job: Job) -> Job:
        """Return a job, at its end, with the stays that come next."""
        now = self.state.now
        return job.with_span(now + 1, None, 0 if job.standing == "paused" else job.count(now) + 1)

    def _name(self, sheet: SheetRef) -> None:
        self.state.named, self.state.fresh = sheet, True

    def _open(self, sheet: SheetRef | None, *, by_itself: bool) -> Job:
        state = self.state
        if self.turn is None:
            state.turn += 1
        turn = state.turn if self.turn is None else self.turn
        job = Job(
            id=self.around.make_id(turn),
            turn=turn,
            begun=self.around.wall(self.t),
            begun_t=self.t,
            by_itself=by_itself,
            sheets=((state.now, sheet),),
        ).with_span(state.now + 1, None, 1)
        self._put(job)
        state.open = job.id
        while len(state.jobs) > JOBS_KEPT:
            del state.jobs[next(iter(state.jobs))]
        return job

    def _put(self, job: Job) -> None:
        self.state.jobs[job.id] = job


def _without(job: Job, gone: set[int], now: int) -> Job:
    """Return the job, at its end, without some of its stays; those that it keeps keep their numbers in it."""
    spans = tuple(
        Span(first, last, 0 if span.paused else span.start + first - span.first)
        for span in job.spans
        for first, last in _runs([number for number in range(span.first, span.until(now) + 1) if number not in gone])
    )
    return replace(job, spans=spans)


def _runs(numbers: list[int]) -> list[tuple[int, int]]:
    """Part sorted numbers into runs without a gap."""
    runs: list[tuple[int, int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number - 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return runs
