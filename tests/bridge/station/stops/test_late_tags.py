"""A tag that is heard late: two weighings of one animal become one, and one of two animals becomes two.

However late it comes, the outcome is as though it had been known at once.  What counts as the same animal is a rule of
our own (bridge/station/stops), no outside source.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing
from neckyoke.bridge.station.instructions import About, Identify, Note, Void
from neckyoke.bridge.station.publisher import CANNOT_TELL, NOT_THE_SAME
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.bridge.station.stops.visits import WHY, Visit, Visits
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.readings import TagRead
from neckyoke.protocols.tagcode import TagCode
from tests.bridge.station.stops.test_stops import STARTED, A, B, feed, hears, left, shows, weighings

STICK = {"panel": "platform", "stick": "hand"}


def make(begins_s: float, memory: Memory, clock: Clock) -> Station:
    started = STARTED + timedelta(seconds=begins_s)
    settings = Settings("larkmoor", "crush", "indicator", STICK, run=started.isoformat())  # type: ignore[arg-type]
    return Station(settings, lambda t: Stamp(started + timedelta(seconds=t), clock), memory)


def stopped(clock: Clock, tag: TagCode | None = A, away_s: float | None = None) -> tuple[Weighing, Memory]:
    """Let the box stop in a stay that began at 2 s, eight seconds later."""
    before = make(0.0, Memory(zero_kg=0.0), clock)
    feed(before, shows(0, 2, 0.0), shows(2, 10, 318.0), hears(tag, 3, 10))
    return left(before, away_s)


def stopped_in(tag: TagCode | None, away_s: float) -> tuple[Weighing, Memory]:
    """Let it stop likewise in a slow yard that it knows."""
    past, memory = stopped(Clock.SYNCHRONISED, tag, away_s)
    return past, replace(memory, visits=((30.0, 60.0, 318.0),) * 12)


def second_part(station: Station, kg: float = 318.0) -> list[Weighing]:
    return weighings(feed(station, shows(0, 6, kg), shows(6, 9, 0.0)))


def stick(station: Station, t: float, code: TagCode) -> list[Event]:
    """Read a tag by hand, of the animal that has just left; it is weighed when its neighbours have been heard too."""
    return station.feed(t, "stick", TagRead(code)) + station.advance(t + 20.0)


def standing(seen: list[Weighing]) -> dict[str, Weighing]:
    return {one.weighing: one for one in seen}


def revisions(seen: list[Weighing]) -> dict[str, list[int]]:
    return {name: [one.revision for one in seen if one.weighing == name] for name in standing(seen)}


def apart() -> tuple[Weighing, Station, list[Weighing]]:
    """Let two parts of one animal's stay be weighed as two: nobody knows how long the box was away."""
    past, memory = stopped(Clock.UNKNOWN)
    station = make(1e6, memory, Clock.UNKNOWN)
    seen = second_part(station)
    assert [Flag.MAYBE_SAME in one.flags for one in seen] == [True]
    return past, station, seen


def test_the_tag_of_the_first_part_heard_late_makes_one_weighing_of_two() -> None:
    past, station, (second,) = apart()
    struck, one = weighings(stick(station, 9.0, A))
    assert (struck.weighing, struck.revision, struck.why) == (
        second.weighing, 2, f"it is the animal of number {past.number}, and is told there: {WHY}",
    )  # fmt: skip
    assert Flag.VOIDED in struck.flags
    assert not {Flag.VOIDED, Flag.MAYBE_SAME, Flag.REPEAT} & {*one.flags}
    assert (one.weighing, one.number, one.revision, one.on, one.why) == (past.weighing, past.number, 2, past.on, WHY)
    assert one.tag is not None
    assert one.tag.id == str(A)
    assert station.account.parts == {second.number}
    assert station.account.weighed == {str(A): past.weighing}, "and it is no repeat, nor counted twice"


def test_another_tag_heard_late_leaves_two() -> None:
    past, station, (second,) = apart()
    (one,) = weighings(stick(station, 9.0, B))
    assert (one.weighing, one.revision) == (second.weighing, 2)
    assert past.weighing != one.weighing
    assert station.account.parts == set()


def joined() -> tuple[Weighing, Station, list[Weighing]]:
    """Let two parts of a stay be weighed as one, by weight and time: the second has no tag yet."""
    past, memory = stopped_in(A, 12.0)
    station = make(22.0, memory, Clock.SYNCHRONISED)
    seen = second_part(station, 325.0)
    assert [one.weighing for one in seen] == [past.weighing]
    assert station.account.parts == {past.number + 1}
    return past, station, seen


def test_another_tag_heard_late_makes_two_weighings_of_one_and_each_is_whole() -> None:
    past, station, seen = joined()
    back, own = weighings(stick(station, 9.0, B))
    assert (back.weighing, back.revision) == (past.weighing, seen[-1].revision + 1)
    assert back.why == (CANNOT_TELL if Flag.MAYBE_SAME in own.flags else NOT_THE_SAME)
    assert (back.weight, back.tag, back.on, back.off) == (past.weight, past.tag, past.on, past.off)
    assert (own.number, own.revision, own.on - past.off) == (past.number + 1, 1, timedelta(seconds=12.1))
    assert own.weighing not in {past.weighing, ""}
    assert own.tag is not None
    assert own.tag.id == str(B)
    assert station.account.parts == set()
    assert station.account.weighed == {str(A): past.weighing, str(B): own.weighing}


def test_the_same_tag_heard_late_keeps_them_one() -> None:
    past, station, _ = joined()
    said = weighings(stick(station, 9.0, A))
    assert {one.weighing for one in said} <= {past.weighing}


def test_what_a_person_said_of_either_is_kept_when_two_become_one_and_every_revision_is_new() -> None:
    past, station, seen = apart()
    _, events = station.amend(9.0, past, Note("lame", About(weighing=past.weighing)))
    seen += weighings(events)
    seen += weighings(station.ask(9.1, Note("near hind", About(number=past.number + 1)))[1])
    seen += weighings(stick(station, 9.2, A))
    one = standing(seen)[past.weighing]
    assert one.notes == ("lame", "near hind")
    struck = next(name for name in standing(seen) if name != past.weighing)
    reply, events = station.ask(40.0, Note("left late", About(weighing=struck)))
    seen += weighings(events)
    assert (reply.done, reply.weighing) == (True, past.weighing), "the one that was struck out is told there"
    assert standing(seen)[past.weighing].notes == ("lame", "near hind", "left late")
    assert revisions(seen) == {past.weighing: [2, 3, 4], struck: [1, 2, 3]}


def test_a_tag_that_turns_out_to_be_the_next_animals_makes_two_again_and_every_revision_is_new() -> None:
    past, station, seen = apart()
    seen += weighings(stick(station, 9.0, A))
    assert [one.weighing for one in seen[1:]] == [seen[0].weighing, past.weighing]
    back, own, _ = after = weighings(
        feed(station, shows(30, 33, 0.0), shows(33, 43, 402.0), shows(43, 46, 0.0), hears(A, 33.5, 43))
    )
    assert (back.weighing, back.why, back.weight) == (past.weighing, CANNOT_TELL, past.weight)
    assert own.weighing == seen[0].weighing
    assert not {Flag.VOIDED, Flag.REPEAT} & {*own.flags}
    assert Flag.MAYBE_SAME in own.flags
    assert revisions([*seen, *after[:2]]) == {past.weighing: [2, 3], own.weighing: [1, 2, 3]}
    assert station.account.parts == set()
    assert station.account.weighed == {str(A): past.weighing, own.weighing: own.weighing}


def test_what_others_published_of_the_first_part_meanwhile_has_had_its_revision() -> None:
    """As when the clock becomes known: a revision that there is already would be lost."""
    past, memory = stopped_in(A, 12.0)
    station = make(22.0, memory, Clock.SYNCHRONISED)
    seen = weighings(feed(station, shows(0, 3, 318.0)))
    station.saw(past.model_copy(update={"revision": 2, "flags": (*past.flags, Flag.WITHHELD), "notes": ("lame",)}))
    station.saw(past)  # in no order
    seen += weighings(feed(station, shows(3, 6, 318.0), shows(6, 9, 0.0)))
    assert [(one.weighing, one.revision, one.notes) for one in seen] == [(past.weighing, 3, ("lame",))]
    assert Flag.WITHHELD not in seen[0].flags, "the job says anew what it knows"
    station.saw(seen[0])
    station.saw(seen[0].model_copy(update={"revision": 7}))
    (noted,) = weighings(station.ask(10.0, Note("near hind"))[1])
    assert (noted.weighing, noted.revision) == (past.weighing, 8)


def test_and_of_one_that_is_joined_late() -> None:
    past, station, seen = apart()
    station.saw(past.model_copy(update={"revision": 4}))
    station.saw(seen[0].model_copy(update={"revision": 9}))  # which is no part of it
    struck, one = weighings(stick(station, 9.0, A))
    assert (struck.weighing, one.weighing, one.revision) == (seen[0].weighing, past.weighing, 5)


def test_it_may_turn_out_so_and_so_again_also_when_only_the_doubt_of_its_tag_has_changed() -> None:
    """A tag that is not sure does not tell, where nobody knows how long the box was away; then it is, is not, is."""
    past, memory = stopped(Clock.UNKNOWN)
    station = make(1e6, memory, Clock.UNKNOWN)
    publisher, seen = station._publisher, second_part(station, 319.5)
    publisher.visits = Visits((Visit(8.0, 12.0, 319.5),) * 20)  # what was learned since is no news of this animal
    for flags, code in (((Flag.TAG_DOUBTFUL,), A), ((), A), ((Flag.NO_TAG,), None), ((), A)):
        verdict = Verdict(past.number + 1, code, flags=flags, rule="as told")
        seen += weighings(publisher.changed(20.0, [verdict]))
    second = seen[0].weighing
    assert [(one.weighing == second, Flag.VOIDED in one.flags) for one in seen] == [
        (True, False), (True, False), (True, True), (False, False), (False, False), (True, False), (True, True),
        (False, False),
    ]  # fmt: skip
    assert revisions(seen) == {past.weighing: [2, 3, 4], second: [1, 2, 3, 4, 5]}
    assert station.account.weighed == {str(A): past.weighing}
    assert station.account.parts == {past.number + 1}


@pytest.mark.parametrize("said", [Void("two at once"), Identify(A), Identify(B)])
def test_what_a_person_struck_out_or_named_stays_as_it_is(said: Void | Identify) -> None:
    _, station, (second,) = apart()
    told = weighings(station.ask(9.0, replace(said, about=About(number=second.number)))[1])
    assert {one.weighing for one in told} == {second.weighing}
    assert {one.weighing for one in weighings(stick(station, 9.1, A))} <= {second.weighing}
    assert station.account.parts == set()
