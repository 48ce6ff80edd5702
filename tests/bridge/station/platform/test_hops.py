"""One that throws itself about is off the platform for a moment, and is one animal; nobody else's coming is hidden.

The yards it was met in are drawn at random (`tests/bench/yards.py`): swings of 20 to 33 % at one half to two a second.
"""

import math

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.platform.dips.dip import Dip
from neckyoke.bridge.station.platform.happenings import Ended, Happening, ZeroMoved
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.weight.arrival import Rests
from neckyoke.bridge.station.weight.settling import Known, Settling
from tests.bridge.station.platform.test_dip import Stood
from tests.bridge.station.platform.test_platform_table import Shown, ends, feed, platform, ramp, readings


def swings(percent: float, hz: float, seconds: float, kg: float = 400.0) -> list[float]:
    share = percent / 100
    return [kg * (1 + share * math.sin(2 * math.pi * hz * n / 10)) for n in range(round(10 * seconds))]


def dip_of(bins: list[float], rests: Rests | None = "quick", hz: float = 10.0) -> Dip:
    """Return the dip that begins after these, behind a display that comes to rest so."""
    settling = Settling(0.5, Known(rests=rests))
    for n, kg in enumerate(bins):
        settling.feed(n / hz, kg)
    return Dip(len(bins) / hz, settling, 0.0)


def stood(*bins: float, rests: Rests | None = "quick") -> Stood:
    """Return what stood there so, as a dip begins."""
    one = Stood(400.0, 0.0)
    one.settling = Settling(0.5, Known(rests=rests))
    one.feed(*bins)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    return one


UP: list[Shown] = [(0.1, kg) for kg in swings(35, 1.0, 3.8)]


def later(on: Platform, t: float, *shown: Shown) -> list[Happening]:
    return [one for at, reading in readings(shown) for one in on.weight(t + at, reading)]


def known() -> Platform:
    """Return a platform whose display is known to be quick, and that is empty since; a minute has passed."""
    on = platform()
    later(on, 0.0, *[(4.0, 0.0), (6.0, 400.0)] * 5, (10.0, 0.0))
    return on


@pytest.mark.parametrize(
    ("bins", "may"),
    [
        (swings(35, 1.0, 3.0), True),
        (swings(18, 1.0, 3.0), False),  # who swings by less than a fifth keeps feet on
        (swings(35, 0.6, 3.0), True),
        (swings(50, 0.1, 20.0), False),  # it takes too long from one height to the next
        ([400.0] * 20 + [150.0] * 5 + [400.0] * 20, False),  # hardly a foot was left: that is no swing
        ([400.0] * 20 + [180.0] * 5 + [400.0] * 20, True),
        ([400.0] * 30, False),
        ([*swings(35, 1.0, 3.0), *[400.0] * 20], True),  # within four seconds
        ([*swings(35, 1.0, 3.0), *[400.0] * 45], False),  # it has calmed down
        ([400.0] * 20 + [180.0] + [400.0] * 20, False),  # a kick
    ],
)
def test_who_swung_by_more_than_a_fifth_may_hop(bins: list[float], *, may: bool) -> None:
    assert dip_of(bins).may_hop(len(bins) / 10) is may


@pytest.mark.parametrize(("t", "may"), [(0.9, True), (1.09, True), (1.1, False), (5.0, False)])
def test_and_who_has_only_just_come(t: float, *, may: bool) -> None:
    assert dip_of([400.0] * 5).may_hop(t) is may


def test_but_not_one_whose_first_foot_nobody_saw() -> None:
    settling = Settling(0.5)
    assert not Dip(0.5, settling, 0.0, in_sight=False).may_hop(0.5)


def test_nor_where_readings_are_few_and_what_swung_is_not_known() -> None:
    assert not dip_of([400.0, 600.0, 300.0, 600.0, 300.0, 400.0, 400.0], hz=2.0).may_hop(3.5)


@pytest.mark.parametrize(("rests", "may"), [("quick", True), ("middling", True), ("slow", False), (None, False)])
def test_nor_where_a_slow_display_may_have_shown_two_so(rests: Rests | None, *, may: bool) -> None:
    """Of three that followed closely two were taken for one, and made a valley that hid the third."""
    assert dip_of([70.0] * 30 + [38.0] * 4 + [66.0] * 12, rests).may_hop(4.6) is may


@pytest.mark.parametrize(
    ("kgs", "may"), [([500.0] * 3, True), ([475.0] * 3, False), ([500.0] * 3 + [400.0] * 6, False)]
)
def test_who_pressed_far_above_its_weight_just_before_may_hop(kgs: list[float], *, may: bool) -> None:
    """Nobody walks off so."""
    assert dip_of([*[400.0] * 30, *kgs], None).may_hop(4.2) is may


def test_nor_has_one_that_was_nearly_off_too_soon_to_have_crossed_left_at_its_next_hop() -> None:
    one = Stood(400.0, 0.5)
    one.sink(*[60.0] * 3)
    one.come_back(*[420.0] * 4)
    assert not one.dip.may_hop(one.t)
    one.sink(150.0)
    assert one.dip.may_hop(one.t)
    still = Stood(400.0, 0.5)
    still.sink(*[260.0] * 3)
    still.come_back(*[420.0] * 4)
    still.sink(150.0)
    assert not still.dip.may_hop(still.t), "it kept feet on"


def test_what_swings_within_a_dip_is_seen_too() -> None:
    one = stood(*[400.0] * 30)
    one.sink(*[200.0] * 5)
    one.come_back(*[420.0] * 5)
    assert not one.dip.may_hop(one.t)
    one.sink(250.0)
    assert one.dip.may_hop(one.t)


@pytest.mark.parametrize(("off_s", "stays"), [(0.1, 1), (0.2, 1), (0.3, 2), (1.0, 2)])
def test_off_for_no_longer_than_a_hop_it_is_one_stay(off_s: float, stays: int) -> None:
    on, t = known(), 60.0
    got = later(on, t, *UP, (off_s, 0.0), (0.1, 200.0), *UP, (2.0, 0.0))
    assert len(ends(got)) == stays
    assert ends(got)[0].off == pytest.approx(t + (3.8 if stays == 2 else 3.8 + off_s + 3.9))


def test_who_hopped_lower_before_is_gone_since_its_last_foot_was_off() -> None:
    got = later(known(), 60.0, (0.8, 300.0), (0.1, -2.0), *UP, (0.1, 60.0), (0.1, 4.0), (2.0, 0.0))
    assert [round(one.on, 3) for one in ends(got)] == [60.0]
    assert [round(one.off, 3) for one in ends(got)] == [64.8]


@pytest.mark.parametrize(("off_s", "stays"), [(0.2, 1), (0.3, 2)])
def test_so_is_one_that_came_less_than_a_second_before(off_s: float, stays: int) -> None:
    got = feed(platform(), (2.0, 0.0), (0.8, 400.0), (off_s, 0.0), (5.0, 400.0), (2.0, 0.0))
    assert [one.weight.kg for one in ends(got)] == [400.0] * stays
    assert ends(got)[-1].weight.grade == "good"


def test_one_that_stood_still_is_gone_with_the_reading_that_shows_it() -> None:
    got = feed(platform(), (2.0, 0.0), (5.0, 400.0), (0.1, 0.0))
    assert ends(got)[0].off == 7.0


def test_that_it_has_left_is_known_without_another_reading_and_is_no_silence() -> None:
    on = known()
    assert not ends(later(on, 60.0, *UP, (0.1, 0.0)))
    assert on.advance(64.0) == []
    (left,) = on.advance(64.1)
    assert isinstance(left, Ended)
    assert left.off == pytest.approx(63.8)
    assert Flag.INDICATOR_LOST not in left.flags
    assert on.is_seen_empty


def test_the_empty_platform_is_watched_while_it_may_have_hopped() -> None:
    """What it shows then is what it shows empty: zero follows it."""
    on = known()
    later(on, 60.0, *UP, (0.2, 1.0))
    assert on.zero_kg == 0.0
    later(on, 64.0, (1.0, 1.0))
    assert on.zero_kg == 1.0


@pytest.mark.parametrize(("back_kg", "full"), [(200.0, False), (390.0, True)])
def test_who_hopped_is_not_the_next_when_it_is_back(back_kg: float, *, full: bool) -> None:
    one = stood(*swings(35, 1.0, 3.0))
    one.dip.hop(one.at / 10, 2.0)
    one.feed(2.0)
    assert not one.dip.is_gone(one.t + 0.29)
    assert one.dip.is_gone(one.t + 0.3)
    assert not (one.dip.leapt if full else one.dip.rises)(one.t + 0.6, *(() if full else (back_kg,)))
    one.come_back(*[500.0] * 13)
    assert not one.dip.is_gone(one.t)
    assert not one.dip.was_another()


@pytest.mark.parametrize(
    ("before", "rises"),
    [([400.0] * 30, True), (swings(30, 1.0, 3.0), False), (swings(12, 1.0, 3.0), True)],
)
def test_what_swung_must_go_lower_by_as_much_to_be_off(before: list[float], *, rises: bool) -> None:
    one = stood(*before)
    one.sink(*[100.0] * 5)
    assert one.dip.rises(one.t, 240.0) is rises


@pytest.mark.parametrize(("before", "rose"), [([400.0] * 30, True), (swings(30, 0.8, 3.0), False)])
def test_and_rise_by_as_much_more_to_be_a_lighter_one(before: list[float], *, rose: bool) -> None:
    one = stood(*before)
    one.sink(200.0, *[270.0, 285.0, 300.0, 290.0] * 4)
    assert one.dip.rose(one.t) is rose


def was_another(sinks: int, hz: float, rests: Rests | None, *kgs: float) -> bool:
    """Say of what stood there, but for the readings from `sinks` on that are lowest, whether another came back."""
    settling, low_kg = Settling(0.5, Known(rests=rests)), min(kgs)
    dip = Dip(0.0, settling, 0.0)
    for n, kg in enumerate(kgs):
        dip = Dip(n / hz, settling, 0.0) if n == sinks else dip
        if kg == low_kg:
            dip.sink(n / hz, kg)
        elif n > sinks:
            dip.returns(n / hz)
        settling.feed(n / hz, kg)
    return dip.was_another()


@pytest.mark.parametrize(
    ("seconds", "low_kg", "hz", "another"),
    [
        (3.0, 160.0, 10, False),  # it pauses half on, throws itself about, and comes on
        (3.9, 160.0, 10, False),
        (4.1, 160.0, 10, True),  # no pause is so long
        (3.0, 85.0, 10, True),  # hardly a foot was left
        (3.0, 160.0, 2, True),  # where readings are few nobody knows how low it was
    ],
)
def test_one_that_paused_half_on_with_feet_on_is_the_same(
    seconds: float, low_kg: float, hz: int, *, another: bool
) -> None:
    first = round(seconds * hz)
    kgs = [*[220.0] * first, *[low_kg] * max(1, round(0.5 * hz)), *[400.0] * round(1.3 * hz)]
    assert was_another(first, hz, None, *kgs) is another


@pytest.mark.parametrize(
    ("rests", "low_kg", "bins", "another"),
    [
        ("quick", 250.0, 3, False),  # a person came on as it kicked
        ("quick", 250.0, 4, True),  # longer than a kick
        ("quick", 160.0, 3, True),  # hardly a foot was left
        ("middling", 250.0, 3, True),  # a slower display does not show how low it was
        (None, 250.0, 3, True),
    ],
)
def test_a_kick_with_feet_on_is_its_own_however_heavy_it_is_after(
    rests: Rests | None, low_kg: float, bins: int, *, another: bool
) -> None:
    assert was_another(50, 10, rests, *[400.0] * 50, *[low_kg] * bins, *[490.0] * 13) is another


@pytest.mark.parametrize(
    ("heaviest_kg", "with_kg", "left_kg", "rose"),
    [
        (44.0, 76.0, 30.0, False),  # a person came on with a lamb of a mob of lambs, and stepped off
        (44.0, 70.0, 26.0, True),  # no more than 1.6 times the heaviest: a ewe may have left
        (None, 76.0, 28.0, True),
        (44.0, 76.0, 24.0, False),  # as still as that it may be what lies there: but what went is no lamb
        (55.0, 89.0, 28.0, False),
        (55.0, 89.0, 29.0, False),
        (65.0, 106.0, 34.0, False),
        (75.0, 110.0, 36.0, True),  # what went may have been one of them, and what is left lies there
    ],
)
def test_what_outweighs_its_mob_by_far_was_an_animal_and_a_person(
    heaviest_kg: float | None, with_kg: float, left_kg: float, *, rose: bool
) -> None:
    one = Stood(with_kg, 0.0)
    one.settling = Settling(0.5, Known(heaviest_kg=heaviest_kg))
    one.feed(*[with_kg] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[left_kg] * 17)
    assert one.dip.rose(one.t) is rose


LAMBS = {"capacity_kg": 150.0, "interval_kg": 0.1, "smallest_kg": 8.0}
LEFT = [20.9, 21.1, 21.0, 20.8, 21.2]


@pytest.mark.parametrize(
    ("left", "grade"),
    [
        ([(0.1, kg) for kg in LEFT * 5], "poor"),  # a person who came on with it stepped off: 21 kg may be the animal
        ([*ramp(24.0, 9.0, 2.4)], None),  # the last foot of one that left late
        ([(2.4, 3.0)], None),  # too light for an animal
    ],
)
def test_what_was_left_and_went_of_itself_stood_beside_what_was_weighed(left: list[Shown], grade: str | None) -> None:
    got = feed(platform(None, **LAMBS), (2.0, 0.0), (6.0, 89.0), *left, *ramp(9.0, 0.0, 0.4), (2.0, 0.0))
    first = ends(got)[0]
    assert (first.weight.kg, first.weight.grade) == (89.0, "good")
    again = [one.weight.grade for one in got if isinstance(one, ZeroMoved)]
    assert again == ([] if grade is None else [grade])
