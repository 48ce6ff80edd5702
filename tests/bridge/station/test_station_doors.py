"""Whatever is asked of a station, and whenever: what fell due by then has come out first, and nothing of it is lost."""

from collections.abc import Callable
from unittest.mock import Mock

import pytest

from neckyoke.bridge.events import Event, Flag, Settled, Weighing
from neckyoke.bridge.station.instructions import NOTES_MAX, About, Found, Identify, NewJob, Note, Zero
from neckyoke.bridge.station.settings import Memory, Place, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.bridge.station.views import Left
from neckyoke.protocols.readings import TagRead, WeightReading
from tests.bridge.station.test_station_events import A, B, feed, make, reads, settleds, stamp, stands, weighings
from tests.support import events as made

DUE = 26.0
"""When the tag read from 16 s on, after the stay, is given to it: `HOLD_S` later."""
PAST = made.weighing(90).model_copy(update={"weighing": "long gone"})


def pending() -> Station:
    """Return a station whose one animal had its tag read only as it walked away; that is decided at `DUE`."""
    station = make()
    feed(station, stands(5, 15), reads(A, 16, 17))
    station.ask(18.0, Note("lame"), "r1")
    return station


def undo(station: Station, t: float) -> list[Event]:
    spoken = station.spoken("r1")
    assert spoken is not None
    return station.undo(t, spoken)[1]


def beside_back(station: Station, t: float) -> list[Event]:
    station.amended("r2", Note("x"), PAST.number)
    spoken = station.spoken("r2")
    assert spoken is not None
    return station.beside_back(t, spoken)


def one_too_many(station: Station, t: float) -> list[Event]:
    station._publisher.records[1].notes += ["x"] * (NOTES_MAX - 1)
    return station.ask(t, Note("x"))[1]


DOORS: dict[str, Callable[[Station, float], list[Event]]] = {
    "time": lambda station, t: station.advance(t),
    "a reading": lambda station, t: station.feed(t, "indicator", WeightReading(kg=0.0)),
    "a read": lambda station, t: station.feed(t, "panel", TagRead(B)),
    "a link": lambda station, t: station.feed(t, "panel", False),  # noqa: FBT003
    "the end": lambda station, t: station.finish(t),
    "a zero": lambda station, t: station.ask(t, Zero())[1],
    "a job": lambda station, t: station.ask(t, NewJob("2"))[1],
    "a note": lambda station, t: station.ask(t, Note("x"))[1],
    "one on nobody": lambda station, t: station.ask(t, Note("x", About(number=9)))[1],
    "one too many": one_too_many,
    "taken back": undo,
    "taken back beside one long gone": beside_back,
    "one long gone put back": lambda station, t: station.put_back(t, PAST, PAST),
    "one long gone amended": lambda station, t: station.amend(t, PAST, Note("x"))[1],
    "known anew": lambda station, t: station.again(t, {station._publisher.records[1].weighing}, "why"),
    "moved": lambda station, t: station.move(t, {1: Place("2")}, "why"),
    "stamped anew": lambda station, t: station.restamp(t),
}


@pytest.mark.parametrize("late_s", [0.0, 0.5])
@pytest.mark.parametrize("door", DOORS.values(), ids=DOORS)
def test_what_fell_due_comes_out_first_at_every_door(
    door: Callable[[Station, float], list[Event]], late_s: float
) -> None:
    early = pending()
    assert weighings(early.advance(DUE - 0.01)) == []
    (due,) = weighings(early.advance(DUE))
    assert due.tag is not None
    assert (due.revision, due.tag.id) == (3, str(A))
    said = door(pending(), DUE + late_s)
    first = said[0].data
    assert isinstance(first, Weighing)
    assert first.model_copy(update={"notes": due.notes, "why": due.why}) == due


class TestOneThatStandsThere:
    @pytest.mark.parametrize("said", [Identify(tag=B), Identify(visual="47"), Found("lame", value=True)])
    def test_it_is_said_to_settle_once_it_has_and_anew_with_what_people_say(self, said: Identify | Found) -> None:
        station = make(require_tag=True)
        items = [*stands(5, 15)]
        feed(station, iter(items[:30]))
        assert station.view.number == 1
        assert station.ask(5.95, said, "r1")[1] == [], "it has not settled"
        spoken = station.spoken("r1")
        assert spoken is not None
        assert station.undo(5.98, spoken)[1] == [], "nor now"
        (settled,) = settleds(feed(station, iter(items[30:100])))
        (again,) = settleds(station.ask(10.0, said, "r2")[1])
        assert again.settled == settled.settled
        assert again != settled
        spoken = station.spoken("r2")
        assert spoken is not None
        assert settleds(station.undo(10.5, spoken)[1]) == [settled]

    def test_a_tag_said_of_it_is_taken_back_for_the_one_that_was_heard(self) -> None:
        station = make()
        items = [*stands(5, 15)]
        feed(station, iter(items[:100]), reads(A, 5.5, 9.5))
        station.ask(10.0, Identify(tag=B), "r1")
        assert station.view.tag is not None
        assert station.view.tag.id == str(B)
        spoken = station.spoken("r1")
        assert spoken is not None
        (settled,) = settleds(station.undo(10.5, spoken)[1])
        assert settled.tag is not None
        assert settled.tag.id == str(A)
        assert station.view.tag == settled.tag
        (weighing,) = weighings(feed(station, iter(items[100:])))
        assert weighing.tag is not None
        assert (weighing.tag.id, weighing.flags) == (str(A), ())

    def test_the_view_counts_the_tags_heard(self) -> None:
        station = make()
        assert station.view.tags_seen == 0
        feed(station, (item for item in stands(5, 15) if item[0] < 9), reads(A, 5.5, 8.5), reads(B, 6, 8))
        assert station.view.tags_seen == 2

    def test_a_sure_tag_heard_on_is_not_looked_at_again_and_a_doubtful_one_is(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def looks(doubt_percent: float) -> int:
            settings = Settings("larkmoor", "crush", "indicator", {"panel": "platform"}, doubt_percent=doubt_percent)
            station = Station(settings, stamp, Memory())
            feed(station, (item for item in stands(5, 30) if item[0] < 12), reads(A, 5.5, 11.5))
            believe = Mock(wraps=station._pairing.believe)
            monkeypatch.setattr(station._pairing, "believe", believe)
            assert settleds(feed(station, reads(A, 12, 16))) == [], "it is the same tag"
            assert station.view.tag is not None
            assert station.view.tag.reads == (22 if believe.call_count else 6)
            return believe.call_count

        assert looks(0.5) == 0
        assert looks(0.0) == 3, "any doubt is too much: it is flagged, and looked at every two seconds"


def test_two_that_share_a_tag_are_told_apart_again_when_a_word_on_the_first_is_taken_back() -> None:
    station = make()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5))
    feed(station, stands(205, 215), reads(A, 205.5, 214.5))

    def now(found: list[Event]) -> dict[int, tuple[str | None, tuple[Flag, ...]]]:
        return {one.number: (one.tag.id if one.tag else None, one.flags) for one in weighings(found)}

    said = station.ask(300.0, Identify(tag=B, about=About(number=1)), "r1")[1]
    assert now(said) == {1: (str(B), (Flag.BY_PERSON,)), 2: (str(A), ())}
    spoken = station.spoken("r1")
    assert spoken is not None
    assert now(station.undo(310.0, spoken)[1]) == {1: (str(A), ()), 2: (str(A), (Flag.REPEAT,))}
    assert dict(station.account.weighed) == {str(A): station._publisher.records[1].weighing}


def test_a_stay_that_belongs_elsewhere_is_told_so_as_far_as_it_was_told() -> None:
    station = make()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5))
    items = [*stands(25, 35)]
    feed(station, iter(items[:30]))
    places = {number: Place("2", number + 10) for number in (1, 2, 99)}
    (moved,) = station.move(25.95, places, "its day was another")
    assert isinstance(moved.data, Weighing)
    assert (moved.data.number, moved.data.revision, moved.data.why) == (1, 2, "its day was another")
    assert (moved.data.job, moved.data.job_number) == ("2", 11)
    feed(station, iter(items[30:100]))
    again, standing = station.move(32.0, {number: Place("3") for number in (1, 2)}, "so was that")
    assert isinstance(again.data, Weighing)
    assert isinstance(standing.data, Settled)
    assert (again.data.number, again.data.job, standing.data.number, standing.data.job) == (1, "3", 2, "3")


def test_the_last_animal_has_left_from_when_it_stepped_off_until_the_next_one_stands_there() -> None:
    station = make()
    assert station.left(1.0) is None
    items = [*stands(5, 15)]
    feed(station, iter(items[:100]), reads(A, 5.5, 9.5))
    assert station.left(13.0) is None
    feed(station, iter(items[100:]))
    assert station.left(20.0) == Left(1, 5.0, str(A))
    feed(station, (item for item in stands(25, 35) if item[0] < 28))
    assert station.left(28.0) is None
    feed(station, (item for item in stands(25, 35) if item[0] >= 28))
    assert station.left(36.0) == Left(2, 1.0, None)
