"""Dips in which nobody came: a person stepped off who had stood beside it, or it is stepping on still."""

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.platform.dips.dip import Dip
from tests.bridge.station.platform.test_dip import Stood
from tests.bridge.station.platform.test_platform_table import ends, feed, platform


@pytest.mark.parametrize(
    ("alone_kg", "with_kg", "left_kg", "rose"),
    [
        (400.0, 470.0, 400.0, False),  # a person was on it meanwhile
        (400.0, 470.0, 406.0, False),
        (400.0, 470.0, 410.0, True),  # it is not what stood there before
        (400.0, 525.0, 400.0, False),
        (400.0, 535.0, 400.0, True),  # no person weighs so much: its like came as it left
        (38.0, 110.0, 39.0, True),
        (38.0, 110.0, 38.5, False),  # a lamb, and a person
        (35.0, 110.0, 35.0, True),  # so little, and as still as that, may be mud
    ],
)
def test_what_is_left_and_stood_there_alone_before_is_the_same(
    alone_kg: float, with_kg: float, left_kg: float, *, rose: bool
) -> None:
    one = Stood(alone_kg)
    one.feed(*[with_kg] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[left_kg] * 17)
    assert one.dip.rose(one.t) is rose


def test_what_sways_is_no_mud_however_light() -> None:
    one = Stood(18.0)
    one.feed(*[63.0] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[17.1, 18.8] * 10)
    assert not one.dip.rose(one.t)


@pytest.mark.parametrize(("seconds", "rose"), [(0.4, True), (0.5, False)])
def test_what_was_there_in_passing_only_stood_there_never(seconds: float, *, rose: bool) -> None:
    one = Stood(400.0, seconds)
    one.feed(*[470.0] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[400.0] * 17)
    assert one.dip.rose(one.t) is rose


def test_nor_is_it_another_where_the_dip_was_short() -> None:
    one = Stood(386.0)
    one.feed(*[470.0] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(344.0, 348.0)
    one.come_back(*[386.0] * 13)
    assert one.dip.is_judged(one.t)
    assert not one.dip.was_another()


@pytest.mark.parametrize(("with_kg", "another"), [(185.0, True), (215.0, True), (217.5, False), (182.5, False)])
def test_but_where_what_left_weighed_as_much_there_were_two(with_kg: float, *, another: bool) -> None:
    one = Stood(100.0)
    one.feed(*[with_kg] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(86.0, 87.0)
    one.come_back(*[100.0] * 13)
    assert one.dip.was_another() is another


@pytest.mark.parametrize(("seconds", "next_one"), [(0.6, False), (1.1, True)])
def test_none_can_have_crossed_so_soon_after_the_first_foot(seconds: float, *, next_one: bool) -> None:
    one = Stood(400.0, seconds)
    one.sink(*[50.0] * 3)
    one.feed(50.0, 50.0, 50.0, 50.0)
    assert one.dip.rises(one.t, 200.0) is next_one
    assert one.dip.leapt(one.t) is next_one
    one.come_back(*[470.0] * 12)
    assert one.dip.was_another() is next_one


@pytest.mark.parametrize(("seconds", "over"), [(0.6, False), (1.1, True)])
def test_nor_does_what_swings_since_make_two_of_it(seconds: float, *, over: bool) -> None:
    one = Stood(400.0, seconds)
    one.sink(100.0, 300.0, 200.0, *[300.0, 250.0] * 20)
    assert one.dip.is_over(one.t, 25.0) is over


@pytest.mark.parametrize(
    ("lowest_kg", "bins", "another"), [(344.0, 9, False), (336.0, 6, True), (336.0, 5, False), (100.0, 5, False)]
)
def test_nor_is_it_the_same_where_feet_were_off_in_between(lowest_kg: float, bins: int, *, another: bool) -> None:
    """Who stays as a person steps off keeps its feet there, but for a kick: its like has come as it left."""
    one = Stood(400.0)
    one.feed(*[470.0] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[lowest_kg] * bins)
    one.come_back(*[400.0] * 13)
    assert one.dip.was_another() is another


def test_nor_where_the_platform_was_bare_though_a_slow_display_did_not_show_it(monkeypatch: pytest.MonkeyPatch) -> None:
    one = Stood(400.0)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(*[360.0] * 6)
    one.come_back(*[400.0] * 13)
    assert not one.dip.was_another()
    monkeypatch.setattr(Dip, "was_bare", lambda _: True)
    assert one.dip.was_another()


@pytest.mark.parametrize(("in_sight", "next_one"), [(True, False), (False, True)])
def test_whose_first_foot_nobody_saw_may_have_crossed_however_soon(*, in_sight: bool, next_one: bool) -> None:
    one = Stood(400.0, 0.6)
    one.dip = Dip(one.at / 10, one.settling, 0.0, in_sight=in_sight)
    one.sink(*[50.0] * 7)
    assert one.dip.rises(one.t, 200.0) is next_one
    assert one.dip.leapt(one.t) is next_one


def test_one_that_leaves_as_hearing_begins_is_not_the_next() -> None:
    shown = [(0.5, 300.0), (0.3, 150.0), (0.3, 80.0), (0.3, 160.0), (6.0, 310.0), (0.3, 130.0), (5.0, 0.0)]
    left, came = ends(feed(platform(), *shown))
    assert Flag.ON_AT_START in left.flags
    assert (came.weight.kg, came.weight.grade) == (310.0, "fair")
