"""The same animal weighed again after another: a repeat, both weighings stand (design rule, no outside source)."""

from datetime import UTC, datetime, timedelta

import pytest

from neckyoke.bridge.events import Clock, Flag, Stamp, Weighing
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.tagcode import TagCode

BEGAN = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def _day(tags: list[int]) -> dict[int, Weighing]:
    """Weigh one animal after the other, 5 s on and 3 s off, each heard three times a second."""
    settings = Settings("larkmoor", "crush", "indicator", {"panel": "platform"}, run="run")
    station = Station(settings, lambda t: Stamp(BEGAN + timedelta(seconds=t), Clock.UNKNOWN), Memory())
    events, t = [], 0.0
    for n, tag in enumerate([0, *tags]):
        for step in range(80):
            t += 0.1
            on = tag != 0 and step < 50
            events += station.feed(t, "indicator", WeightReading(300.0 + 10 * n if on else 0.0))
            if on and step % 3 == 1 and step < 45:
                events += station.feed(t, "panel", TagRead(TagCode(999, tag)))
    events += station.finish(t + 1)
    return {event.data.number: event.data for event in events if isinstance(event.data, Weighing)}


@pytest.mark.parametrize("between", [[2], [2, 3], [2, 3, 4, 5, 6, 7]])
def test_an_animal_that_goes_round_again_has_both_its_weighings(between: list[int]) -> None:
    weighings = list(_day([1, *between, 1]).values())

    assert [one.tag and one.tag.national for one in weighings] == [f"{tag:012d}" for tag in [1, *between, 1]]
    assert [one.flags for one in weighings] == [(), *[()] * len(between), (Flag.REPEAT,)]


@pytest.mark.parametrize("mob", [[1, 2, 3], [1, 2, 3, 4, 5, 6], [*range(1, 15)]])
def test_a_mob_that_goes_round_again_at_once_keeps_its_tags(mob: list[int]) -> None:
    """Also when the stays of the first round are long closed and what was heard in them is still remembered."""
    weighings = list(_day(mob * 3).values())

    assert [one.tag and one.tag.national for one in weighings] == [f"{tag:012d}" for tag in mob * 3]
    assert [one.flags for one in weighings] == [()] * len(mob) + [(Flag.REPEAT,)] * 2 * len(mob)
