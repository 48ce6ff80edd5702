"""Laws of the station, over arbitrary interleavings of stays, reads, losses, requests and ticks."""

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing
from neckyoke.bridge.station.instructions import About, Identify, NewJob, Note, Void
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.tagcode import TagCode

TAGS = [TagCode(999, 100 + n) for n in range(4)]
STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)

seconds = st.floats(0.0, 1.0).map(lambda share: round(share, 3))

Item = tuple[float, int, object]


@st.composite
def streams(draw: st.DrawFn) -> list[Item]:
    """Draw what a station is fed: weights four a second, reads, link states and requests."""
    levels: list[float] = [0.0] * 8
    heard: list[tuple[float, TagCode]] = []
    for _ in range(draw(st.integers(1, 4))):
        on = len(levels)
        levels += [draw(st.sampled_from([120.0, 318.0, 640.0]))] * draw(st.sampled_from([2, 10, 30]))
        if (tag := draw(st.sampled_from([None, *TAGS[:2]]))) is not None:
            heard += [((on + n) / 4 + 0.1, tag) for n in range(len(levels) - on)]
        levels += [0.0] * draw(st.sampled_from([1, 8, 20, 280]))
    items: list[Item] = [(t, 1, TagRead(tag)) for t, tag in heard]
    items += [(n / 4, 0, WeightReading(kg=kg + 0.5 * (n % 2))) for n, kg in enumerate(levels)]
    end = len(levels) / 4
    items += [
        (at * end, 1, TagRead(tag))
        for at, tag in draw(st.lists(st.tuples(seconds, st.sampled_from(TAGS)), max_size=25))
    ]
    items += [(at * end, 2, up) for at, up in draw(st.lists(st.tuples(seconds, st.booleans()), max_size=3))]
    asks = st.sampled_from(
        [
            Note("lame"),
            Identify(TAGS[0]),
            Identify(),
            Identify(TAGS[1], about=About(number=1)),
            Void("twice"),
            NewJob("2"),
        ]
    )
    items += [(at * end, 3, ask) for at, ask in draw(st.lists(st.tuples(seconds, asks), max_size=4))]
    return sorted(items, key=lambda item: item[:2])


def stamp(t: float) -> Stamp:
    return Stamp(STARTED + timedelta(seconds=t), Clock.SYNCHRONISED)


def play(items: Sequence[Item], ticks: Sequence[float] = ()) -> list[Event]:
    station = Station(Settings("larkmoor", "crush", "indicator", {"panel": "platform"}, run="r"), stamp, Memory())
    events: list[Event] = []
    at = 0
    for t, _, what in items:
        while at < len(ticks) and ticks[at] <= t:
            events += station.advance(ticks[at])
            at += 1
        match what:
            case WeightReading():
                events += station.feed(t, "indicator", what)
            case TagRead() | bool():
                events += station.feed(t, "panel", what)
            case Note() | Identify() | Void() | NewJob():
                events += station.ask(t, what)[1]
    return events + station.finish(items[-1][0] + 900.0)


def weighings(events: Sequence[Event]) -> dict[str, list[Weighing]]:
    found: dict[str, list[Weighing]] = {}
    for event in events:
        if isinstance(event.data, Weighing):
            found.setdefault(event.data.weighing, []).append(event.data)
    return found


@settings(max_examples=40, deadline=None)
@given(streams(), st.lists(st.floats(0, 60), max_size=20))
def test_it_never_matters_how_often_time_is_told(items: list[Item], ticks: list[float]) -> None:
    assert [event.to_json() for event in play(items)] == [event.to_json() for event in play(items, sorted(ticks))]


@settings(max_examples=40, deadline=None)
@given(streams())
def test_every_stay_is_one_weighing_whose_revisions_count_up_and_whose_events_are_told_apart(items: list[Item]) -> None:
    events = play(items)
    assert len({event.id for event in events}) == len(events)
    for number, revisions in enumerate(weighings(events).values(), 1):
        assert [one.revision for one in revisions] == list(range(1, len(revisions) + 1))
        assert {one.number for one in revisions} == {number}
        assert all(one.why for one in revisions[1:])
        assert revisions[0].why is None
        assert not revisions[-1].final or revisions[-1].final_at is None


@settings(max_examples=40, deadline=None)
@given(streams())
def test_a_tag_stands_on_two_weighings_of_a_sheet_only_as_a_repeat(items: list[Item]) -> None:
    items = [item for item in items if not isinstance(item[2], NewJob)]
    latest = [revisions[-1] for revisions in weighings(play(items)).values()]
    held = Counter(one.tag.id for one in latest if one.tag is not None and Flag.VOIDED not in one.flags)
    repeats = Counter(one.tag.id for one in latest if one.tag is not None and Flag.REPEAT in one.flags)
    for tag, count in held.items():
        assert repeats[tag] >= count - 1
