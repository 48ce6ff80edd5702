"""A station told by readings and reads: which events come out."""

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

import pytest
from cloudevents.core.v1.event import CloudEvent

from neckyoke.bridge.events import Attention, Clock, Event, Flag, Settled, Stamp, TagSeen, Weighing, read_event
from neckyoke.bridge.station.instructions import About, Instruction, NewJob, Note
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.tagcode import TagCode

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
A, B, C = (TagCode(982, 112200 + n) for n in range(3))


def stamp(t: float) -> Stamp:
    return Stamp(STARTED + timedelta(seconds=t), Clock.SYNCHRONISED)


def make(memory: Memory | None = None, *, require_tag: bool = False, readers: Sequence[str] = ("panel",)) -> Station:
    settings = Settings(
        "larkmoor",
        "crush",
        "indicator",
        dict.fromkeys(readers, "platform"),
        require_tag=require_tag,
        run="2026-11-24T02:11:00.000Z",
    )
    return Station(settings, stamp, memory or Memory())


def stands(on: float, off: float, kg: float = 318.0) -> Iterator[tuple[float, str, WeightReading]]:
    """Yield ten readings a second: an animal stands quietly from `on` to `off`, and two empty seconds around it."""
    for n in range(int((off - on + 4) * 10)):
        t = on - 2 + n / 10
        yield t, "indicator", WeightReading(kg=kg + 0.5 * (n % 3 - 1) if on <= t < off else 0.0)


def reads(tag: TagCode, start: float, end: float) -> Iterator[tuple[float, str, TagRead]]:
    for n in range(int((end - start) * 2) + 1):
        yield start + n / 2, "panel", TagRead(tag)


def feed(station: Station, *streams: Iterator[tuple[float, str, WeightReading | TagRead]]) -> list[Event]:
    items = sorted((item for stream in streams for item in stream), key=lambda item: item[0])
    return [event for t, link, item in items for event in station.feed(t, link, item)]


def ask(station: Station, t: float, what: Instruction) -> tuple[bool, str, list[Weighing]]:
    reply, events = station.ask(t, what)
    return reply.done, reply.text, weighings(events)


def weighings(events: Sequence[Event]) -> list[Weighing]:
    return [event.data for event in events if isinstance(event.data, Weighing)]


def settleds(events: Sequence[Event]) -> list[Settled]:
    return [event.data for event in events if isinstance(event.data, Settled)]


def test_one_animal_gives_a_tag_a_settled_and_a_weighing_without_flags() -> None:
    events = feed(make(), stands(5, 15), reads(A, 5.5, 14.5))
    assert [event.type for event in events] == ["neckyoke.tag", "neckyoke.settled", "neckyoke.weighing"]
    seen, settled, weighing = (event.data for event in events)
    assert isinstance(seen, TagSeen)
    assert isinstance(settled, Settled)
    assert isinstance(weighing, Weighing)
    assert settled.tag is not None
    assert settled.tag.id == str(A) == "982000000112200"
    assert settled.weighing == weighing.weighing
    assert settled.may_leave
    assert weighing.flags == ()
    assert weighing.revision == 1
    assert weighing.tag is not None
    assert weighing.tag.reads == 19
    assert weighing.tag.link == "panel"
    assert weighing.weight.kg == pytest.approx(318.0, abs=0.5)
    assert not weighing.final
    assert weighing.final_at is not None


def test_every_event_is_a_cloudevent_and_reads_back_as_it_was() -> None:
    """Read with the cloudevents package (CNCF CloudEvents SDK), which refuses what the specification refuses."""
    for event in feed(make(), stands(5, 15), reads(A, 5.5, 14.5), stands(20, 30)):
        assert read_event(event.to_json()) == event
        attributes = event.model_dump(mode="python", exclude={"data", "sequence"}, exclude_none=True)
        again = CloudEvent({**attributes, "time": event.time}, event.data.model_dump(mode="json"))
        assert again.get_id() == event.id
        assert again.get_subject() == event.subject


def test_ids_are_the_same_after_a_replay_and_differ_between_events() -> None:
    days = [feed(make(), stands(5, 15), reads(A, 5.5, 14.5), stands(20, 30), reads(B, 20.5, 29)) for _ in range(2)]
    ids = [event.id for event in days[0]]
    assert len(set(ids)) == len(ids)
    assert [event.to_json() for event in days[0]] == [event.to_json() for event in days[1]]


def test_a_stay_without_a_tag_is_weighed_and_the_person_is_told_what_is_missing() -> None:
    station = make(require_tag=True)
    events = feed(station, stands(5, 15))
    (settled,) = settleds(events)
    assert not settled.may_leave
    assert settled.missing == ("tag",)
    (weighing,) = weighings(events)
    assert weighing.tag is None
    assert weighing.flags == (Flag.NO_TAG,)


def test_a_tag_that_comes_after_settling_lets_the_animal_go() -> None:
    station = make(require_tag=True)
    before, after = settleds(feed(station, stands(5, 20), reads(A, 14, 19)))
    assert (before.may_leave, after.may_leave) == (False, True)
    assert before.weighing == after.weighing
    assert after.tag is not None


def test_without_readers_every_stay_is_still_one_weighing() -> None:
    (weighing,) = weighings(feed(make(readers=()), stands(5, 15)))
    assert weighing.tag is None
    assert weighing.final


def test_a_tag_is_announced_again_only_when_it_was_unheard_for_a_minute() -> None:
    station = make()
    events = feed(station, reads(A, 0, 5), reads(A, 40, 41), reads(A, 102, 103))
    assert [event.time for event in events if isinstance(event.data, TagSeen)] == [
        STARTED,
        STARTED + timedelta(seconds=102),
    ]


def test_the_same_tag_under_the_same_sheet_is_a_repeat_and_under_the_next_is_not() -> None:
    station = make()
    first = weighings(feed(station, stands(5, 15), reads(A, 5.5, 14.5)))
    again = weighings(feed(station, stands(205, 215), reads(A, 205.5, 214.5)))
    assert first[0].flags == ()
    assert again[-1].flags == (Flag.REPEAT,)
    assert station.ask(300, NewJob("2"))[0].done
    fresh = weighings(feed(station, stands(405, 415), reads(A, 405.5, 414.5)))
    assert fresh[-1].flags == ()


def test_under_which_sheet_a_tag_was_a_repeat_stays_so_when_the_sheet_has_changed() -> None:
    station = make()
    for on in (5, 205):
        feed(station, stands(on, on + 10), reads(A, on + 0.5, on + 9.5))
    station.ask(300, NewJob("2"))
    feed(station, stands(405, 415), reads(A, 405.5, 414.5))
    flags = {number: ask(station, 500.0, Note("lame", About(number=number)))[2][0].flags for number in (1, 2, 3)}
    assert flags == {1: (), 2: (Flag.REPEAT,), 3: ()}


def test_tags_weighed_before_a_restart_are_remembered() -> None:
    before = make()
    feed(before, stands(5, 15), reads(A, 5.5, 14.5))
    after = make(before.memory)
    (weighing,) = weighings(feed(after, stands(5, 15), reads(A, 5.5, 14.5)))
    assert weighing.number == 2
    assert Flag.REPEAT in weighing.flags


@pytest.mark.parametrize(
    ("tag", "flag"),
    [
        (TagCode(982, 5, animal=False), Flag.NOT_ANIMAL),
        (TagCode(0, 5), Flag.ODD_CODE),
        (TagCode(1001, 5), Flag.ODD_CODE),
    ],
)
def test_a_code_that_is_no_animals_is_flagged_never_silently_taken(tag: TagCode, flag: Flag) -> None:
    (weighing,) = weighings(feed(make(), stands(5, 15), reads(tag, 5.5, 14.5)))
    assert flag in weighing.flags


def test_a_test_code_is_a_remark_on_the_tag_and_no_flag() -> None:
    (weighing,) = weighings(feed(make(), stands(5, 15), reads(TagCode(999, 112233), 5.5, 14.5)))
    assert weighing.flags == ()
    assert weighing.tag is not None
    assert weighing.tag.remarks == ("test-code",)


def test_an_amendment_says_why_and_raises_the_revision() -> None:
    station = make()
    stays = [
        feed(station, stands(20 * n, 20 * n + 10), reads(TagCode(982, n), 20 * n + 0.5, 20 * n + 9.5))
        for n in range(1, 9)
    ]
    assert all(len(weighings(events)) == 1 for events in stays)
    early = weighings(feed(station, stands(180, 190), reads(B, 186, 189)))
    assert [one.tag.id if one.tag else None for one in early] == [str(B)]
    later = weighings(feed(station, stands(200, 210), reads(B, 200.5, 209.5)))
    amended = next(one for one in later if one.number == early[0].number)
    assert amended.weighing == early[0].weighing
    assert amended.revision == 2
    assert amended.tag is None
    assert amended.flags == (Flag.NO_TAG, Flag.TAG_ELSEWHERE, Flag.MAYBE_SAME), "it weighs what the one before weighs"
    assert amended.why == f"{B} belongs to number {amended.number + 1}"


def test_an_open_stay_that_settled_can_be_finished_after_a_crash() -> None:
    station = make()
    assert make().open_stay is None
    feed(station, (item for item in stands(5, 15) if item[0] < 11), reads(A, 5.5, 10.5))
    weighing = station.open_stay
    assert weighing is not None
    assert Flag.INTERRUPTED in weighing.flags
    assert weighing.final
    assert weighing.tag is not None
    assert weighing.weight.kg == pytest.approx(318.0, abs=1.0)


def test_trouble_is_told_once_and_its_end_says_how_long_it_was() -> None:
    station = make()
    items = [(n / 10, "indicator", WeightReading(kg=0.0 if n < 50 or n > 600 else 12.0)) for n in range(1200)]
    told = [event.data for t, link, item in items for event in station.feed(t, link, item)]
    troubles = [one for one in told if isinstance(one, Attention)]
    assert [trouble.over for trouble in troubles] == [False, True]
    assert troubles[1].lasted_s is not None
    assert troubles[1].lasted_s > 0
