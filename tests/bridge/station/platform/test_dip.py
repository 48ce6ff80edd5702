"""Feet lifted within a stay: what a dip is said to have been."""

import math

import pytest

from neckyoke.bridge.station.platform.dips.dip import Dip
from neckyoke.bridge.station.weight.settling import Settling
from tests.bridge.station.platform.test_platform_table import ends, feed, platform
from tests.bridge.station.weight.test_plateau_parts import ramp


class Stood:
    """Something that stood there for three seconds, and what is fed since."""

    def __init__(self, kg: float = 400.0, seconds: float = 3.0) -> None:
        self.settling = Settling(0.5)
        self.at = 0
        self.feed(*[kg] * round(10 * seconds))
        self.dip = Dip(self.at / 10, self.settling, 0.0)

    @property
    def t(self) -> float:
        return (self.at - 1) / 10

    def feed(self, *kgs: float) -> None:
        for kg in kgs:
            self.settling.feed(self.at / 10, kg)
            self.at += 1

    def sink(self, *kgs: float) -> None:
        for kg in kgs:
            self.dip.sink(self.at / 10, kg)
            self.feed(kg)

    def come_back(self, *kgs: float) -> None:
        for kg in kgs:
            self.dip.returns(self.at / 10)
            self.feed(kg)


def test_the_lowest_and_when_it_was_is_kept_and_what_came_before_it_forgotten() -> None:
    one = Stood()
    one.dip.since += [(3.0, 7.0)]
    one.sink(300.0, 200.0, 250.0)
    assert (one.dip.lifted_at, one.dip.lowest_t, one.dip.lowest_kg) == (3.0, 3.1, 200.0)
    assert one.dip.since == []


@pytest.mark.parametrize(
    ("lowest", "now", "seconds", "rises"),
    [
        (100.0, 170.0, 0.6, True),
        (100.0, 159.0, 0.6, False),  # not clearly more: 15 % of what stood there
        (167.0, 260.0, 0.6, True),  # hardly a foot: below 42 %
        (169.0, 260.0, 0.6, False),
        (100.0, 170.0, 0.3, False),  # a kick
    ],
)
def test_more_after_hardly_a_foot_is_the_next_animal(lowest: float, now: float, seconds: float, *, rises: bool) -> None:
    one = Stood()
    one.sink(lowest)
    assert one.dip.rises(3.0 + seconds, now) is rises


@pytest.mark.parametrize(
    ("sunk", "rose"),
    [
        ([*[300.0] * 16], True),  # rests at three quarters: no half
        ([*[300.0] * 14], False),  # not for long enough
        ([*[220.0] * 16], False),  # rests at a half: it may be its own
        ([*[150.0] * 16], True),  # and below a half
        ([150.0, *[220.0] * 16], True),  # it rose to that half from well below
        ([180.0, *[220.0] * 16], False),
        ([180.0, *[245.0] * 16], True),  # by more than 15 %
        ([200.0, *[300.0, 240.0] * 8], True),  # does not rest, but it rose
        ([*ramp(300, 230, 16)], False),  # on its way down
        ([*[296.0, 300.0] * 8], True),
        ([*[280.0, 340.0] * 8], False),  # at no half, but it neither rests nor rose
    ],
)
def test_another_lighter_animal_rests_at_no_half_or_rose_to_where_it_is(sunk: list[float], *, rose: bool) -> None:
    one = Stood()
    one.sink(*sunk)
    assert one.dip.rose(one.t) is rose


def test_what_came_back_is_judged_after_a_second() -> None:
    one = Stood()
    one.sink(*[200.0] * 10)
    assert not one.dip.is_judged(9.0)
    one.come_back(*[400.0] * 5)
    assert not one.dip.is_judged(4.9)
    assert one.dip.is_judged(5.0)
    one.sink(250.0)
    assert not one.dip.is_judged(9.0)


@pytest.mark.parametrize(
    ("low_s", "kg", "another", "came_back"),
    [
        (1.0, 400.0, False, True),
        (1.0, 427.0, False, True),  # within 7 %
        (1.0, 373.0, False, True),
        (1.0, 429.0, True, False),
        (1.0, 371.0, True, False),
        (0.3, 429.0, False, False),  # a kick: within twice as much, and none to speak of
        (0.3, 455.0, False, False),
        (0.3, 458.0, True, False),
    ],
)
def test_what_comes_back_is_told_by_its_weight(low_s: float, kg: float, *, another: bool, came_back: bool) -> None:
    one = Stood()
    one.sink(*[200.0] * round(10 * low_s))
    one.come_back(*[kg] * 11)
    assert one.dip.was_another() is another
    assert one.dip.came_back() is came_back


@pytest.mark.parametrize(("lowest", "came_back"), [(239.0, True), (241.0, False)])
def test_only_a_deep_dip_is_one_that_came_back(lowest: float, *, came_back: bool) -> None:
    one = Stood()
    one.sink(*[lowest] * 10)
    one.come_back(*[400.0] * 11)
    assert one.dip.came_back() is came_back


@pytest.mark.parametrize(
    ("stood_kg", "seconds", "another"),
    [
        (220.0, 2.0, False),  # half of what came back: it pulled back before it came on
        (220.0, 3.0, True),  # for too long
        (150.0, 2.0, True),  # less than 38 %
        (158.0, 2.0, False),
        (280.0, 2.0, False),
        (292.0, 2.0, True),  # more than 72 %
    ],
)
def test_one_that_only_stood_half_on_was_pulling_back(stood_kg: float, seconds: float, *, another: bool) -> None:
    one = Stood(stood_kg, seconds)
    one.sink(*[80.0] * 4)
    one.come_back(*[400.0] * 11)
    assert one.dip.was_another() is another


def test_what_stood_before_is_told_without_the_way_up_and_the_way_down() -> None:
    one = Stood(400.0, 3.0)
    one.feed(390.0, 380.0, 370.0)
    dip = Dip(one.at / 10, one.settling, 0.0)
    one.dip = dip
    one.sink(*[200.0] * 10)
    one.come_back(*[426.0] * 11)
    assert not dip.was_another()
    short = Stood(400.0, 0.2)
    short.sink(*[200.0] * 6)
    short.come_back(*[400.0] * 11)
    assert not short.dip.was_another()


@pytest.mark.parametrize(("kg", "another"), [(428.0, False), (429.0, True)])
def test_of_what_stood_but_for_a_moment_three_tenths_of_a_second_are_the_way_down(kg: float, *, another: bool) -> None:
    one = Stood(400.0, 0.1)
    one.feed(380.0, 360.0, 340.0)
    one.dip = Dip(one.at / 10, one.settling, -2.0)
    one.sink(*[200.0] * 10)
    one.come_back(*[kg] * 11)
    assert one.dip.was_another() is another  # within 7 % of 400 kg


@pytest.mark.parametrize(
    ("sunk", "unsure_kg", "lies_kg"),
    [
        ([60.0], 0.0, 0.0),  # a foot passes
        ([60.0], 5.0, 5.0),  # and what lay there before, lies there
        ([60.0], 80.0, 60.0),  # but no more than was shown
        ([60.0, *[61.5] * 3], 5.0, 60.0),  # it rested for four tenths of a second, within three intervals
        ([60.0, *[61.5] * 2], 5.0, 5.0),
        ([60.0, *[62.0] * 9], 5.0, 5.0),
        ([-3.0], 0.0, 0.0),
        ([-3.0] * 5, 0.0, 0.0),
    ],
)
def test_what_rested_at_the_lowest_may_lie_there(sunk: list[float], unsure_kg: float, lies_kg: float) -> None:
    one = Stood()
    one.sink(*sunk)
    one.feed(300.0)
    assert one.dip.may_lie_kg(unsure_kg) == lies_kg


@pytest.mark.parametrize(
    ("swings", "low", "rises"),
    [
        ([400.0], 160.0, True),  # it stands: 0.40 of it is hardly a foot
        ([310.0, 400.0, 490.0, 400.0], 160.0, False),  # it swings by 22 %: 0.20 of it would be
        ([310.0, 400.0, 490.0, 400.0], 70.0, True),  # lower by more than that
    ],
)
def test_what_swings_is_off_only_where_it_is_lower_by_as_much(swings: list[float], low: float, *, rises: bool) -> None:
    one = Stood(seconds=0.1)
    one.feed(*[kg for kg in swings for _ in range(3)] * 4)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(low)
    assert one.dip.rises(one.t + 0.6, 300.0) is rises


def test_who_is_back_up_for_a_moment_is_no_lighter_animal() -> None:
    one = Stood()
    one.sink(150.0, *[290.0] * 9)
    one.come_back(390.0)
    one.sink(*[290.0] * 9)
    assert not one.dip.rose(one.t)  # though it was lowest long ago
    one.sink(*[290.0] * 7)
    assert one.dip.rose(one.t)


@pytest.mark.parametrize("hz", [0.7, 1.0, 1.3, 1.7])
@pytest.mark.parametrize("share", [0.2, 0.33])
def test_an_animal_that_throws_itself_about_is_weighed_once(hz: float, share: float) -> None:
    """By a fifth to a third of its weight: an assumption, no source."""
    readings = [(3.0, 0.0)]
    for n in range(90):
        s = n / 10
        feet = min(1.0, s, (9.0 - s) / 0.8)
        readings.append((0.1, round(300.0 * feet * (1 + share * math.sin(2 * math.pi * hz * s)))))
    (one,) = ends(feed(platform(), *readings, (3.0, 0.0)))
    assert one.weight.kg == pytest.approx(300.0, rel=0.02)


@pytest.mark.parametrize(
    ("low_s", "low_kg", "stays"),
    [
        (1.0, 60.0, 2),
        (1.0, 160.0, 2),  # hardly a foot: below 42 %
        (1.0, 170.0, 1),
        (0.34, 60.0, 1),  # one reading: a kick
    ],
)
def test_what_is_up_again_at_one_leap_from_hardly_a_foot_is_the_next_animal(
    low_s: float, low_kg: float, stays: int
) -> None:
    """At three readings a second none was seen on the way up, and two of one weight were one stay."""
    got = feed(platform(), (2, 0.0), (4, 400.0), (low_s, low_kg), (4, 400.0), (2, 0.0), hz=3)
    assert len(ends(got)) == stays


@pytest.mark.parametrize(
    ("kgs", "judged_at", "another"),
    [
        ([340.0, 350.0], 5.0, True),
        ([380.0, 300.0], 14.0, False),  # it swings by 12 % either way: what it weighs is not known
    ],
)
def test_what_swings_since_it_came_back_is_not_judged_by_its_weight(
    kgs: list[float], judged_at: float, *, another: bool
) -> None:
    one = Stood()
    one.sink(*[200.0] * 10)
    swings = [kg for kg in kgs for _ in range(3)] * 20
    one.come_back(*swings[:10])
    assert one.dip.is_judged(5.0) is another
    one.come_back(*swings[10:])
    assert one.dip.is_judged(judged_at)
    assert one.dip.was_another() is another


def test_nor_what_swung_before() -> None:
    one = Stood(seconds=0.1)
    one.feed(*[kg for kg in (360.0, 440.0) for _ in range(5)] * 4)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[200.0] * 10)
    one.come_back(*[370.0] * 11)
    assert not one.dip.was_another()


@pytest.mark.parametrize(
    ("sunk", "over"),
    [
        ([*[220.0] * 41], False),  # half of it may stand there for as long as it likes
        (ramp(60, 15, 41), True),  # no animal is so light
        (ramp(60, 15, 40), False),
        ([131.0, *[160.0] * 40], True),  # from where no foot was left, by half the smallest animal
        ([133.0, *[160.0] * 40], False),
    ],
)
def test_after_four_seconds_what_is_none_of_what_stood_there_is_told_apart(sunk: list[float], *, over: bool) -> None:
    one = Stood()
    for kg in sunk:
        one.sink(kg)
        assert one.dip.is_long(one.t) is (one.at > 70)
    assert (one.dip.is_over(one.t, 25.0) and not one.dip.rose(one.t)) is over


def test_the_way_down_and_up_again_is_no_swing_and_a_tenth_more_is_another_animal() -> None:
    """Behind a display that averages over half a second two animals, of 163 and 179 kg, became one stay."""
    one = Stood(163.0)
    one.feed(150.0, 140.0, 130.0)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(110.0, 97.0, 86.0, 91.0, 101.0)
    one.come_back(149.0, 160.0, 168.0, 173.0, 177.0, *[179.0] * 6)
    assert one.dip.is_judged(one.t)
    assert one.dip.was_another()


def test_one_that_hovers_where_a_foot_seems_lifted_is_not_in_its_next_swing() -> None:
    one = Stood()
    one.sink(*[250.0] * 5)
    one.come_back(*[302.0] * 12)
    one.sink(298.0)
    assert (one.dip.lifted_at, one.dip.lowest_kg) == (3.0, 250.0)
    swings = Stood()
    swings.sink(*[250.0] * 5)
    swings.come_back(*[380.0, 380.0, 380.0, 310.0, 310.0, 310.0] * 2)
    swings.sink(290.0)
    assert swings.dip.lifted_at == pytest.approx(4.7)
    assert swings.dip.lowest_kg == 290.0
