"""The jobs of one station as a machine: what is said and what stands on the platform in, changes out.

All that happened since a while ago is kept in order of time, and the state before it.  What comes late takes its place
(a stay is known a moment after its first foot), and a word that is taken back is left out; then the rest is gone
through again, and what came out otherwise is the change.

What happened is carried to the next run too, so that a word is taken back after a stop as before it.  The runs follow
each other on one axis of seconds: where the next begins, nothing has happened for no time.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import inf, nextafter
from typing import Any

from neckyoke.bridge.events import Stamper, make_id
from neckyoke.bridge.job.jobs.job import Job, SheetRef
from neckyoke.bridge.job.jobs.spelled import read_op, read_state, same, spell_op, spell_state
from neckyoke.bridge.job.jobs.table import State, Surroundings, idle, step
from neckyoke.bridge.job.jobs.words import JobReply, Op, Part, Run, Seen, Stay, Word
from neckyoke.bridge.station.settings import Place

DETECTED_S = 60.0
"""A stay is known so long after its first foot at most, so that no job is ended over one that has begun."""
LOG_KEPT = 1000
"""Things that can be gone through again."""
RUNS_KEPT = 50
"""Runs of which it is known when they began."""


@dataclass(slots=True)
class _Happened:
    """One thing that happened: when, what, the request it came from, and turn and id of the job that it opened."""

    t: float
    op: Op
    asked: str | None = None
    turn: int | None = None
    job: str | None = None
    spelled: str = ""

    def spell(self) -> str:
        if not self.spelled:
            self.spelled = json.dumps([self.t, spell_op(self.op), self.asked, self.turn, self.job])
        return self.spelled


def _happened(body: str) -> _Happened:
    t, op, asked, turn, job = json.loads(body)
    return _Happened(t, read_op(op), asked, turn, job, body)


@dataclass(slots=True)
class Jobs:
    """One station's jobs.  `memory` is what `Jobs.memory` gave when the run before ended.

    Its `parts` are numbers that turned out meanwhile to be told under an earlier one: no stays of their own.
    """

    site: str
    station: str
    run: str
    stamp: Stamper
    memory_before: Mapping[str, Any] = field(default_factory=dict)
    _state: State = field(init=False)
    _base: State = field(init=False)
    _told: State = field(init=False)
    _log: list[_Happened] = field(init=False, default_factory=list)
    _around: Surroundings = field(init=False)
    _placed: State = field(init=False)
    _runs: list[tuple[float, datetime]] = field(init=False, default_factory=list)  # when each began, but for this one
    _begun: float = field(init=False, default=0.0)  # when this one did
    _first: int = field(init=False, default=0)  # the place of the first thing in the log
    _base_spelled: dict[str, Any] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._around = Surroundings(self._make_id, self._wall)
        self._state = self._base = read_state(self.memory_before)
        self._recall(self.memory_before)
        for number in self.memory_before.get("parts", ()):
            if self.place(number) is not None:
                self._take(_Happened(self._begun, Part(number)))
        self._told, self._placed = self._state.copy(), self._state.copy()

    def _recall(self, memory: Mapping[str, Any]) -> None:
        """Take what happened in earlier runs, where the state follows from it: then it can be gone through again."""
        if "until" in memory:
            self._begun = nextafter(float(memory["until"]), inf)  # behind the last thing, which is the run's before
        if "log" in memory:
            self._first = int(memory["first"])
            self._runs = [(t, datetime.fromisoformat(at)) for t, at in memory["runs"]][-RUNS_KEPT:]
            self._base = read_state(memory["base"])
            log = sorted(memory["log"].items(), key=lambda one: int(one[0]))
            self._log = [_happened(body) for _, body in log]
            if self._log:
                self._log.append(_Happened(self._begun, Seen(self._state.now)))
            known = self._state
            self._again()
            if not same(self._state, known):
                self._state, self._log, self._first = known, [], self._first + len(log)
        if not self._log:
            self._state.active = self._begun
            self._base = self._state.copy()
        if memory:
            self._take(_Happened(self._begun, Run()))

    def _make_id(self, turn: int) -> str:
        known = (one.job for one in self._log if one.turn == turn and one.job is not None)
        return next(known, None) or make_id(self.site, self.station, self.run, "job", turn)

    def _wall(self, t: float) -> datetime:
        if t >= self._begun or not self._runs:
            return self.stamp(t - self._begun).time
        begun, at = next((one for one in reversed(self._runs) if one[0] <= t), self._runs[0])
        return at + timedelta(seconds=t - begun)

    # -- what happens

    def say(self, t: float, word: Word, asked: str | None = None) -> JobReply:
        """Do what a person says; `asked` is the request's id, by which it can be taken back."""
        self._placed = self._state.copy()
        return self._take(_Happened(self._begun + t, word, asked))

    def stay(self, number: int, on: float) -> Place:
        """Return where a stay belongs that began at `on`; it opens a job when none is open."""
        self._take(_Happened(self._begun + on, Stay(number)))
        return self.place(number) or Place()

    def part(self, number: int, of: int, *, apart: bool) -> None:
        """Take that a stay is the rest of an earlier one, or is none after all (`apart`).

        Where no later stay has come it is as though that had been known as it began; else no number that was given
        moves by it.
        """
        at = next((at for at in reversed(range(len(self._log))) if self._log[at].op == Stay(number)), len(self._log))
        since = [one.op for one in self._log[at + 1 :]]
        if at == len(self._log) or any(isinstance(op, Stay) for op in since):
            self._take(_Happened(max(self._begun, *(one.t for one in self._log[-1:])), Part(number, of, apart)))
            return
        known = next((n for n, op in enumerate(since, at + 1) if isinstance(op, Part) and op.number == number), None)
        if known is not None:
            del self._log[known]
        if not apart:
            self._log.insert(at + 1, _Happened(self._log[at].t, Part(number, of)))
        self._again()

    def advance(self, t: float) -> None:
        """Let time pass up to `t`: a job that saw nothing for too long ends."""
        idle(self._state, self._begun + t - DETECTED_S, self._around)

    def undo(self, asked: str) -> JobReply | None:
        """Take a word back; None when it is none of these, or too long ago."""
        found = next((at for at, one in enumerate(self._log) if one.asked == asked), None)
        if found is None:
            return None
        self._placed = self._state.copy()
        del self._log[found]
        self._again()
        for job in self._told.jobs.values():  # the word began it, or it had ended one and a stay opened this
            if job.id in self._placed.jobs and job.id not in self._state.jobs and job.standing != "undone":
                self._state.jobs[job.id] = replace(job, standing="undone", spans=())
        return JobReply(done=True, job=self._state.open)

    # -- how it is

    @property
    def open(self) -> Job | None:
        """The open job."""
        return self._state.job

    @property
    def last(self) -> Job | None:
        """The open job, else the last one."""
        return self._state.last

    @property
    def named(self) -> SheetRef | None:
        """The sheet that the next job takes by itself."""
        return self._state.named if self._state.fresh else None

    @property
    def stale(self) -> SheetRef | None:
        """The sheet named last, when no job takes it by itself any more."""
        return None if self._state.fresh else self._state.named

    def sheets(self) -> Iterator[SheetRef]:
        """Yield the sheets of the jobs at hand, also as they were before what can still be taken back, and the next."""
        for state in (self._base, self._state):
            yield from (sheet for job in state.jobs.values() for _, sheet in job.sheets if sheet is not None)
            yield from (state.named,) if state.named else ()
        said = (getattr(one.op, "sheet", None) for one in self._log)
        yield from (sheet for sheet in said if sheet is not None)

    def __iter__(self) -> Iterator[Job]:
        """Yield the jobs at hand, the oldest first."""
        yield from self._state.jobs.values()

    def count(self, job: Job) -> int:
        """Return the highest number that a job has given."""
        return job.count(self._state.now)

    def stays(self, job: Job) -> list[int]:
        """List the station's numbers of a job's stays."""
        return [*job.numbers(self._state.now)]

    def paused_stays(self, job: Job) -> list[int]:
        """List the station's numbers of what was recorded while a job was paused."""
        return [*job.numbers(self._state.now, paused=True)]

    def which(self, name: str) -> Job | None:
        """Find a job by its id or its turn."""
        return next((one for one in self._state.jobs.values() if name in (one.id, str(one.turn))), None)

    def place(self, number: int) -> Place | None:
        """Return where a stay stands now; None when no job at hand has it."""
        found = (one.place_of(number, self._state.now) for one in reversed(self._state.jobs.values()))
        return next((place for place in found if place is not None), None)

    def number_of(self, job_number: int, job: Job | None = None) -> int | None:
        """Return the station's number of a job's stay; without a job, of the open or the last one's."""
        job = job or self.last
        return job.number_of(job_number, self._state.now) if job else None

    @property
    def now(self) -> int:
        """The number of the station's last stay."""
        return self._state.now

    def sheet_for(self, number: int, job: str | None) -> SheetRef | None:
        """Return the sheet that holds for a stay of a job."""
        found = self._state.jobs.get(job or "")
        return found.sheet_for(number) if found else None

    def take(self) -> tuple[Job, ...]:
        """Return the jobs that stand otherwise than when this was last called, the oldest first."""
        before, now = self._told.jobs, self._state.jobs
        changed = [one for one in now.values() if one is not before.get(one.id)]
        if changed:
            self._told = self._state.copy()
        shown = [one for one in changed if _shown(one) != _shown(before.get(one.id))]
        return tuple(sorted(shown, key=lambda one: one.turn))

    def moved(self) -> tuple[int, ...]:
        """Return the numbers of stays that have another place or another sheet than before the last word."""
        before, now = self._placed, self._state
        changed = {one.id for one in now.jobs.values() if one is not before.jobs.get(one.id)}
        changed |= before.jobs.keys() - now.jobs.keys()
        both = [jobs.get(name) for jobs in (before.jobs, now.jobs) for name in changed]
        numbers = {number for job in both for number in _all(job, before.now)}
        return tuple(number for number in sorted(numbers) if _where(before, number) != _where(now, number))

    def restamp(self) -> tuple[Job, ...]:
        """Set right the times of jobs of this run, the clock being known now; return those that changed."""
        wall, changed = self._wall, []
        for state in (self._base, self._state):
            for job in [*state.jobs.values()]:
                now = replace(
                    job,
                    begun=job.begun if job.begun_t is None else wall(job.begun_t),
                    ended=job.ended if job.ended_t is None else wall(job.ended_t),
                )
                state.jobs[job.id] = now
                if state is self._state and now != job:
                    changed.append(now)
        return tuple(changed)

    def seen(self, number: int) -> None:
        """Take a stay of the run before, which did not live to say that it had this number."""
        self._take(_Happened(self._begun, Seen(number)))
        for state in (self._told, self._placed):
            state.now = max(state.now, number)

    @property
    def memory(self) -> dict[str, Any]:
        """What to carry to the next run, as JSON gives it."""
        if self._base_spelled is None:
            self._base_spelled = {**spell_state(self._base), "active": self._base.active}
        ended = (job.ended_t for job in self._state.jobs.values() if job.ended_t is not None)
        until = max([self._begun, *(one.t for one in self._log[-1:]), *ended])
        runs = [*self._runs, (self._begun, self.stamp(0.0).time)][-RUNS_KEPT:]
        return {
            **spell_state(self._state),
            "until": until,
            "runs": [[t, at.isoformat()] for t, at in runs],
            "first": self._first,
            "base": self._base_spelled,
            "log": {str(at): one.spell() for at, one in enumerate(self._log, self._first)},
        }

    # -- going through it again

    def _take(self, one: _Happened) -> JobReply:
        if self._log and one.t < self._log[-1].t:
            at = next(at for at, other in enumerate(self._log) if other.t > one.t)
            self._log.insert(at, one)
            self._again()
            return JobReply(done=True)
        self._log.append(one)
        reply = self._step(self._state, one)
        if len(self._log) > 2 * LOG_KEPT:
            for old in self._log[:LOG_KEPT]:
                self._step(self._base, old)
            del self._log[:LOG_KEPT]
            self._first, self._base_spelled = self._first + LOG_KEPT, None
        return reply

    def _step(self, state: State, one: _Happened) -> JobReply:
        turn = state.turn
        reply = step(state, one.t, one.op, self._around, one.turn)
        if state.turn != turn:
            one.turn, one.job, one.spelled = state.turn, self._make_id(state.turn), ""
        return reply

    def _again(self) -> None:
        turn, state = self._state.turn, self._base.copy()
        state.turn = turn  # a turn that was given is not given again
        for one in self._log:
            self._step(state, one)
        self._state = state


def _shown(job: Job | None) -> object:
    """Return what is published of a job when it changes."""
    return job and (job.standing, job.sheets[-1:], job.ended)


def _all(job: Job | None, now: int) -> Iterator[int]:
    if job is not None:
        yield from job.numbers(now)
        yield from job.numbers(now, paused=True)


def _where(state: State, number: int) -> object:
    """Return the place of a stay and its sheet."""
    for job in reversed(state.jobs.values()):
        if place := job.place_of(number, state.now):
            return place, None if place.paused else job.sheet_for(number)
    return None
