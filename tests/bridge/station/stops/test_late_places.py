"""A tag heard late makes two of a stay or one of two: where each belongs in its job, and that no other number moves.

What a job is, is our own (`neckyoke help tell`), no outside source.
"""

import pytest

from neckyoke.bridge.events import Clock, Flag, Weighing
from neckyoke.bridge.job.jobs.jobs import Jobs
from neckyoke.bridge.job.jobs.words import Begin, Pause, Resume
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.readings import TagRead
from neckyoke.protocols.tagcode import TagCode
from tests.bridge.station.stops.test_late_tags import make, stick, stopped, stopped_in
from tests.bridge.station.stops.test_stops import A, B, feed, shows, weighings


def back(begun_s: float, memory: Memory, clock: Clock, *, paused: bool = False) -> tuple[Station, Jobs]:
    """Begin a run in which the first part, number 1, is the first of a job, or came while that was paused."""
    bare = make(begun_s, memory, clock)
    jobs = Jobs("larkmoor", "crush", "run", bare._stamp)
    jobs.say(0.0, Begin())
    if paused:
        jobs.say(0.0, Pause())
    jobs.seen(1)
    account = Account(memory.weighed)
    account.kept_by = jobs
    return Station(bare.settings, bare._stamp, memory, account, place=jobs.stay), jobs


def day(begun: tuple[Station, Jobs], kg: float, code: TagCode, *, third: bool) -> tuple[dict[str, Weighing], Jobs]:
    """Let the second part be weighed, and a third stay before its tag is heard, or only after."""
    station, jobs = begun
    seen = weighings(feed(station, shows(0, 6, kg), shows(6, 9, 0.0)))
    if third:
        seen += weighings(station.feed(9.0, "stick", TagRead(code)))
        seen += weighings(feed(station, shows(14, 20, 402.0), shows(20, 23, 0.0)))
        seen += weighings(station.advance(40.0))
    else:
        seen += weighings(stick(station, 9.0, code))
    seen += weighings(feed(station, shows(50, 56, 411.0), shows(56, 59, 0.0)))
    seen += weighings(station.finish(90.0))
    newest = {one.weighing: one for one in seen}
    for one in newest.values():
        place = jobs.place(one.number)
        if Flag.VOIDED not in one.flags:
            assert place is not None
            assert (one.job, one.job_number, Flag.PAUSED in one.flags) == place
    return newest, jobs


def numbers(seen: dict[str, Weighing]) -> list[tuple[int, int | None]]:
    standing = (one for one in seen.values() if Flag.VOIDED not in one.flags)
    return sorted((one.number, one.job_number) for one in standing)


@pytest.mark.parametrize(("third", "told"), [(False, [(1, 1), (3, 2)]), (True, [(1, 1), (3, 3), (4, 4)])])
def test_of_two_that_become_one_the_second_has_no_place(*, third: bool, told: list[tuple[int, int | None]]) -> None:
    past, memory = stopped(Clock.UNKNOWN)
    seen, _ = day(back(1e6, memory, Clock.UNKNOWN), 318.0, A, third=third)
    assert seen[past.weighing].number == 1
    assert numbers(seen) == told


@pytest.mark.parametrize(
    ("third", "told"), [(False, [(1, 1), (2, 2), (3, 3)]), (True, [(1, 1), (2, 3), (3, 2), (4, 4)])]
)
def test_of_one_that_becomes_two_the_second_has_a_number_behind_those_that_were_given(
    *, third: bool, told: list[tuple[int, int | None]]
) -> None:
    _, memory = stopped_in(A, 12.0)
    seen, _ = day(back(22.0, memory, Clock.SYNCHRONISED), 325.0, B, third=third)
    assert numbers(seen) == told


def test_of_one_that_becomes_two_in_a_pause_both_are_of_the_pause() -> None:
    _, memory = stopped_in(A, 12.0)
    seen, jobs = day(back(22.0, memory, Clock.SYNCHRONISED, paused=True), 325.0, B, third=True)
    assert numbers(seen) == [(1, None), (2, None), (3, None), (4, None)]
    jobs.say(95.0, Resume(first=2))
    assert [place and place.job_number for place in map(jobs.place, (1, 2, 3, 4))] == [None, 1, 2, 3]
