"""A station's jobs: what each word does in each state, and what is carried, taken back and told.

The table is that of `jobs/table.py`, gone through by hand; times and numbers are worked out beside it.
"""

from datetime import timedelta

import pytest

from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.jobs.table import IDLE_S, JOBS_KEPT
from neckyoke.bridge.job.jobs.words import Begin, Choose, End, Pause, Resume, Word
from neckyoke.bridge.station.settings import Place
from tests.bridge.job.jobs.told import HOURS, LAMBS, START, STEERS, jobs, numbers, told

BEFORE: dict[str, list[Word]] = {
    "none": [],
    "open": [Begin()],
    "paused": [Begin(), Pause()],
    "ended": [Begin(), End()],
}
NO_PAUSE = "No job is open, so there is nothing to pause."


@pytest.mark.parametrize(
    ("before", "word", "done", "text", "after"),
    [
        ("none", Begin(), True, "", [(1, "open")]),
        ("none", Pause(), False, NO_PAUSE, []),
        ("none", Resume(), False, "There was no job yet.", []),
        ("none", Resume(3), False, "No job 3 is at hand.", []),
        ("none", End(), False, "No job is open.", []),
        ("none", Choose(STEERS), True, "", []),
        ("open", Begin(), True, "", [(1, "ended"), (2, "open")]),
        ("open", Pause(), True, "", [(1, "paused")]),
        ("open", Resume(), False, "It is open, and not paused.", [(1, "open")]),
        ("open", Resume(first=2), True, "", [(1, "open")]),
        ("open", Resume(first=3), False, "Nothing has the number 3 yet; the last is 2.", [(1, "open")]),
        ("open", End(), True, "", [(1, "ended")]),
        ("open", Choose(STEERS), True, "", [(1, "open")]),
        ("paused", Begin(), True, "", [(1, "ended"), (2, "open")]),
        ("paused", Pause(), False, "It is paused already.", [(1, "paused")]),
        ("paused", Resume(), True, "", [(1, "open")]),
        ("paused", Resume(2), False, "No job 2 is at hand.", [(1, "paused")]),
        ("paused", End(), True, "", [(1, "ended")]),
        ("ended", Begin(), True, "", [(1, "ended"), (2, "open")]),
        ("ended", Pause(), False, NO_PAUSE, [(1, "ended")]),
        ("ended", Resume(), True, "", [(1, "open")]),
        ("ended", End(), False, "No job is open.", [(1, "ended")]),
    ],
)
def test_each_word_in_each_state(before: str, word: Word, done: bool, text: str, after: list[tuple[int, str]]) -> None:  # noqa: FBT001
    one = jobs()
    for at, said in enumerate(BEFORE[before]):
        one.say(float(at), said)
        if not at:
            one.stay(1, 0.2)
            one.stay(2, 0.4)
    reply = one.say(10.0, word)
    assert (reply.done, reply.text) == (done, text)
    assert told(one) == after
    about = one.last
    refused = before == "none" or "No " in text or text.startswith("Nothing is")
    if not refused and not isinstance(word, Choose | End):
        assert about is not None
        assert reply.job == about.id
    if done:
        assert (one.open is not None) == any(standing in {"open", "paused"} for _, standing in after)


def test_a_stay_opens_a_job_which_is_its_own_and_a_persons_is_not() -> None:
    one = jobs()
    assert one.stay(1, 5.0).job_number == 1
    (opened,) = one
    assert (opened.by_itself, opened.begun) == (True, START + timedelta(seconds=5))
    one.say(6.0, Begin())
    assert [job.by_itself for job in one] == [True, False]
    assert one.number_of(1) is None
    assert one.number_of(1, opened) == 1
    assert (one.stay(2, 7.0).job_number, one.number_of(1)) == (1, 2)
    assert one.now == 2


def test_a_job_ends_by_itself_to_the_second_and_no_job_while_it_is_paused() -> None:
    assert IDLE_S == 4 * HOURS, "what the help says: four hours"
    one = jobs()
    one.stay(1, 100.0)
    one.advance(100.0 + 4 * HOURS + 59.9)
    assert told(one) == [(1, "open")]
    one.advance(100.0 + 4 * HOURS + 60.0)
    (ended,) = one
    assert (ended.standing, ended.idle) == ("ended", True)
    assert ended.ended == START + timedelta(seconds=100.0 + 4 * HOURS), "from when on it saw nothing"
    assert one.say(5 * HOURS, Resume()).done
    assert [(job.standing, job.idle, job.ended) for job in one] == [("open", False, None)]
    one.say(5 * HOURS + 1, Pause())
    one.advance(50 * HOURS)
    assert told(one) == [(1, "paused")]


def test_an_ended_job_takes_back_what_a_stay_opened_since_and_from_a_number_all() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.stay(1, 1.0)
    one.say(2.0, End())
    for number in (2, 3):
        one.stay(number, float(number + 1))
    one.say(5.0, Begin())
    one.stay(4, 6.0)
    assert numbers(one, 4) == [1, 1, 2, 1]
    first, _, theirs = one
    one.say(7.0, Resume(1))
    assert numbers(one, 4) == [1, 2, 3, 1], "another person's job keeps its own"
    assert [one.place(number) for number in (2, 4)] == [Place(first.id, 2), Place(theirs.id, 1)]
    one.stay(5, 8.0)
    assert one.place(5) == Place(first.id, 4)
    one.say(9.0, Resume(1, first=4))
    assert one.place(4) == Place(first.id, 5), "numbers that were given stay; what comes in is counted behind"
    assert one.number_of(1, one.which("2")) is None


def test_from_a_number_on_several_jobs_give_theirs() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.stay(1, 1.0)
    for number in (2, 4):
        one.say(float(number), Begin())
        one.stay(number, number + 0.1)
        one.stay(number + 1, number + 0.2)
    first = next(iter(one))
    assert one.say(9.0, Resume(1, first=3)).done
    assert numbers(one, 5) == [1, 1, 2, 3, 4]
    assert [one.place(number) for number in (3, 4, 5)] == [Place(first.id, at) for at in (2, 3, 4)]


def test_a_job_that_saw_nothing_takes_nothing_of_others_when_it_is_opened_again() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.say(1.0, End())
    second = one.stay(1, 2.0).job
    assert one.say(3.0, Resume(1)).done
    assert one.place(1) == Place(second, 1)


def test_what_was_recorded_in_a_pause_counts_from_the_number_that_a_person_names() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.stay(1, 1.0)
    one.say(2.0, Pause())
    for number in (2, 3, 4):
        assert one.stay(number, float(number + 1)) == Place(paused=True)
    (job,) = one
    assert one.paused_stays(job) == [2, 3, 4]
    assert one.count(job) == 1
    one.say(8.0, Resume(first=3))
    one.stay(5, 9.0)
    assert numbers(one, 5) == [1, None, 2, 3, 4]
    (job,) = one
    assert (one.paused_stays(job), one.count(job)) == ([2], 4)


def test_the_sheet_named_holds_for_the_next_job_until_a_job_under_it_has_ended() -> None:
    one = jobs()
    one.say(0.0, Choose(STEERS))
    assert (one.named, one.stale) == (STEERS, None)
    first = one.stay(1, 1.0).job
    assert one.sheet_for(1, first) == STEERS
    assert one.sheet_for(1, None) is None
    one.say(2.0, Choose(LAMBS))
    one.stay(2, 3.0)
    assert [one.sheet_for(number, first) for number in (1, 2)] == [STEERS, LAMBS]
    one.say(4.0, End())
    assert (one.named, one.stale) == (None, LAMBS)
    second = one.stay(3, 5.0).job
    assert one.sheet_for(3, second) is None
    one.say(6.0, Begin(bare=True))
    one.say(7.0, Begin(STEERS))
    assert [job.sheet for job in one] == [LAMBS, None, None, STEERS]
    assert {sheet.title for sheet in one.sheets()} == {"Steers", "Lambs"}


@pytest.mark.parametrize(
    ("before", "sheet", "named"),
    [
        ([Begin(STEERS), End()], Choose(STEERS), STEERS),  # a person names it anew
        ([Begin(STEERS), End()], Choose(STEERS, mended=True), None),  # mended, it is no more wanted than before
        ([Begin(STEERS)], Choose(STEERS, mended=True), STEERS),
        ([Choose(STEERS)], Choose(LAMBS, mended=True), LAMBS),
        ([], Choose(LAMBS, mended=True), None),  # there was none to be mended
    ],
)
def test_a_sheet_mended_is_wanted_as_it_was(before: list[Word], sheet: Choose, named: SheetRef | None) -> None:
    one = jobs()
    for at, word in enumerate([*before, sheet]):
        one.say(float(at), word)
    assert one.named == named


def test_what_the_configuration_names_leaves_an_open_job_alone_and_is_taken_once() -> None:
    one = jobs()
    one.say(0.0, Begin(LAMBS))
    assert one.say(1.0, Choose(STEERS, configured=True)).done
    assert ([job.sheet for job in one], one.named) == ([LAMBS], STEERS)
    one.say(2.0, Choose(LAMBS))
    again = jobs(one.memory, run=1)
    again.say(0.0, Choose(STEERS, configured=True))
    assert again.named == LAMBS, "what was said since stands, for the configuration is what it was"
    again.say(1.0, Choose(STEERS._replace(digest="c" * 12), configured=True))
    assert again.named == STEERS._replace(digest="c" * 12)


def test_jobs_are_found_by_turn_and_by_id_and_have_ids_of_their_own() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.say(1.0, Begin())
    first, second = one
    assert first.id != second.id
    assert [one.which(name) for name in ("1", "2", second.id, "3", "")] == [first, second, second, None, None]


def test_so_many_jobs_are_at_hand_and_not_one_more() -> None:
    one = jobs()
    for at in range(JOBS_KEPT + 1):
        one.say(float(at), Begin())
    assert [job.turn for job in one] == [*range(2, JOBS_KEPT + 2)]


# -- taken back


def test_a_word_taken_back_undoes_the_job_that_it_began_and_says_which_is_open() -> None:
    one = jobs()
    one.say(0.0, Begin(STEERS), "a")
    one.stay(1, 1.0)
    one.say(2.0, Begin(LAMBS), "b")
    one.stay(2, 3.0)
    first, _ = one
    one.take()
    reply = one.undo("b")
    assert reply is not None
    assert (reply.done, reply.job) == (True, first.id)
    assert told(one) == [(1, "open"), (2, "undone")]
    assert one.place(2) == Place(first.id, 2)
    assert one.moved() == (2,)
    assert one.last is not None
    assert one.last.id == first.id
    assert (one.undo("b"), one.undo("nobody")) == (None, None)
    one.say(4.0, Begin())
    assert told(one)[-1] == (3, "open"), "a turn that was given is not given again"
    assert one.say(5.0, Resume(2)).text == "No job 2 is at hand."


def test_a_stay_known_late_takes_its_place_before_the_word() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.stay(1, 1.0)
    one.say(9.0, Begin())
    assert one.stay(2, 8.0) == Place(next(iter(one)).id, 2), "it stepped on before that was said"
    assert numbers(one, 2) == [1, 2]
    one.say(20.0, Begin())
    third = one.last
    one.say(30.0, Begin())
    assert third is not None
    assert one.stay(3, 20.0).job == third.id, "of one moment what was said first goes first"


def test_what_moves_is_told_and_what_does_not_is_not() -> None:
    one = jobs()
    one.say(0.0, Begin(STEERS))
    for number in (1, 2, 3):
        one.stay(number, float(number))
    one.say(4.0, Pause())
    one.stay(4, 5.0)
    one.say(6.0, Resume(first=4))
    assert one.moved() == (4,)
    one.say(7.0, Choose(LAMBS), "c")
    assert one.moved() == ()
    one.stay(5, 8.0)
    one.undo("c")
    assert one.moved() == (5,), "its place is the same, its sheet another"


def test_what_is_published_of_jobs_is_what_changed_the_oldest_first() -> None:
    one = jobs()
    one.say(0.0, Begin(), "a")
    one.say(1.0, Begin())
    assert [(job.turn, job.standing) for job in one.take()] == [(1, "ended"), (2, "open")]
    assert one.take() == ()
    one.stay(1, 2.0)
    assert one.take() == (), "a stay changes nothing that is published of a job"
    one.say(3.0, Choose(STEERS))
    assert [job.sheet for job in one.take()] == [STEERS]
