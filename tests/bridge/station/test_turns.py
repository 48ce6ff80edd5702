"""How soon the next animal stands in the place of one: learned by each station, and carried from run to run.

A rule of our own (bridge/station/resume.py); that the next of alike things is the least of n + 1 with a chance of
1/(n + 1) is arithmetic, no outside source.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Flag
from neckyoke.bridge.station.instructions import Note
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.resume import MOST_S, STEPPED_S, TURNS, UNKNOWN_S, WHY, WHY_TOO, Turns
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.station.station import Station
from tests.bridge.station.test_resume import feed, left, make, shows, stays_on, weighings
from tests.support import events

SECONDS = st.floats(0.5, 100.0).map(lambda s: round(s, 1))


@pytest.mark.parametrize(
    ("lately_s", "least_s"),
    [
        ((), UNKNOWN_S),
        ((4.2,), 4.2),  # quicker than was thought: known at once
        ((8.0,), UNKNOWN_S),  # of one the half would be less
        ((9.0, 9.0), 6.0),
        ((9.0, 12.0, 15.0), 6.75),
        ((8.0,) * 19, 7.6),
        ((8.0,) * 18 + (5.3,), 5.035),
        ((8.0,) * 18 + (3.0,), 3.0),
        ((1800.0,), MOST_S),  # between them the people had a break
        ((60.0,) * TURNS, MOST_S),
    ],
)
def test_the_quickest_of_the_last_turns_tells_the_more_the_more_there_were(
    lately_s: Sequence[float], least_s: float
) -> None:
    assert Turns(lately_s).least_s == pytest.approx(least_s)


def stay(number: int, on: float, off: float, *flags: Flag) -> Record:
    record = Record("crush", number, f"w{number}", on, in_sight=Flag.ON_AT_START not in flags)
    record.off, record.platform_flags = off, flags
    return record


def learned(before: Record, record: Record, unseen_s: float | None = None) -> tuple[float, ...]:
    turns = Turns()
    turns.came(before, record, unseen_s)
    turns.left(before, record)
    return turns.lately_s


@given(stays=st.lists(st.tuples(SECONDS, SECONDS), min_size=1, max_size=30), kept=st.integers(0, 30))
def test_every_turn_is_learned_from_first_foot_to_first_foot_and_from_last_to_last(
    stays: list[tuple[float, float]], kept: int
) -> None:
    """Stays of so many seconds after gaps of so many: what a station knows that stopped after `kept`, and went on."""
    edges = [*accumulate((s for gap_and_stay in stays for s in gap_and_stay), initial=0.0)][1:]
    records = [stay(n, on, off) for n, (on, off) in enumerate(zip(edges[::2], edges[1::2], strict=True), 1)]
    turns = Turns()
    for at, (before, record) in enumerate(pairwise(records)):
        turns = Turns(turns.lately_s) if at == kept else turns
        turns.came(before, record, None)
        turns.left(before, record)
    plain = []
    for (_, first_s), (gap_s, second_s) in pairwise(stays):
        plain += [first_s + gap_s, gap_s + second_s]
    assert turns.lately_s == pytest.approx(plain[-TURNS:], abs=0.11)
    assert min(UNKNOWN_S, *turns.lately_s, MOST_S) <= turns.least_s <= max(UNKNOWN_S, min([*turns.lately_s, MOST_S]))


@pytest.mark.parametrize(
    ("before", "after", "turns_s"),
    [
        ((), (), (15.0, 13.0)),
        ((Flag.SHORT,), (Flag.CROWDED,), (15.0, 13.0)),
        ((Flag.ON_AT_START,), (), (13.0,)),  # nobody saw its first foot; all saw it leave
        ((), (Flag.ON_AT_START,), ()),  # who came while nobody listened is not who left before
        ((), (Flag.CAME_BACK,), (15.0,)),  # the same one
        ((Flag.INDICATOR_LOST,), (), (15.0,)),
        ((), (Flag.INDICATOR_LOST,), (15.0,)),
        ((), (Flag.INTERRUPTED,), (15.0,)),
    ],
)
def test_only_what_was_seen_is_learned(
    before: tuple[Flag, ...], after: tuple[Flag, ...], turns_s: tuple[float, ...]
) -> None:
    assert learned(stay(1, 10.0, 20.0, *before), stay(2, 25.0, 33.0, *after)) == turns_s


@pytest.mark.parametrize(
    ("flags", "why", "unseen_s", "turns_s"),
    [
        (
            (),
            None,
            4.0,
            (39.0, 13.0),
        ),  # 20 s of it before the stop, 4 unseen, 10 after it, and 5 to the next first foot
        ((Flag.ON_AT_START,), WHY, 4.0, (39.0, 13.0)),
        ((Flag.ON_AT_START,), WHY_TOO, 4.0, (13.0,)),
        ((), None, None, (13.0,)),
    ],
)
def test_one_that_goes_on_after_a_stop_had_its_first_foot_there_before_that(
    flags: tuple[Flag, ...], why: str | None, unseen_s: float | None, turns_s: tuple[float, ...]
) -> None:
    before, past = stay(2, 10.0, 20.0, Flag.ON_AT_START), events.weighing(1)
    before.resumes = past.model_copy(update={"off": past.on + timedelta(seconds=20), "flags": flags, "why": why})
    assert learned(before, stay(3, 25.0, 33.0), unseen_s) == turns_s


# -- on a whole station


def mob(turn_s: float, animals: int) -> Station:
    """Weigh animals that each stand for two thirds of their turn; the last stands for 0.9 s as the box stops."""
    station = make(0.0, Memory(zero_kg=0.0), Clock.UNSYNCHRONISED)
    feed(station, shows(0, 2, 0.0))
    for n in range(animals):
        at_s = 2.0 + n * turn_s
        feed(
            station,
            shows(at_s, at_s + turn_s * 2 / 3, 318.0 + 20 * n),
            shows(at_s + turn_s * 2 / 3, at_s + turn_s, 0.0),
        )
    at_s = 2.0 + animals * turn_s
    feed(station, shows(at_s, at_s + 0.95, 318.0))
    return station


@pytest.mark.parametrize(
    ("turn_s", "away_s", "same"),
    [
        (4.5, 4.1, True),
        (4.5, 4.3, False),  # another can stand there after 4.5 s; of another station that is not known
        (12.0, 4.3, True),
        (12.0, 8.0, True),
        (12.0, 9.8, False),
    ],
)
def test_whether_an_animal_was_gone_is_judged_by_how_quick_this_mob_is(
    turn_s: float, away_s: float, *, same: bool
) -> None:
    past, memory = left(mob(turn_s, 6), away_s)
    assert len(memory.turns_s) == 11
    (*_, last) = stays_on(make(-1e6, memory, Clock.UNSYNCHRONISED), 334.0, None)
    assert (last.weighing == past.weighing) is same
    (*_, unknown) = stays_on(make(-1e6, replace(memory, turns_s=()), Clock.UNSYNCHRONISED), 334.0, None)
    assert (unknown.weighing == past.weighing) is (0.8 + away_s <= UNKNOWN_S + STEPPED_S)


def test_a_turn_is_learned_once_whatever_is_said_afterwards_and_not_from_one_that_was_on_at_the_start() -> None:
    station = make(0.0, Memory(zero_kg=0.0))
    feed(station, shows(0, 10, 318.0), shows(10, 14, 0.0), shows(14, 20, 360.0), shows(20, 24, 0.0))
    assert [*station.memory.turns_s] == [10.0], "from last foot to last foot"
    station.ask(25.0, Note("lame"))
    feed(station, shows(26, 34, 280.0), shows(34, 38, 0.0))
    assert [*station.memory.turns_s] == [10.0, 12.0, 14.0]


def test_what_steps_on_as_the_box_is_back_is_another_though_it_weighs_the_same() -> None:
    station = make(0.0, Memory(zero_kg=0.0), Clock.UNSYNCHRONISED)
    feed(station, shows(0, 2, 0.0), shows(2, 10, 318.0))
    past, memory = left(station, 5.0)
    for first_kg, same in ((318.0, True), (90.0, False)):
        again = make(-1e6, memory, Clock.UNSYNCHRONISED)
        seen = feed(again, shows(0, 0.4, first_kg), shows(0.4, 5, 318.0))
        stood = again.open_stay
        (*_, last) = weighings(seen + feed(again, shows(5, 9, 0.0)))
        assert stood is not None
        assert (stood.weighing == past.weighing, last.weighing == past.weighing) == (same, same)
