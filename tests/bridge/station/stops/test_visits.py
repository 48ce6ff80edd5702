"""How soon the next animal stands in the place of one, and how many of a mob could pass for it: as a station learns it.

Rules of our own (bridge/station/stops/visits.py); the odds are gone through by hand from their paragraphs.
"""

from collections.abc import Sequence
from datetime import timedelta
from itertools import accumulate, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Flag, Weight
from neckyoke.bridge.station.instructions import Note
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.station.station import Station
from neckyoke.bridge.station.stops.visits import FEW, LIGHT_KG, STEPPED_S, VISITS, WHY, WHY_TOO, Visit, Visits
from tests.bridge.station.stops.test_stops import feed, left, make, shows, stays_on
from tests.support import events

SECONDS = st.floats(0.5, 100.0).map(lambda s: round(s, 1))
STEADY = (Visit(10.0, 15.0, 300.0),) * VISITS
HELD = 0.2 * 20.1
"""A fifth of twenty visits, and of the tenth of one that nobody saw."""


@pytest.mark.parametrize(
    ("visits", "seen_s", "away_s", "stays_s", "odds"),
    [
        (STEADY, 3.0, 4.0, None, 0.1 / 20.1),  # none was gone so soon, and all stood there for longer
        (STEADY, 3.0, 12.5, None, 10.1 / HELD),  # by 15 s half have left to the next, nobody stands there
        (STEADY, 3.0, 40.0, None, 20.1 / HELD),  # who still stands there is held for it
        (STEADY, 12.0, 1.0, None, 1.0),  # none stood there for so long: nothing is known
        (STEADY, None, 4.0, None, 0.1 / 12.1),  # five seconds are from the last foot to the next: nobody came in four
        (STEADY, None, 12.0, None, 13.1 / HELD),  # nobody stands there for so long
        (STEADY, None, 8.0, None, 5.1 / 4.1),  # two and a half of ten seconds to leave in, or two to be seen again
        (STEADY, 3.0, 12.5, 1.0, (20 / 6 + 0.1) / HELD),  # 13.5 s to come, be weighed and leave: one turn in six
        (STEADY, 3.0, 12.5, 9.0, 10.1 / HELD),
        ((), 1.0, 2.0, None, 0.1 / 4.1),  # what is anybody's: the quickest of four turns takes four and a half seconds
        ((), 1.0, 4.0, None, 0.6 / 3.1),  # which it may as well do in more as in less
        ((Visit(3.0, 4.0),) * 3, 1.0, 2.0, None, 0.1 / (4 + 3 * 0.5 + 0.1)),
        ((Visit(3.0, 4.0),) * 9, 1.0, 2.0, None, 0.1 / (4 + 9 * 0.5 + 0.1)),
        ((Visit(3.0, 4.0),) * 10, 1.0, 2.0, None, 0.1 / (10 * 0.5 + 0.1)),  # its own are enough
        ((Visit(0.0, 4.0), Visit(3.0, 0.0)), 1.0, 2.0, None, 0.1 / 4.1),  # what cannot have been is passed over
    ],
)
def test_how_likely_another_stands_there_is_told_by_the_visits_that_lasted_as_long(
    visits: Sequence[Visit], seen_s: float | None, away_s: float, stays_s: float | None, odds: float
) -> None:
    assert Visits(visits).odds_another(seen_s, away_s, stays_s, STEPPED_S) == pytest.approx(odds)


@pytest.mark.parametrize(
    ("visits", "kg", "quick"),
    [
        ((), None, True),
        ((), LIGHT_KG, True),
        ((), LIGHT_KG + 0.1, False),  # no steer is over and the next one on in four and a half seconds
        (
            (Visit(30.0, 40.0, 300.0),),
            None,
            False,
        ),  # of a mob that is heavy; where nobody knows one weighs what it does
        ((Visit(30.0, 40.0, 60.0),), None, True),
        ((Visit(30.0, 40.0),), None, True),
        ((Visit(30.0, 40.0, 60.0),), 300.0, False),
        ((Visit(3.0, 4.0, 300.0),) * FEW, 300.0, True),  # but where they were seen to be as quick
    ],
)
def test_only_light_animals_are_held_to_be_quick_before_they_were_seen_to_be(
    visits: Sequence[Visit], kg: float | None, *, quick: bool
) -> None:
    """Seen for a second, away for four and a half: time for the quickest of anybody's turns, and for no other."""
    assert (Visits(visits).odds_another(1.0, 4.5, None, STEPPED_S, kg) > 0.2) is quick


def test_what_only_steps_on_may_have_come_this_moment() -> None:
    assert Visits(STEADY).odds_another(3.0, 12.0, None, 0.0) == pytest.approx(10.1 / HELD)


@pytest.mark.parametrize(
    ("visits", "kg", "within", "share"),
    [
        ((), 300.0, 0.004, 0.03),
        ((), 300.0, 0.1, 0.65),
        (STEADY, 301.0, 0.004, 20.36 / 32),
        (STEADY, 302.0, 0.004, 0.36 / 32),
        (STEADY, 302.0, 0.01, 20.9 / 32),
        ((Visit(10.0, 15.0, None),) * VISITS, 300.0, 0.03, 0.22),  # whose weights were poor
    ],
)
def test_how_many_could_pass_for_one_is_told_by_the_mob(
    visits: Sequence[Visit], kg: float, within: float, share: float
) -> None:
    assert Visits(visits).share_alike(kg, within) == pytest.approx(share)


def stay(number: int, on: float, off: float, *flags: Flag, grade: str = "good") -> Record:
    record = Record("crush", number, f"w{number}", on, in_sight=Flag.ON_AT_START not in flags)
    record.off, record.platform_flags = off, flags
    record.weight = Weight(kg=300.0 + number, grade=grade)
    return record


def learned(before: Record, record: Record, unseen_s: float | None = None) -> tuple[Visit, ...]:
    visits = Visits()
    visits.came(before, record, unseen_s)
    return visits.lately


@given(stays=st.lists(st.tuples(SECONDS, SECONDS), min_size=1, max_size=30), kept=st.integers(0, 30))
def test_every_visit_is_learned_as_the_next_begins(stays: list[tuple[float, float]], kept: int) -> None:
    """Stays of so many seconds after gaps of so many: what a station knows that stopped after `kept`, and went on."""
    edges = [*accumulate((s for gap_and_stay in stays for s in gap_and_stay), initial=0.0)][1:]
    records = [stay(n, on, off) for n, (on, off) in enumerate(zip(edges[::2], edges[1::2], strict=True), 1)]
    visits = Visits()
    for at, (before, record) in enumerate(pairwise(records)):
        visits = Visits(visits.lately) if at == kept else visits
        visits.came(before, record, None)
    plain = [(first_s, first_s + gap_s, 301.0 + n) for n, ((_, first_s), (gap_s, _)) in enumerate(pairwise(stays))]
    assert [*map(list, visits.lately)] == [pytest.approx([*one], abs=0.11) for one in plain[-VISITS:]]


def test_what_is_learned_is_kept_to_a_tenth_of_a_second() -> None:
    assert learned(stay(1, 10.04, 20.11), stay(2, 25.06, 33.0)) == (Visit(10.1, 15.0, 301.0),)


SEEN = (Visit(10.0, 15.0, 301.0),)


@pytest.mark.parametrize(
    ("before", "after", "visits"),
    [
        ((), (), SEEN),
        ((Flag.SHORT,), (Flag.CROWDED,), SEEN),
        ((Flag.ON_AT_START,), (), ()),  # nobody saw its first foot
        ((), (Flag.ON_AT_START,), ()),  # who came while nobody listened is not who left before
        ((), (Flag.CAME_BACK,), ()),  # the same one
        ((Flag.INDICATOR_LOST,), (), ()),
        ((Flag.INTERRUPTED,), (), ()),
        ((), (Flag.INDICATOR_LOST,), SEEN),
    ],
)
def test_only_what_was_seen_is_learned(
    before: tuple[Flag, ...], after: tuple[Flag, ...], visits: tuple[Visit, ...]
) -> None:
    assert learned(stay(1, 10.0, 20.0, *before), stay(2, 25.0, 33.0, *after)) == visits


@pytest.mark.parametrize(("grade", "kg"), [("good", 301.0), ("fair", 301.0), ("poor", None), ("none", None)])
def test_a_weight_that_promises_nothing_is_not_the_mobs(grade: str, kg: float | None) -> None:
    assert learned(stay(1, 10.0, 20.0, grade=grade), stay(2, 25.0, 33.0)) == (Visit(10.0, 15.0, kg),)


@pytest.mark.parametrize(
    ("flags", "why", "unseen_s", "visits"),
    [
        # 20 s of it before the stop, 4 unseen, 10 after it, and 5 to the next first foot
        ((), None, 4.0, (Visit(34.0, 39.0, 302.0),)),
        ((Flag.ON_AT_START,), WHY, 4.0, (Visit(34.0, 39.0, 302.0),)),
        ((Flag.ON_AT_START,), WHY_TOO, 4.0, ()),
        ((), None, None, ()),
    ],
)
def test_one_that_goes_on_after_a_stop_had_its_first_foot_there_before_that(
    flags: tuple[Flag, ...], why: str | None, unseen_s: float | None, visits: tuple[Visit, ...]
) -> None:
    before, past = stay(2, 10.0, 20.0, Flag.ON_AT_START), events.weighing(1)
    before.resumes = past.model_copy(update={"off": past.on + timedelta(seconds=20), "flags": flags, "why": why})
    assert learned(before, stay(3, 25.0, 33.0), unseen_s) == visits


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
    feed(station, shows(at_s, at_s + 0.65, 318.0), shows(at_s + 0.65, at_s + 0.95, 250.0))
    return station


@pytest.mark.parametrize(
    ("turn_s", "away_s", "same"),
    [
        (4.5, 1.5, True),
        (4.5, 4.3, False),  # another can stand there after 4.5 s; of another station that is not known
        (12.0, 4.3, True),
        (12.0, 6.0, True),
        (12.0, 12.0, False),
    ],
)
def test_whether_an_animal_was_gone_is_judged_by_how_quick_this_mob_is(
    turn_s: float, away_s: float, *, same: bool
) -> None:
    past, memory = left(mob(turn_s, 13), away_s)
    assert len(memory.visits) == 13
    assert [*memory.visits[0]] == [pytest.approx(turn_s * 2 / 3, abs=0.11), turn_s, pytest.approx(318.0, abs=1.0)]
    (*_, last) = stays_on(make(-1e6, memory, Clock.UNSYNCHRONISED), 334.0, None)
    assert (last.weighing == past.weighing) is same
    assert (Flag.MAYBE_SAME in last.flags) is not same


def test_a_visit_is_learned_once_whatever_is_said_afterwards_and_not_from_one_that_was_on_at_the_start() -> None:
    station = make(0.0, Memory(zero_kg=0.0))
    feed(station, shows(0, 10, 318.0), shows(10, 14, 0.0), shows(14, 20, 360.0), shows(20, 24, 0.0))
    assert not station.memory.visits
    station.ask(25.0, Note("lame"))
    feed(station, shows(26, 34, 280.0), shows(34, 38, 0.0))
    (visit,) = station.memory.visits
    assert [*visit] == [6.0, 12.0, pytest.approx(360.0, abs=1.0)]
