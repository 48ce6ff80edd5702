"""Dips in which nobody came: a person stepped off who had stood beside it, or it is stepping on still."""

import pytest

from neckyoke.bridge.station.platform.dip import Dip
from tests.bridge.station.platform.test_dip import Stood


@pytest.mark.parametrize(
    ("alone_kg", "with_kg", "left_kg", "rose"),
    [
        (400.0, 470.0, 400.0, False),  # a person was on it meanwhile
        (400.0, 470.0, 406.0, False),
        (400.0, 470.0, 410.0, True),  # it is not what stood there before
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


@pytest.mark.parametrize(("with_kg", "another"), [(740.0, True), (860.0, True), (870.0, False), (730.0, False)])
def test_but_where_what_left_weighed_as_much_there_were_two(with_kg: float, *, another: bool) -> None:
    one = Stood(400.0)
    one.feed(*[with_kg] * 50)
    one.dip = Dip(one.at / 10, one.settling, 0.0)
    one.sink(344.0, 348.0)
    one.come_back(*[400.0] * 13)
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
