"""The jobs of a station against a plain model of them: a list of stays, each with its job, number and sheet.

There is no outside source for this: what a job is, is our own (`neckyoke help tell`).
"""

import json
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Stamp
from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.jobs.jobs import DETECTED_S, Jobs
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, Pause, Resume, Word
from neckyoke.bridge.station.settings import Place

START = datetime(2026, 11, 24, 6, 0, tzinfo=UTC)
HOUR = 3600.0
SHEETS = tuple(SheetRef(title, title[0] * 12) for title in ("lambs", "steers"))


def stamp(t: float) -> Stamp:
    return Stamp(START + timedelta(seconds=t), Clock.SYNCHRONISED)


def jobs(run: int = 0, memory: object = None) -> Jobs:
    return Jobs("larkmoor", "crush", f"run {run}", stamp, json.loads(json.dumps(memory or {})))


PART = "part"  # the number of one that is the rest of an earlier stay


@dataclass
class Model:
    """The jobs as anyone would keep them on paper."""

    turns: list[str] = field(default_factory=list)  # how each job stands
    alone: list[bool] = field(default_factory=list)  # opened by a stay
    under: list[set[str]] = field(default_factory=list)  # the sheets each was done under
    sheet: list[str | None] = field(default_factory=list)  # the one it has now
    stays: list[list[object]] = field(default_factory=list)  # [turn, number in it, None or PART, sheet]
    named: str | None = None
    fresh: bool = True
    seen: float = 0.0

    @property
    def open(self) -> int | None:
        return next((at for at, how in enumerate(self.turns) if how != "ended"), None)

    def pass_time(self, t: float) -> None:
        at = self.open
        if at is not None and self.turns[at] == "open" and t - self.seen >= 4 * HOUR:
            self.end()

    def end(self) -> None:
        at = self.open
        if at is not None:
            self.turns[at] = "ended"
            if self.named in self.under[at]:
                self.fresh = False

    def begin(self, t: float, sheet: str | None, *, bare: bool = False, alone: bool = False) -> None:
        self.end()
        if sheet:
            self.named, self.fresh = sheet, True
        given = None if bare or not self.fresh else self.named
        self.turns.append("open")
        self.alone.append(alone)
        self.under.append({given} if given else set())
        self.sheet.append(given)
        self.seen = t

    def pause(self) -> None:
        if self.open is not None:
            self.turns[self.open] = "paused"

    def choose(self, sheet: str) -> None:
        self.named, self.fresh = sheet, True
        if (at := self.open) is not None:
            self.sheet[at] = sheet
            self.under[at].add(sheet)

    def stay(self, t: float) -> None:
        if self.open is None:
            self.begin(t, None, alone=True)
        at = self.open
        assert at is not None
        counts = self.turns[at] == "open"
        self.stays.append([at, self.highest(at) + 1 if counts else None, self.sheet[at] if counts else None])
        self.seen = t

    def part(self, number: int) -> tuple[int, int] | None:
        """Strike out a line, a stay being the rest of the one above; where that was in a pause it takes its place."""
        of = next((one for one in range(number - 1, 0, -1) if self.stays[one - 1][1] != PART), None)
        if of is None or self.stays[number - 1][1] == PART:
            return None
        first, rest = self.stays[of - 1], self.stays[number - 1]
        if first[1] is None and rest[1] is not None:
            first[:] = [*rest[:2], "taken in"]
        rest[1:] = [PART, None]
        return number, of

    def highest(self, at: int) -> int:
        return max((one[1] for one in self.stays if one[0] == at and isinstance(one[1], int)), default=0)

    def resume(self, t: float, turn: int | None, first: int | None) -> None:
        open_one = self.open
        at = turn - 1 if turn else open_one if open_one is not None else len(self.turns) - 1
        if not 0 <= at < len(self.turns) or (self.turns[at] == "open" and first is None):
            return
        if first is not None and first > len(self.stays):
            return
        since = first
        if self.turns[at] == "ended":
            self.end()
            own = [number for number, one in enumerate(self.stays, 1) if one[0] == at and one[1] != PART]
            since = first or (own[-1] + 1 if own else len(self.stays) + 1)
        for number, one in enumerate(self.stays, 1):
            if since is None or number < since or one[1] == PART:
                continue
            theirs, paused = one[0] != at, one[1] is None
            assert isinstance(one[0], int)
            if (paused and first) or (theirs and not paused and (first or self.alone[one[0]])):
                one[:] = [at, self.highest(at) + 1, None]
                one[2] = "taken in"
        self.turns[at], self.seen = "open", t


STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("stay")),
        st.tuples(st.just("stay")),
        st.tuples(st.just("begin"), st.sampled_from([None, *SHEETS]), st.booleans()),
        st.tuples(st.just("pause")),
        st.tuples(st.just("end")),
        st.tuples(st.just("choose"), st.sampled_from(SHEETS)),
        st.tuples(st.just("resume"), st.none() | st.integers(1, 4), st.none() | st.integers(1, 12)),
        st.tuples(st.just("wait"), st.sampled_from([HOUR, 2 * HOUR, 5 * HOUR])),
        st.tuples(st.just("restart")),
        st.tuples(st.just("part"), st.integers(0, 2)),
    ),
    max_size=30,
)


@settings(deadline=None)
@given(STEPS)
def test_any_day_gives_the_jobs_numbers_and_sheets_of_a_plain_model(steps: list[tuple[object, ...]]) -> None:
    real, model, t, run = jobs(), Model(), 0.0, 0
    for step in steps:
        t += 1.0
        if step[0] not in {"wait", "restart", "part"}:
            model.pass_time(t)
        match step:
            case ("stay",):
                model.stay(t)
                real.stay(len(model.stays), t)
            case ("begin", sheet, bare):
                assert sheet is None or isinstance(sheet, SheetRef)
                model.begin(t, sheet.title if sheet else None, bare=bool(bare))
                real.say(t, Begin(sheet, bare=bool(bare)))
            case ("pause",):
                model.pause()
                real.say(t, Pause())
            case ("end",):
                model.end()
                real.say(t, End())
            case ("choose", SheetRef() as sheet):
                model.choose(sheet.title)
                real.say(t, Choose(sheet))
            case ("resume", turn, first):
                assert turn is None or isinstance(turn, int)
                assert first is None or isinstance(first, int)
                model.resume(t, turn, first)
                real.say(t, Resume(turn, first))
            case ("wait", float() as seconds):
                t += seconds
                model.pass_time(t - DETECTED_S)
                real.advance(t)
            case ("part", int() as back) if back < len(model.stays):
                model.pass_time(t - DETECTED_S)
                if pair := model.part(len(model.stays) - back):
                    real.part(*pair, apart=False)
                real.advance(t)
            case ("restart",):
                run += 1
                t, model.seen = 0.0, 0.0
                real = jobs(run, real.memory)

        assert [one.standing for one in real] == model.turns
        held = {one.id: one for one in real}
        assert len(held) == len(model.turns)  # no id is given twice
        for number, (at, job_number, sheet) in enumerate(model.stays, 1):
            assert isinstance(at, int)
            if job_number == PART:
                assert real.place(number) is None
                continue
            job = [*held.values()][at]
            place = real.place(number)
            paused = job_number is None
            assert place == Place(None if paused else job.id, job_number, paused)  # type: ignore[arg-type]
            if not paused and sheet != "taken in":
                held_sheet = real.sheet_for(number, job.id)
                assert (held_sheet.title if held_sheet else None) == sheet
                assert real.number_of(place.job_number or 0, job) == number


@settings(deadline=None)
@given(STEPS, st.integers(0, 30), st.data())
def test_a_word_taken_back_leaves_everything_as_if_it_had_not_been(
    steps: list[tuple[object, ...]], at: int, data: st.DataObject
) -> None:
    words: tuple[Word, ...] = (Begin(SHEETS[0]), Begin(), Pause(), End(), Choose(SHEETS[1]), Resume(), Resume(first=1))
    word = data.draw(st.sampled_from(words))

    def day(*, with_it: bool) -> Jobs:
        real, t, number = jobs(), 0.0, 0
        for place, step in enumerate(steps):
            t += 1.0
            if place == at and with_it:
                real.say(t - 0.5, word, "asked-1")
            match step:
                case ("stay",):
                    number += 1
                    real.stay(number, t)
                case ("begin", sheet, bare):
                    real.say(t, Begin(sheet, bare=bool(bare)))  # type: ignore[arg-type]
                case ("pause",):
                    real.say(t, Pause())
                case ("end",):
                    real.say(t, End())
                case ("choose", SheetRef() as sheet):
                    real.say(t, Choose(sheet))
                case ("wait", float() as seconds):
                    t += seconds
                case _:
                    pass  # a job is named by its turn, and a number by its place: those may depend on it
        if with_it and at < len(steps):
            assert real.undo("asked-1") is not None
        real.advance(t)
        return real

    one, other = day(with_it=False), day(with_it=True)
    shown = [
        [(job.standing, job.sheet, job.spans, job.ended, job.begun) for job in real if job.standing != "undone"]
        for real in (one, other)
    ]
    assert shown[0] == shown[1]
    assert (one.named, one.stale) == (other.named, other.stale)


@settings(deadline=None)
@given(STEPS, st.lists(st.booleans(), min_size=30, max_size=30))
def test_it_makes_no_difference_how_often_time_passes(steps: list[tuple[object, ...]], looks: list[bool]) -> None:
    often, seldom = jobs(), jobs()
    t, number = 0.0, 0
    for step, look in zip(steps, looks, strict=False):
        t += 1.0
        if step[0] == "wait":
            assert isinstance(step[1], float)
            t += step[1]
        elif step[0] == "stay":
            number += 1
            if look:
                often.advance(t + 3.0)  # a stay is known a moment after its first foot
            for real in (often, seldom):
                real.stay(number, t)
        elif step[0] == "pause":
            for real in (often, seldom):
                real.say(t, Pause())
        if look:
            often.advance(t)
    often.advance(t)
    seldom.advance(t)
    assert often.memory == seldom.memory
