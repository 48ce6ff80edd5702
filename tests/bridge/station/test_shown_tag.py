"""With which tag an animal is shown that stands there, and who loses it then: a dose is given by what is shown."""

from collections.abc import Sequence

import pytest

from neckyoke.bridge.events import Event, Flag, Settled, Weighing
from neckyoke.bridge.station.instructions import About, Identify
from tests.bridge.station.test_station_events import A, B, ask, feed, make, reads, settleds, stands, weighings


def said(events: Sequence[Event]) -> list[tuple[str, int, int, str | None]]:
    """Spell each as its kind, number and revision (0: it stands there), and tag."""
    told = [event.data for event in events if isinstance(event.data, Settled | Weighing)]
    return [
        (type(one).__name__, one.number, getattr(one, "revision", 0), one.tag.id[-3:] if one.tag else None)
        for one in told
    ]


def heard_before(kg: float, first_kg: float = 318.0) -> list[Event]:
    """Let a second animal come whose tag was heard once at the first, which has a dead one; give what comes then."""
    station = make()
    feed(station, stands(5, 15, first_kg), reads(B, 13, 13.4))
    return feed(station, stands(20, 30, kg), reads(B, 20.5, 29.5))


def test_who_loses_the_tag_is_amended_before_the_next_is_shown_with_it() -> None:
    events = heard_before(350.0)
    assert said(events) == [("Weighing", 1, 2, None), ("Settled", 2, 0, "201"), ("Weighing", 2, 1, "201")]
    assert Flag.REPEAT not in settleds(events)[0].flags
    assert weighings(events)[0].why == f"{B} belongs to number 2"


@pytest.mark.parametrize(("kg", "shown"), [(318.0, True), (320.5, True), (322.5, False), (313.5, False)])
def test_one_that_weighs_the_same_may_have_come_back_and_takes_no_tag_before_it_leaves(
    kg: float, *, shown: bool
) -> None:
    """Else what it was given the first time would be given again."""
    events = heard_before(kg)
    assert said(events)[0] == (("Settled", 2, 0, "201") if shown else ("Weighing", 1, 2, None))
    assert (Flag.REPEAT in settleds(events)[0].flags) is shown
    assert ("Weighing", 1, 2, None) in said(events), "at the latest as it leaves"


def test_a_tag_that_is_read_after_it_settled_is_taken_then() -> None:
    station = make()
    feed(station, stands(5, 15), reads(B, 13, 13.4))
    events = feed(station, stands(20, 34, 350.0), reads(B, 27, 33))
    assert said(events)[:2] == [("Settled", 2, 0, None), ("Weighing", 1, 2, None)]
    assert said(events)[2] == ("Settled", 2, 0, "201")


def test_a_tag_that_a_person_gave_is_not_taken() -> None:
    station = make()
    feed(station, stands(5, 15), reads(B, 13, 13.4))
    ask(station, 17.5, Identify(tag=B, about=About(number=1)))
    events = feed(station, stands(20, 30, 350.0), reads(B, 20.5, 29.5))
    assert said(events) == [("Settled", 2, 0, None), ("Weighing", 2, 1, None)]


def test_an_animal_that_stood_there_before_with_the_same_tag_keeps_its_own() -> None:
    """It went round: what was heard then was another way of it through the yard."""
    station = make()
    feed(station, stands(5, 15), reads(A, 5.5, 14.5))
    feed(station, stands(20, 30, 350.0), reads(B, 20.5, 29.5))
    events = feed(station, stands(35, 45), reads(A, 35.5, 44.5))
    assert said(events) == [("Settled", 3, 0, "200"), ("Weighing", 3, 1, "200")]
    assert Flag.REPEAT in settleds(events)[0].flags
