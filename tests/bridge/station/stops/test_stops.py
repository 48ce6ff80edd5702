"""A box that stops while an animal stands there: one weighing if it still does afterwards, two when in doubt.

What counts as the same animal is a rule of our own (bridge/station/stops), no outside source.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing
from neckyoke.bridge.station.instructions import NOTES_MAX, About, Identify, Note, Void
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.bridge.station.stops.same import STOP_S
from neckyoke.bridge.station.stops.visits import QUICKEST, STEPPED_S, WHY, WHY_TOO
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.tagcode import TagCode

BRIEF_S = QUICKEST[1] + STEPPED_S
"""So long after a first foot another that is no sheep hardly had room to stand there, where no visits were seen."""
STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
A, B = (TagCode(982, 112200 + n) for n in range(2))
STEADY = ((10.0, 15.0, 300.0),) * 20
Item = tuple[float, str, WeightReading | TagRead]


def make(begins_s: float, memory: Memory, clock: Clock = Clock.SYNCHRONISED) -> Station:
    started = STARTED + timedelta(seconds=begins_s)
    settings = Settings("larkmoor", "crush", "indicator", {"panel": "platform"}, run=started.isoformat())
    return Station(settings, lambda t: Stamp(started + timedelta(seconds=t), clock), memory)


def shows(start: float, end: float, kg: float) -> Iterator[Item]:
    for n in range(int((end - start) * 10)):
        yield start + n / 10, "indicator", WeightReading(kg=kg + 0.5 * (n % 3 - 1) if kg else 0.0)


def hears(tag: TagCode | None, start: float, end: float) -> Iterator[Item]:
    for n in range(int((end - start) * 2) if tag else 0):
        yield start + n / 2, "panel", TagRead(tag)  # type: ignore[arg-type]  # none is heard where there is none


def feed(station: Station, *streams: Iterator[Item]) -> list[Event]:
    items = sorted((item for stream in streams for item in stream), key=lambda item: item[0])
    return [event for t, link, item in items for event in station.feed(t, link, item)]


def weighings(events: list[Event]) -> list[Weighing]:
    return [event.data for event in events if isinstance(event.data, Weighing)]


def stopped(
    tag: TagCode | None, clock: Clock = Clock.SYNCHRONISED, *, at_s: float = 10.0, away_s: float | None = None
) -> tuple[Weighing, Memory]:
    """Let the box stop in a stay that began at 2 s; give what it leaves.  `away_s` as a clock that ran on tells it."""
    before = make(0.0, Memory(zero_kg=0.0), clock)
    feed(before, shows(0, 2, 0.0), shows(2, at_s, 318.0), hears(tag, 3, at_s))
    return left(before, away_s)


def left(station: Station, away_s: float | None = None) -> tuple[Weighing, Memory]:
    """Return what a station leaves behind: the open stay's weighing, and the memory with it."""
    past = station.open_stay
    assert past is not None
    claim = past.tag.id if past.tag else past.weighing
    told = past.model_dump(mode="json")
    return past, replace(station.memory, weighed={"": {claim: past.weighing}}, interrupted=told, away_s=away_s)


def stays_on(station: Station, kg: float, tag: TagCode | None) -> list[Weighing]:
    return weighings(feed(station, shows(0, 6, kg), shows(6, 12, 0.0), hears(tag, 0.5, 5.5))) + weighings(
        station.finish(13.0)
    )


@pytest.mark.parametrize(
    ("tag_before", "tag_after", "kg_after", "away_s", "clock", "same"),
    [
        (A, A, 318.0, 30.0, Clock.SYNCHRONISED, True),
        (A, A, 318.0, 30.0, Clock.UNKNOWN, True),  # the tag is enough
        (A, None, 319.0, 30.0, Clock.SYNCHRONISED, True),
        (None, A, 317.5, 30.0, Clock.SYNCHRONISED, True),
        (None, None, 318.0, 30.0, Clock.SYNCHRONISED, True),
        (A, B, 318.0, 30.0, Clock.SYNCHRONISED, False),  # another animal came meanwhile
        (None, None, 318.0, 30.0, Clock.UNKNOWN, False),  # who knows how long the box was away
        (None, None, 334.0, 30.0, Clock.SYNCHRONISED, False),
        (A, A, 318.0, -60.0, Clock.SYNCHRONISED, True),  # the clock was set back
        (None, None, 318.0, -60.0, Clock.SYNCHRONISED, False),
        (A, A, 318.0, STOP_S + 60, Clock.SYNCHRONISED, False),  # it went round again
    ],
)
def test_the_same_animal_has_one_weighing_and_another_one_of_its_own(
    tag_before: TagCode | None,
    tag_after: TagCode | None,
    kg_after: float,
    away_s: float,
    clock: Clock,
    same: bool,  # noqa: FBT001
) -> None:
    past, memory = stopped(tag_before, clock)
    (*_, last) = stays_on(make(10.0 + away_s, memory, clock), kg_after, tag_after)
    assert (last.weighing == past.weighing) is same
    if same:
        assert (last.number, last.revision, last.on, last.why) == (past.number, 2, past.on, WHY)
        assert {Flag.INTERRUPTED, Flag.ON_AT_START} <= {*last.flags}
        assert not {Flag.REPEAT, Flag.NO_TAG} & {*last.flags} or tag_before is tag_after is None
        assert last.tag is None or last.tag.id == str(tag_before or tag_after)
        assert last.weight.first_kg == past.weight.first_kg
    else:
        assert (last.number, last.revision) == (past.number + 1, 1)


def test_what_is_said_of_it_in_between_is_kept_and_every_revision_is_new() -> None:
    past, memory = stopped(A)
    station = make(40.0, memory)
    feed(station, shows(0, 3, 318.0), hears(A, 0.5, 3))
    _, events = station.amend(3.0, past, Note("lame", About(weighing=past.weighing)))
    (noted,) = weighings(events)
    later = weighings(feed(station, shows(3.1, 6, 318.0), shows(6, 12, 0.0), hears(A, 3.1, 5.5)))
    reply, events = station.ask(13.0, Note("near hind", About(number=past.number)))
    (last,) = weighings(events)
    assert reply.done
    revisions = [noted, *later, last]
    assert {one.weighing for one in revisions} == {past.weighing}
    assert [one.revision for one in revisions] == list(range(2, 2 + len(revisions)))
    assert last.notes == ("lame", "near hind")


@pytest.mark.parametrize("clock", [Clock.SYNCHRONISED, Clock.UNKNOWN])
@pytest.mark.parametrize("heard_s", [0.4, 1.0, 6.0])
def test_any_number_of_stops_in_the_same_stay_leaves_one_weighing(clock: Clock, heard_s: float) -> None:
    """Stopped a second after its first foot, and three times more before the animal goes."""
    past, memory = stopped(None, clock, at_s=3.0)
    seen_s, now_s = 3.0, 7.0
    for _ in range(3):
        station = make(now_s, replace(memory, away_s=now_s - seen_s), clock)
        feed(station, shows(0, heard_s, 318.0))
        memory = station.memory
        again = station.open_stay
        if again is not None:  # else it stopped again before anything was known
            assert (again.weighing, again.number) == (past.weighing, past.number)
            _, memory = left(station)
            seen_s = now_s + heard_s
        now_s += heard_s + 4.0
    (*_, last) = stays_on(make(now_s, replace(memory, away_s=now_s - seen_s), clock), 318.0, A)
    assert (last.weighing, last.number) == (past.weighing, past.number)
    assert abs((last.on - past.on).total_seconds()) < 1.0
    assert last.tag is not None


@pytest.mark.parametrize(
    ("at_s", "kg_after", "away_s", "same"),
    [
        (3.0, 318.0, BRIEF_S - 1.5, True),  # a second of one animal: it cannot have gone and another come
        (3.0, 320.0, BRIEF_S - 1.5, True),
        (3.0, 334.0, BRIEF_S - 1.0, False),  # a poor weight too speaks against what is one in twenty apart
        (3.0, 334.0, BRIEF_S - 0.5, False),
        (3.0, 360.0, BRIEF_S - 1.0, False),
        (10.0, 334.0, 1.0, False),
        (10.0, 318.0, STOP_S - 0.5, True),
        (10.0, 318.0, STOP_S + 0.5, False),
    ],
)
def test_a_clock_that_ran_on_tells_how_long_the_box_was_away(
    at_s: float,
    kg_after: float,
    away_s: float,
    same: bool,  # noqa: FBT001
) -> None:
    past, memory = stopped(None, Clock.UNSYNCHRONISED, at_s=at_s, away_s=away_s)
    (*_, last) = stays_on(make(-1e6, memory, Clock.UNSYNCHRONISED), kg_after, None)
    assert (last.weighing == past.weighing) is same


def stopped_again(seen_s: float, away_s: float, kg: float = 0.0) -> tuple[Weighing, Memory]:
    """Let the box stop again as soon as something was on at its start: after an animal of `kg`, or after nobody."""
    memory = stopped(None, Clock.UNSYNCHRONISED, at_s=3.0, away_s=2.0)[1] if kg else Memory(zero_kg=0.0, number=7)
    again = make(5.0, memory, Clock.UNSYNCHRONISED)
    feed(again, shows(0, seen_s, kg or 318.0))
    return left(again, away_s)


@pytest.mark.parametrize(("kg", "same"), [(0.0, False), (318.0, True)])
def test_of_one_whose_first_foot_was_not_seen_nobody_knows_how_soon_it_leaves(kg: float, same: bool) -> None:  # noqa: FBT001
    """Heard for a second, then not for nine: time for an animal that was about to leave, not for one that came.

    Each stands there for ten seconds, and the next comes in five.  That it came in sight is remembered over any number
    of stops.
    """
    past, memory = stopped_again(1.0, 9.0, kg)
    memory = replace(memory, visits=STEADY)
    assert (past.number, past.why == WHY) == ((1, True) if kg else (8, False))
    (*_, last) = stays_on(make(8.0, memory, Clock.UNSYNCHRONISED), 334.0, None)
    assert (last.weighing == past.weighing) is same


def test_one_that_was_on_at_the_start_twice_is_still_not_known_to_have_come_in_sight() -> None:
    _, memory = stopped_again(6.0, 1.0)
    again = make(12.0, memory, Clock.UNSYNCHRONISED)
    feed(again, shows(0, 1.0, 318.0))
    past, _ = left(again)
    assert (past.number, past.why) == (8, WHY_TOO)


@pytest.mark.parametrize(("away_s", "left", "same"), [(8.0, True, True), (15.0, True, False), (8.0, False, False)])
def test_what_leaves_as_soon_as_the_box_is_back_was_there_before(away_s: float, left: bool, same: bool) -> None:  # noqa: FBT001
    """In nine seconds nobody comes, stands and leaves; who still stands there may stand for longer."""
    past, memory = stopped(None, Clock.UNSYNCHRONISED, away_s=away_s)
    memory = replace(memory, visits=STEADY)
    station = make(-1e6, memory, Clock.UNSYNCHRONISED)
    seen = weighings(feed(station, shows(0, 1.1, 334.0), *([shows(1.1, 5, 0.0)] if left else [])))
    (*_, last) = seen + weighings(station.finish(5.0 if left else 1.2))
    assert (last.weighing == past.weighing) is same


def test_the_first_parts_times_are_made_again_when_the_clock_is_known_by_the_second() -> None:
    past, memory = stopped(A, Clock.UNSYNCHRONISED, away_s=30.0)
    (*_, last) = stays_on(make(1e6, memory), 318.0, A)
    assert last.clock is Clock.SYNCHRONISED
    back = STARTED + timedelta(seconds=1e6)
    assert last.on == back - timedelta(seconds=30.0) - (past.off - past.on)
    assert past.settled is not None
    assert last.settled == last.on + (past.settled - past.on)


def test_times_of_two_clocks_are_not_called_synchronised() -> None:
    past, memory = stopped(A, Clock.UNKNOWN)
    (*_, last) = stays_on(make(1e6, memory), 318.0, A)
    assert (last.weighing, last.clock) == (past.weighing, Clock.UNKNOWN)


def test_an_empty_platform_ends_the_wait_for_the_animal() -> None:
    _, memory = stopped(None, at_s=3.0, away_s=1.0)
    station = make(4.0, memory)
    waits = station.memory
    feed(station, shows(0, 0.3, 0.0))
    over = station.memory
    assert (waits.interrupted, waits.away_s) == (memory.interrupted, 1.0)
    assert (over.interrupted, over.away_s) == (None, None)


def test_a_stay_that_a_stop_ended_goes_on_too() -> None:
    before = make(0.0, Memory(zero_kg=0.0))
    feed(before, shows(0, 2, 0.0), shows(2, 10, 318.0), hears(A, 3, 10))
    (past,) = weighings(before.finish(10.0))
    assert Flag.INTERRUPTED in past.flags
    assert before.memory.away_s == pytest.approx(-10.0)
    memory = replace(before.memory, away_s=5.0)
    (*_, last) = stays_on(make(15.0, memory), 318.0, A)
    assert (last.weighing, last.revision, last.flags.count(Flag.REPEAT)) == (past.weighing, 2, 0)


def test_one_cut_off_before_it_settled_has_a_poor_weight_and_says_what_it_lacks() -> None:
    past, _ = stopped(None, at_s=3.0)
    assert (past.settled, past.weight.grade) == (None, "poor")
    assert past.weight.kg == pytest.approx(318.0, abs=1.0)
    assert Flag.NO_TAG in past.flags


def test_an_animal_that_comes_to_an_empty_platform_is_another() -> None:
    past, memory = stopped(A)
    (first, *_) = weighings(
        feed(make(40.0, memory), shows(0, 3, 0.0), shows(3, 9, 318.0), shows(9, 14, 0.0), hears(A, 4, 8))
    )
    assert first.weighing != past.weighing
    assert Flag.REPEAT in first.flags


def test_a_persons_word_on_the_first_part_stands() -> None:
    past, memory = stopped(A)
    station = make(40.0, memory)
    feed(station, shows(0, 3, 318.0), hears(A, 0.5, 3))
    station.amend(3.0, past, Identify(B, about=About(weighing=past.weighing)))
    (*_, last) = weighings(feed(station, shows(3.1, 6, 318.0), shows(6, 12, 0.0)))
    assert last.weighing == past.weighing
    assert last.tag is not None
    assert last.tag.id == str(B)
    assert Flag.BY_PERSON in last.flags


def test_notes_on_one_animal_are_bounded_at_hand_and_afterwards() -> None:
    station = make(0.0, Memory(zero_kg=0.0))
    feed(station, shows(0, 2, 0.0), shows(2, 8, 318.0), shows(8, 12, 0.0))
    done = [station.ask(12.0, Note(f"note {n}"))[0].done for n in range(NOTES_MAX + 2)]
    assert done == [True] * NOTES_MAX + [False] * 2
    (past,) = weighings(station.ask(12.0, Void("mistaken"))[1])
    assert len(past.notes) == NOTES_MAX
    reply, events = station.amend(13.0, past, Note("one more", About(weighing=past.weighing)))
    assert (reply.done, events) == (False, [])
    assert f"{NOTES_MAX} notes already" in reply.text


def test_what_was_said_in_the_run_before_is_taken_back_of_the_stay_that_goes_on_and_of_no_other() -> None:
    past, memory = stopped(A)
    said = past.model_copy(update={"notes": ("lame",)})
    station = make(40.0, replace(memory, interrupted=said.model_dump(mode="json")))
    awaited = station.awaits
    assert stays_on(station, 318.0, A)[-1].notes == ("lame",)
    assert (awaited, station.awaits) == (True, False)
    feed(station, shows(20, 22, 0.0), shows(22, 30, 402.0), shows(30, 33, 0.0), hears(B, 23, 29))
    other = next(one for one in station._publisher.records.values() if one.weighing != past.weighing)
    station.resumed_back(other.weighing, lambda _: past)
    assert other.resumes is None, "it went on from nothing"
    (same,) = weighings(station.again(39.0, {past.weighing}, "looked at"))
    assert same.notes == ("lame",)
    station.resumed_back(past.weighing, lambda one: one.model_copy(update={"notes": ()}))
    (back,) = weighings(station.again(40.0, {past.weighing}, "taken back"))
    assert back.notes == ()


def test_nothing_is_awaited_where_nothing_was_left_or_once_the_platform_is_seen_empty() -> None:
    assert not make(0.0, Memory()).awaits
    _, memory = stopped(A)
    station = make(40.0, memory)
    feed(station, shows(0, 3, 0.0))
    assert not station.awaits
