"""What is remembered of jobs over stops, and what is taken back after them."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from neckyoke.bridge.events import Clock, Stamp
from neckyoke.bridge.job.jobs import jobs as module
from neckyoke.bridge.job.jobs.job import Job
from neckyoke.bridge.job.jobs.jobs import Jobs
from neckyoke.bridge.job.jobs.spelled import same
from neckyoke.bridge.job.jobs.table import State
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, Pause
from tests.bridge.job.jobs.told import HOURS, LAMBS, START, STEERS, jobs, numbers, told


def test_words_are_taken_back_after_a_stop_and_times_are_those_of_their_runs() -> None:
    one = jobs()
    one.say(10.0, Begin(STEERS), "a")
    one.stay(1, 20.0)
    one.say(30.0, Begin(LAMBS), "b")
    one.stay(2, 40.0)
    ids = [job.id for job in one]
    again = jobs(one.memory, run=1)
    assert [job.id for job in again] == ids
    assert numbers(again, 2) == [1, 1]
    again.stay(3, 5.0)
    third = jobs(again.memory, run=2)
    assert third.undo("b") is not None
    assert numbers(third, 3) == [1, 2, 3]
    assert [(job.turn, job.standing, job.begun) for job in third] == [
        (1, "open", START + timedelta(seconds=10)),
        (2, "undone", START + timedelta(seconds=30)),
    ]
    third.say(7.0, End(), "e")
    assert next(iter(third)).ended == START + timedelta(days=2, seconds=7)
    assert third.memory["until"] == pytest.approx(40.0 + 5.0 + 7.0), "the runs follow each other on one axis"


def test_the_last_thing_before_a_stop_has_the_time_of_its_run() -> None:
    one = jobs()
    one.say(10.0, Begin())
    (again,) = jobs(one.memory, run=1)
    assert again.begun == START + timedelta(seconds=10)
    first = jobs()
    first.say(0.0, Begin())
    second = jobs(first.memory, run=1)
    second.say(0.0, Begin())
    assert [job.begun for job in jobs(second.memory, run=2)] == [START, START + timedelta(days=1)]


def test_a_stop_is_no_time_that_a_job_saw_nothing_in() -> None:
    one = jobs()
    one.stay(1, 1.0)
    again = jobs(one.memory, run=1)
    again.advance(4 * HOURS)
    assert told(again) == [(1, "open")]
    again.advance(4 * HOURS + 60.0)
    assert told(again) == [(1, "ended")]


def test_a_memory_whose_log_does_not_lead_to_its_state_is_believed_and_goes_on() -> None:
    one = jobs()
    one.say(0.0, Begin(STEERS), "a")
    one.stay(1, 1.0)
    one.say(2.0, Choose(LAMBS), "b")
    kept = json.loads(json.dumps(one.memory))
    kept["log"].pop("0")
    again = jobs(kept, run=1)
    assert (numbers(again, 1), again.named) == ([1], LAMBS)
    assert [job.by_itself for job in again] == [False], "a person began it"
    assert again.undo("b") is None, "what cannot be gone through again cannot be taken back"
    assert again.memory["first"] == 2, "behind what was thrown away"
    assert again.stay(2, 1.0).job_number == 2


def test_a_memory_of_before_logs_were_kept_is_taken_over() -> None:
    one = jobs()
    one.say(0.0, Begin(STEERS), "a")
    one.stay(1, 1.0)
    kept = {name: value for name, value in one.memory.items() if name not in {"log", "base", "first", "runs", "until"}}
    again = jobs(kept, run=1)
    assert (told(again), again.named) == ([(1, "open")], STEERS)
    assert again.stay(2, 1.0).job_number == 2


def test_numbers_that_the_last_run_did_not_live_to_say_are_not_given_again() -> None:
    one = jobs()
    one.stay(1, 1.0)
    again = jobs(one.memory, run=1)
    again.seen(4)
    assert again.now == 4
    assert again.stay(5, 1.0).job_number == 5
    again.say(2.0, Choose(LAMBS))
    assert again.moved() == ()


def test_a_long_day_keeps_so_much_to_be_taken_back_and_its_memory_stays_bounded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert module.LOG_KEPT == 1000
    monkeypatch.setattr(module, "LOG_KEPT", 5)
    one = jobs()
    one.say(0.0, Begin(STEERS), "old")
    for number in range(1, 10):
        one.stay(number, 3 * HOURS * number)
    assert len(one.memory["log"]) == 10
    one.say(28 * HOURS, Pause(), "new")
    memory = one.memory
    assert (memory["first"], sorted(memory["log"], key=int)) == (5, ["5", "6", "7", "8", "9", "10"])
    assert memory["base"]["now"] == 4
    again = jobs(memory, run=1)
    assert again.undo("old") is None
    assert again.undo("new") is not None
    assert (told(again), numbers(again, 9)) == ([(1, "open")], [*range(1, 10)])


def test_a_clock_known_late_sets_right_this_runs_jobs_alone() -> None:
    before = jobs()
    before.say(1.0, Begin())
    wrong = datetime(1970, 1, 1, tzinfo=UTC)
    now = {"start": wrong}
    one = Jobs(
        "larkmoor",
        "crush",
        "run 1",
        lambda t: Stamp(now["start"] + timedelta(seconds=t), Clock.UNSYNCHRONISED),
        json.loads(json.dumps(before.memory)),
    )
    one.say(10.0, Begin())
    one.say(20.0, Begin())
    assert one.restamp() == (), "nothing is known yet"
    now["start"] = START + timedelta(days=1)
    right = [START + timedelta(days=1, seconds=s) for s in (10, 20)]
    changed = one.restamp()
    assert [(job.turn, job.begun, job.ended) for job in changed] == [
        (1, START + timedelta(seconds=1), right[0]),
        (2, right[0], right[1]),
        (3, right[1], None),
    ]
    assert list(one) == list(changed)


def test_times_of_a_run_no_longer_known_are_counted_from_the_first_that_is(monkeypatch: pytest.MonkeyPatch) -> None:
    assert module.RUNS_KEPT == 50
    monkeypatch.setattr(module, "RUNS_KEPT", 2)
    one = jobs()
    one.say(10.0, Begin(), "a")
    one.say(70.0, Choose(STEERS), "b")
    for run in (1, 2, 3):
        one = jobs(one.memory, run=run)
    assert one.undo("b") is not None
    assert [job.begun for job in one] == [START + timedelta(days=1, seconds=10 - 70)]


def test_states_are_the_same_whatever_the_last_digits_of_their_times() -> None:
    def state(begun: datetime, ended: datetime | None, turn: int = 1) -> State:
        job = Job("j1", 1, begun, ended=ended, standing="ended" if ended else "open")
        return State({"j1": job}, turn=turn)

    later = START + timedelta(milliseconds=1)
    assert same(state(START, None), state(later, None))
    assert same(state(START, START), state(START, later))
    assert not same(state(START, None), state(START, START))
    assert not same(state(START, None), state(START, None, turn=2))
