"""Laws of stops: a box that stops within stays, once or twice, at any moment and for any time, in any yard.

What is the same animal before and after is a rule of our own (bridge/station/stops), no outside source.
"""

import random
from functools import cache

from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Flag
from neckyoke.bridge.station.stops.same import SAME
from neckyoke.protocols.tagcode import TagCode
from neckyoke.simulators.yard import Yard
from tests.bridge.station.stops.test_late_tags import make, stick, stopped_in
from tests.bridge.station.stops.test_stops import A, B, feed, hears, shows, weighings
from tests.support.stay_toll import StayToll, plan
from tests.support.stopped_station import Item, items_of, stopped

ANIMALS = 10
SCENARIOS = ("calm", "larkmoor", "no-gap", "sheep")
clocks = st.sampled_from((Clock.SYNCHRONISED, Clock.UNSYNCHRONISED))
seeds = st.integers(0, 10**6)


@cache
def played(scenario: str, seed: int) -> tuple[Yard, list[Item]]:
    yard = Yard.named(scenario, seed, ANIMALS)
    return yard, items_of(yard)


def apart(gaps: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Leave out the stops that come while the box is away already."""
    out: list[tuple[float, float]] = []
    for gap in sorted(gaps):
        if not out or gap[0] > out[-1][1]:
            out.append(gap)
    return out


def heard(toll: StayToll) -> list[str]:
    return [kind for kind in toll.stays if "1 s or more" in kind or kind == "no kill"]


@settings(max_examples=12, deadline=None)
@given(seed=seeds, day=st.integers(0, 3), clock=clocks, tags=st.booleans())
@example(seed=23, day=0, clock=Clock.SYNCHRONISED, tags=False)  # what it knew was of 1.6 s before it stopped
def test_a_stop_too_short_for_another_to_come_leaves_one_weighing_of_each_stay_or_marks_the_second(
    seed: int, day: int, clock: Clock, *, tags: bool
) -> None:
    """Each stay is cut once or twice for less than a second; nobody steps on sooner than a second and a half after.

    The box does not know that it was away for so short a time: what it wrote down last is older by up to a third of the
    stay.  So a second weighing now and then, but marked each time.
    """
    yard, items = played("calm", day)
    chance = random.Random(seed)
    gaps = []
    for stay in yard.truth:
        at = stay.on_t + chance.uniform(1.2, 6.0)
        for _ in range(chance.choice((1, 2))):
            gaps.append((at, at + chance.uniform(0.2, 0.9)))
            at = gaps[-1][1] + chance.uniform(1.2, 4.0)
    toll = stopped(yard, items, apart(gaps), clock=clock, tags=tags)
    assert sum(toll.none[kind] + toll.unmarked[kind] for kind in heard(toll)) == 0, toll.wrong
    assert sum(toll.right[kind] for kind in heard(toll)) >= 0.9 * sum(toll.stays[kind] for kind in heard(toll))


@settings(max_examples=24, deadline=None)
@given(seed=seeds, scenario=st.sampled_from(SCENARIOS), day=st.integers(0, 3), clock=clocks, tags=st.booleans())
@example(seed=183573, scenario="calm", day=0, clock=Clock.SYNCHRONISED, tags=False)  # three of six came out as two
@example(seed=2292, scenario="no-gap", day=0, clock=Clock.SYNCHRONISED, tags=False)  # four of eight
def test_a_stay_that_was_heard_for_a_second_has_one_weighing_and_no_second_one_unsaid(
    seed: int, scenario: str, day: int, clock: Clock, *, tags: bool
) -> None:
    """But for one in a yard: what cannot be told is told wrong now and then."""
    yard, items = played(scenario, day)
    chance = random.Random(seed)
    gaps = [(stay.on_t + at, stay.on_t + at + away_s) for stay in yard.truth for at, away_s in plan(chance, stay)]
    toll = stopped(yard, items, apart(gaps), clock=clock, tags=tags)
    assert sum(toll.none[kind] + toll.unmarked[kind] for kind in heard(toll)) <= 1, toll.wrong
    assert sum(toll.right[kind] for kind in heard(toll)) >= 0.6 * sum(toll.stays[kind] for kind in heard(toll))


TAGS = st.sampled_from((None, A, B))
READS = st.lists(st.tuples(st.floats(9.1, 40.0), st.sampled_from((A, B))), max_size=4)


@settings(max_examples=150, deadline=None)
@given(
    first=TAGS, second=TAGS, kg=st.sampled_from((318.0, 319.5, 325.0, 402.0)), away_s=st.floats(1.0, 60.0), reads=READS
)
@example(first=A, second=None, kg=318.0, away_s=40.0, reads=[(9.5, A)])  # one of two
@example(first=A, second=None, kg=325.0, away_s=2.0, reads=[(9.5, B)])  # two of one
def test_however_late_a_tag_is_heard_the_outcome_hangs_on_what_is_known_and_not_on_when(
    first: TagCode | None, second: TagCode | None, kg: float, away_s: float, reads: list[tuple[float, TagCode]]
) -> None:
    """And whatever it was before: each revision is new, and who is counted is who stands."""
    past, memory = stopped_in(first, away_s)
    station = make(10.0 + away_s, memory, Clock.SYNCHRONISED)
    seen = weighings(feed(station, shows(0, 6, kg), shows(6, 9, 0.0), hears(second, 0.5, 5.5)))
    for t, tag in sorted(reads, key=lambda one: one[0]):
        seen += weighings(stick(station, t, tag))
    seen += weighings(station.finish(80.0))
    publisher = station._publisher
    record = publisher.records[past.number + 1]
    odds = publisher._odds_another(past, record, publisher._spell(record, None))
    newest = {one.weighing: one for one in [past, *seen]}
    standing = {name for name, one in newest.items() if Flag.VOIDED not in one.flags}
    assert standing == ({past.weighing} if odds <= SAME else {past.weighing, record.weighing})
    assert station.account.parts == ({record.number} if odds <= SAME else set())
    assert {*station.account.weighed.values()} <= standing
    for name in newest:
        revisions = [one.revision for one in [past, *seen] if one.weighing == name]
        assert revisions == [*range(1, 1 + len(revisions))]
