"""No animal is lost among others, and none is told of twice: where readings are few, zero is off or a display slow.

Every row was met in a yard drawn at random (`tests/bench/yards.py`), and is cut down to what matters.
"""

from collections.abc import Sequence

import pytest

from neckyoke.bridge.station.platform.dips.dip import Dip
from neckyoke.bridge.station.platform.happenings import Happening
from neckyoke.bridge.station.weight.settling import Known, Settling
from neckyoke.protocols.readings import WeightReading
from tests.bridge.station.platform.test_dip import Stood
from tests.bridge.station.platform.test_platform_table import ends, feed, platform, readings

LAMBS = {"capacity_kg": 150.0, "interval_kg": 0.2, "smallest_kg": 8.0}
STEERS = {"capacity_kg": 1500.0, "interval_kg": 0.2, "smallest_kg": 25.0}


def told(settings: dict[str, float], kgs: Sequence[float | None], hz: float = 2.0) -> list[float | None]:
    """Return what is told to weigh of what shows so much at each reading; None: that reading was lost."""
    on, got = platform(None, **settings), list[Happening]()
    for (t, reading), kg in zip(readings([(1 / hz, kg or 0.0) for kg in kgs], hz), kgs, strict=True):
        if kg is not None:
            got += on.weight(t, reading)
    return [one.weight.kg for one in ends(got)]


EMPTY = [0.0] * 6
HEAVY, OTHER, THIRD = [18.0, 40.0, 70.0, 70.0, 70.0], [18.0, 30.0, 37.0, 37.0, 37.0], [18.0, 30.0, 56.0, 56.0, 56.0]
LIKE = [18.4, 31.0, 42.0, 42.0, 42.0]


@pytest.mark.parametrize(("gate_kg", "count"), [(18.0, 7), (4.0, 7), (0.0, 7)])
def test_where_every_gap_comes_down_to_a_gate_that_was_hung_the_next_animal_comes_from_there(
    gate_kg: float, count: int
) -> None:
    """Of a mob of one weight above 18 kg that nobody had seen empty every second one was taken for the one before."""
    animals = [one for kgs in (HEAVY, OTHER, THIRD, LIKE, LIKE, LIKE, LIKE) for one in kgs]
    shown = [*EMPTY, *(round(kg - 18.0 + gate_kg, 1) for kg in animals), gate_kg]
    assert len(told(LAMBS, [*shown, *EMPTY])) == count


@pytest.mark.parametrize(
    ("kgs", "hz", "count"),
    [
        ([48.8] * 8 + [15.2] + [48.2] * 8, 2.0, 2),  # between two of half a second nobody knows how long it was off
        ([48.8] * 8 + [21.2] + [48.2] * 8, 2.0, 1),  # but more than a foot was left
        ([48.8] * 40 + [15.2] + [48.2] * 40, 10.0, 1),  # a kick
        ([48.8] * 40 + [15.2] * 4 + [48.2] * 40, 10.0, 1),
        ([48.8] * 40 + [15.2] * 5 + [48.2] * 40, 10.0, 2),
    ],
)
def test_one_low_reading_is_a_gap_where_no_other_was_due_in_a_kicks_time(
    kgs: list[float], hz: float, count: int
) -> None:
    empty = [0.0] * round(3 * hz)
    assert len(told(LAMBS, [*empty, *kgs, *empty], hz)) == count


def test_a_way_up_that_was_cut_short_is_no_swing() -> None:
    """Two sheep, each on for less than a second with all its feet, at two readings a second were one."""
    kgs = [27.5, 54.5, 70.0, 16.5, 23.0, 81.0, 75.5, 19.5]
    assert len(told({**LAMBS, "smallest_kg": 20.0, "capacity_kg": 300.0}, [*EMPTY, *kgs, *EMPTY])) == 2


def test_feet_may_be_off_again_as_it_is_found_to_be_a_stay() -> None:
    kgs = [286.5, 340.0, 60.5, None, 120.5, 238.0, 297.0, 318.0, 237.0, 24.0]
    assert told(STEERS, [*EMPTY, *kgs, *EMPTY]) == [340.0, 318.0]


def test_a_kick_that_was_half_of_what_was_seen_of_it_lately_makes_no_other_animal() -> None:
    kicked = [(7.67, 358.2), (8.2, 518.4), (8.6, 323.6), (9.23, 355.0), (9.55, 355.8)]
    shown = [(n / 2, 0.0) for n in range(6)] + [(3.0 + n / 2, 356.0) for n in range(9)] + kicked
    shown += [(10.14 + n / 2, 356.0) for n in range(8)] + [(14.2 + n / 2, 0.0) for n in range(6)]
    on = platform(None, **STEERS)
    assert len(ends(one for t, kg in shown for one in on.weight(t, WeightReading(kg)))) == 1


def test_what_is_on_its_way_up_is_nothing_that_lies_there() -> None:
    """A lamb left 5 kg of dung; what was shown of it as it came was taken for a gate's, and then there was no lamb."""
    kgs = [7.5, None, 41.5, 39.0, 6.0, *[5.0] * 16]
    assert len(told(LAMBS, [*EMPTY, *kgs])) == 1


def test_a_slow_display_is_on_its_way_from_the_first_foot_on() -> None:
    shown = [*EMPTY, 5.3, 9.7, 11.7, 9.8, 6.9, 4.5, 2.8, *EMPTY]
    got = feed(platform(None, **LAMBS), *((0.5, kg) for kg in shown), hz=2.0)
    assert [one.on for one in ends(got)] == [3.0]


def test_what_a_display_shows_in_passing_tells_no_animal_from_the_one_before() -> None:
    """It was held against the 80 kg of the one before in the second in which it passed them, on its way to 120."""
    one = Stood(80.0)
    one.sink(*[50.0] * 5)
    one.come_back(62.0, 65.0, 69.0, 73.0, 77.0, 81.0, 85.0, 88.0, 91.0, 94.0, 97.0)
    assert not one.dip.is_judged(one.t)
    one.come_back(100.0, 102.0, 104.0, 106.0, 107.0, 108.0, *[109.0] * 8)
    assert one.dip.is_judged(one.t)
    assert one.dip.was_another()


@pytest.mark.parametrize(
    ("rests", "seconds", "low_kg", "another"),
    [
        ("quick", 1.0, 260.0, False),
        ("quick", 1.2, 160.0, True),  # below 42 % hardly a foot is left
        ("quick", 2.6, 260.0, True),  # another may have come since the first foot
        ("middling", 1.0, 260.0, False),
        ("middling", 2.6, 260.0, True),
        ("slow", 2.4, 260.0, False),  # nor can one have gone behind a slow display, as soon as that
        ("slow", 2.6, 260.0, True),
        (None, 1.2, 260.0, True),  # of which nobody knows how slow it is
    ],
)
def test_soon_after_its_first_foot_what_kept_feet_on_is_the_same(
    rests: str, seconds: float, low_kg: float, *, another: bool
) -> None:
    one = Stood(400.0, seconds)
    one.settling = Settling(0.5, Known(rests=rests))  # type: ignore[arg-type]
    one.at = 0
    one.feed(*[400.0] * round(10 * seconds))
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[low_kg] * 5)
    one.come_back(*[500.0] * 12)
    assert one.dip.was_another() is another


def test_how_low_it_was_is_held_against_what_stood_then_and_not_what_came_since() -> None:
    """A calf that throws itself about was at half of what it had shown so far, and a third of what it showed later."""
    one = Stood(57.0, 1.0)
    one.sink(*[28.0] * 6)
    one.come_back(*[100.0] * 10)
    one.sink(70.0)
    assert one.settling.level == pytest.approx(100.0)
    assert not one.dip.rises(one.t + 1.0, 75.0)
