"""A stay told as two or more parts is one in its job: what number it has there, before and after that is known.

Numbers are worked out by hand beside the words.
"""

from neckyoke.bridge.job.jobs.words import Begin, Pause, Resume
from neckyoke.bridge.station.settings import Place
from tests.bridge.job.jobs.told import jobs, numbers


def test_what_is_told_under_an_earlier_number_is_no_stay_of_its_own_also_after_a_stop_and_in_a_pause() -> None:
    one = jobs()
    one.say(0.0, Begin())
    for number in (1, 2, 3):
        one.stay(number, float(number))
    one.say(4.0, Pause())
    for number in (4, 5):
        one.stay(number, float(number))
    for known in (one, jobs({**one.memory, "parts": [2, 5, 99]})):
        if known is one:
            one.part(2, 1, apart=False)
            one.part(5, 4, apart=False)
        for jobs_now in (known, jobs(known.memory, run=1)):
            (job,) = jobs_now
            assert (jobs_now.stays(job), jobs_now.paused_stays(job), jobs_now.count(job)) == ([1, 3], [4], 3)
    one.stay(5, 6.0)  # the number is given again: the run before did not live to keep it
    (job,) = one
    assert one.paused_stays(job) == [4, 5]


def test_the_number_in_the_job_of_what_is_the_rest_of_an_earlier_stay_is_the_next_ones() -> None:
    """Where that is known in time; else nobody's number moves, neither then nor where it was not so after all."""
    one = jobs()
    one.say(0.0, Begin())
    one.stay(1, 1.0)
    one.stay(2, 2.0)
    one.part(2, 1, apart=False)
    one.stay(3, 3.0)
    assert numbers(one, 3) == [1, -1, 2]
    one.part(3, 1, apart=False)
    one.part(3, 1, apart=True)
    assert numbers(one, 3) == [1, -1, 2], "as though it had never been held so"
    one.stay(4, 4.0)
    one.part(3, 1, apart=False)
    assert numbers(one, 4) == [1, -1, -1, 3]
    one.part(2, 1, apart=True)
    one.stay(5, 5.0)
    assert numbers(one, 5) == [1, 4, -1, 3, 5]
    assert numbers(jobs(one.memory, run=1), 6) == [1, 4, -1, 3, 5, -1]


def test_what_stood_there_in_a_pause_and_after_it_has_the_place_that_was_shown() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.stay(1, 1.0)
    one.say(2.0, Pause())
    one.stay(2, 3.0)
    one.say(4.0, Resume())
    one.stay(3, 5.0)
    one.part(3, 2, apart=False)
    one.stay(4, 6.0)
    assert numbers(one, 4) == [1, 2, -1, 3]
    one.part(3, 2, apart=True)
    assert numbers(one, 4) == [1, 2, 4, 3]


def test_what_came_in_a_pause_is_a_stay_of_it_again_where_it_was_no_rest() -> None:
    one = jobs()
    one.say(0.0, Begin())
    one.say(2.0, Pause())
    for number in (1, 2, 3):
        one.stay(number, 2.0 + number)
    one.part(2, 1, apart=False)
    one.part(2, 1, apart=True)
    (job,) = one
    assert one.paused_stays(job) == [1, 3, 2]
    one.stay(4, 6.0)
    assert one.place(4) == Place(paused=True)
