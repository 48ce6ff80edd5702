"""A station where its parts meet: what links and time alone bring about, who follows whom, what is kept for later."""

from collections.abc import Iterator

import pytest

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.station.instructions import About, NewJob
from neckyoke.bridge.station.settings import Place
from neckyoke.protocols.readings import WeightReading
from neckyoke.protocols.tagcode import TagCode
from tests.bridge.station.test_station_events import A, B, feed, make, reads, stands, weighings
from tests.support import events as made


def standing(on: float, now: float) -> Iterator[tuple[float, str, WeightReading]]:
    return (item for item in stands(on, on + 60) if item[0] < now)


def test_a_link_that_is_lost_ends_no_stay_by_itself() -> None:
    station = make()
    feed(station, standing(5, 12), reads(A, 5.5, 11.5))
    assert station.feed(12.0, "panel", False) == []  # noqa: FBT003
    assert station.feed(12.0, "indicator", False) == []  # noqa: FBT003
    (weighing,) = weighings(feed(station, (item for item in stands(5, 15) if item[0] >= 12)))
    assert (weighing.flags, weighing.tag.id if weighing.tag else None) == ((), str(A))


def test_an_indicator_that_falls_silent_ends_a_stay_as_time_goes_by() -> None:
    station = make()
    feed(station, standing(5, 12), reads(A, 5.5, 11.5))
    (lost,) = weighings(station.advance(120.0))
    assert Flag.INDICATOR_LOST in lost.flags
    assert station.advance(240.0) == []


@pytest.mark.parametrize(("tag", "back"), [(A, True), (B, False)])
def test_one_that_follows_at_once_and_weighs_the_same_came_back_unless_its_tag_is_another(
    tag: TagCode, *, back: bool
) -> None:
    first = (item for item in stands(5, 15) if item[0] < 16)
    second = (item for item in stands(17, 27) if item[0] >= 16)
    found = weighings(feed(make(), first, second, reads(A, 5.5, 14.5), reads(tag, 17.5, 26.5)))
    later = next(one for one in found if one.number == 2)
    assert (Flag.CAME_BACK in later.flags) is back


def test_how_a_stay_went_is_kept_for_whoever_asks_why_and_else_not() -> None:
    station = make()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5))
    assert station.explain("1") is None
    assert not station._publisher.curve
    station.keep_traces()
    shown = [*stands(25, 35)]
    station.feed(22.9, "indicator", WeightReading(kg=None))
    (weighing,) = weighings(feed(station, iter(shown), reads(B, 25.5, 34.5)))
    told = station.explain("2")
    assert told is not None
    assert told == station.explain(weighing.weighing)
    assert station.explain("1") is None, "it was before"
    traces = station._publisher.traces
    assert traces is not None
    curve = [(t, reading.kg) for t, _, reading in shown]
    assert traces[2].curve == curve[: len(traces[2].curve)]
    assert len(traces[2].curve) > 100


def test_an_animal_at_hand_is_known_by_its_number_its_weighing_and_as_the_last() -> None:
    station = make()
    assert station.known_of(About()) == (None, None)
    (first,) = weighings(feed(station, stands(5, 15), reads(A, 5.5, 14.5)))
    (second,) = weighings(feed(station, stands(25, 35)))
    for about, number in (
        (About(), 2),
        (About(number=1), 1),
        (About(weighing=first.weighing), 1),
        (About(number=3), None),
    ):
        assert station.number_of(about) == number
    assert station.known_of(About(number=1)) == (first.weighing, str(A))
    assert station.known_of(About()) == (second.weighing, None)
    assert station.known_of(About(number=3)) == (None, None)


def test_a_stay_that_only_the_journal_knows_is_counted_where_it_belongs_now_and_nowhere_else() -> None:
    station = make()
    station.ask(1.0, NewJob("2"))
    past = made.weighing(7, tag=str(A))
    station.account.count(past.weighing, (str(A),), None)
    event = station.move_past(2.0, past, Place("2", 4), "its day was another", {})
    assert isinstance(event.data, Weighing)
    assert (event.data.job, event.data.job_number, event.data.revision) == ("2", 4, 2)
    assert (dict(station.account.of(None)), dict(station.account.of("2"))) == ({}, {str(A): past.weighing})


def test_an_empty_platform_that_shows_more_after_a_stay_amends_it() -> None:
    shown = [(t, link, reading) for t, link, reading in stands(5, 15) if t < 15]
    left = [(15 + n / 10, "indicator", WeightReading(kg=4.0)) for n in range(40)]
    first, amended = weighings(feed(make(), iter(shown), iter(left), reads(A, 5.5, 14.5)))
    assert Flag.ZERO_MOVED not in first.flags
    assert (amended.number, amended.revision, amended.weight.zero_moved_kg) == (1, 2, 4.0)
    assert Flag.ZERO_MOVED in amended.flags
    assert amended.why == "the empty platform shows another weight after the stay"
