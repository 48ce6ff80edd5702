"""What a person is told of the platform, and the platform as it is now."""

import pytest

from neckyoke.bridge.events import Attention
from neckyoke.bridge.station.platform.alerts import Troubles
from neckyoke.bridge.station.platform.empty.tail import Tail
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.platform.table import State
from neckyoke.bridge.station.platform.view import view_of
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.protocols.readings import Condition, WeightReading
from tests.bridge.station.platform.test_platform_table import feed, platform

CRUSH = Settings("larkmoor", "crush", "indicator", capacity_kg=500.0, interval_kg=0.5)


def zero(kg: float) -> Zero:
    made = Zero(CRUSH, None)
    made.set(kg)
    return made


def test_a_zero_that_is_off_is_told_once_and_so_is_its_end() -> None:
    told = Troubles(CRUSH)
    assert told.zero(zero(12.5)) == []
    (off,) = told.zero(zero(13.0))
    assert (off.about, off.station, off.over) == ("zero-off", "crush", False)
    assert "13 kg" in off.text
    assert told.zero(zero(14.0)) == []
    told.now = 60.0
    (over,) = told.zero(zero(0.0))
    assert (over.about, over.over, over.lasted_s) == ("zero-off", True, 60.0)
    assert over.text == "The empty platform shows zero again."
    assert told.zero(zero(0.0)) == []


def test_while_nobody_knows_what_is_empty_it_does_not_show_zero_again() -> None:
    told, unknown = Troubles(CRUSH), Zero(CRUSH, None)
    unknown.set(0.0, seen=False)
    assert told.zero(unknown) == []
    assert [one.over for one in told.zero(zero(20.0))] == [False]
    assert told.zero(unknown) == []
    assert [one.over for one in told.zero(zero(0.0))] == [True]


def test_each_trouble_has_its_name_and_end() -> None:
    told = Troubles(CRUSH)
    wanders = zero(0.0)
    wanders.wanders = True
    seen = [*told.zero(wanders), *told.stuck(260.0), *told.beyond(505.0)]
    assert [one.about for one in seen] == ["zero-wanders", "stuck", "beyond"]
    assert "260 kg stood on the platform" in seen[1].text
    assert "505 kg, more than capacity_kg = 500" in seen[2].text
    ends = [*told.zero(zero(0.0)), *told.free(), *told.beyond(None), *told.beyond(504.5)]
    assert [(one.about, one.over) for one in ends] == [("zero-wanders", True), ("stuck", True), ("beyond", True)]
    assert told.free() == []


def test_one_that_comes_and_goes_is_not_said_to_be_over_each_time() -> None:
    told = Troubles(CRUSH)
    said = []
    for told.now, kg in ((0.0, 20.0), (10.0, 0.0), (20.0, 20.0), (30.0, 0.0), (40.0, 20.0), (50.0, 0.0), (101.0, 0.0)):
        said.append([one.over for one in told.zero(zero(kg))])
    assert said == [[False], [True], [False], [True], [False], [], [True]]


def test_a_person_is_told_what_to_do() -> None:
    told = Troubles(CRUSH)
    (stuck,) = told.stuck(260.0)
    assert stuck.text.endswith("clean the platform and zero the indicator.")
    (beyond,) = told.beyond(3120.0)
    assert "needs decimals" in beyond.text
    assert beyond.text.endswith("set capacity_kg right.")


@pytest.mark.parametrize(("shown_kg", "beyond"), [(500.0, False), (504.5, False), (505.0, True)])
def test_more_than_nine_intervals_above_capacity_is_beyond(shown_kg: float, *, beyond: bool) -> None:
    assert Troubles(CRUSH).is_beyond(shown_kg) is beyond  # OIML R 76-1:2006, 4.2.3, from a document that restates it


def test_the_view_of_nothing_knows_nothing() -> None:
    view = view_of("empty", None, None, Zero(CRUSH, None))
    assert (view.state, view.number, view.on, view.kg, view.settled_kg, view.grade) == ("empty", *[None] * 5)
    assert (view.zero_kg, view.moving, view.overload, view.last_t) == (None, None, False, None)


@pytest.mark.parametrize("state", ["empty", "arriving"])
def test_the_view_shows_the_last_reading_net_of_the_empty_platform(state: State) -> None:
    last = (4.0, WeightReading(103.0, stable=False))
    view = view_of(state, None, last, zero(3.0))
    assert (view.kg, view.zero_kg, view.moving, view.last_t) == (100.0, 3.0, True, 4.0)
    over = view_of(state, None, (5.0, WeightReading(None, stable=True, condition=Condition.OVERLOAD)), zero(3.0))
    assert (over.kg, over.moving, over.overload) == (None, False, True)


def test_the_view_shows_the_stay_once_it_has_begun_and_its_weight_once_it_has_settled() -> None:
    on = platform(Memory(number=6))
    feed(on, (1, 0.0), (0.5, 400.25))
    assert (on.view.state, on.view.number) == ("arriving", None)
    for n in range(15, 60):
        on.weight(n / 10, WeightReading(400.25 + n % 2 / 1000))
    view = on.view
    assert (view.state, view.number, view.on, view.settled_kg, view.grade) == ("settled", 7, 1.0, 400.25, "fair")


def test_it_has_lasted_if_it_is_a_microsecond_short() -> None:
    assert lasted(1.0, 2.0, 1.0)
    assert lasted(1.0, 2.0 - 9e-7, 1.0)
    assert not lasted(1.0, 2.0 - 2e-6, 1.0)


@pytest.mark.parametrize(("left", "end_kg"), [(0.6, 10.0), (0.9, 10.0), (0.97, None)])
def test_where_three_points_of_a_fall_are_heading(left: float, end_kg: float | None) -> None:
    """Aitken's formula on an exponential gives its limit exactly; what slows down too little is none."""
    tail = Tail()
    assert_none_yet = True
    for n in range(9):  # 0.4 s apart: each step leaves so much of the last
        tail.see(n / 10, 10.0 + 300.0 * left ** (n / 4))
        if n < 6:
            assert_none_yet &= tail.end_kg() is None
    assert assert_none_yet
    found = tail.end_kg()
    assert found == (None if end_kg is None else pytest.approx(end_kg, abs=1e-6))


def test_a_rise_and_a_flat_are_no_falls() -> None:
    rising, flat = Tail(), Tail()
    for n in range(9):
        rising.see(n / 10, 100.0 + n * n)
        flat.see(n / 10, 100.0)
    assert rising.end_kg() is None
    assert flat.end_kg() is None


def test_points_between_readings_are_on_a_straight_line() -> None:
    tail = Tail()
    for t, kg in ((0.0, 410.0), (0.3, 335.0), (0.5, 285.0), (0.8, 240.0)):
        tail.see(t, kg)
    # at 0, 0.4 and 0.8 s: 410, 310 and 240; steps of 100 and 70, so it ends at 240 - 70 * 70 / 30
    assert tail.end_kg() == pytest.approx(240 - 70 * 70 / 30)


def test_steps_that_are_not_those_of_the_configuration_are_told_with_what_to_set() -> None:
    told = Troubles(CRUSH)
    assert told.steps(0.5) == []
    (one,) = told.steps(0.1)
    assert (one.about, one.over) == ("steps", False)
    assert "steps of 0.1 kg" in one.text
    assert "interval_kg = 0.5" in one.text
    assert one.text.endswith("set interval_kg = 0.1.")
    assert told.steps(0.1) == []


def test_a_platform_whose_configuration_names_the_wrong_interval_says_so_once() -> None:
    """An indicator that shows steps of 0.1 kg, told two ways."""
    shown = [(0.1, round(0.1 * (n % 3), 1)) for n in range(400)]

    def told(interval_kg: float) -> list[str]:
        return [one.about for one in feed(platform(interval_kg=interval_kg), *shown) if isinstance(one, Attention)]

    assert (told(0.5), told(0.1)) == (["steps"], [])
