"""The first weight: how far back it looks, when it is given, and when it may be half an animal."""

import math
from itertools import pairwise

import pytest

from neckyoke.bridge.station.weight.estimators import moving_means
from neckyoke.bridge.station.weight.final import Estimate
from neckyoke.bridge.station.weight.provisional import level_stretch, look, may_be_half
from neckyoke.bridge.station.weight.settling import Settling
from tests.bridge.station.weight.test_plateau_parts import ramp, track


def sway(count: int, kg: float = 400.0, percent: float = 1.0, hz: float = 1.0) -> list[float]:
    return [kg * (1 + percent / 100 * math.sin(2 * math.pi * hz * n / 10)) for n in range(count)]


def test_the_stretch_reaches_back_to_where_the_level_jumped() -> None:
    found = level_stretch([*ramp(0, 220, 5), *[220.0] * 20, *ramp(220, 400, 4), *[400.0] * 20])
    assert found is not None
    assert set(found.values) == {400.0}
    assert 16 <= len(found.values) <= 20
    assert found.span_s == pytest.approx(len(found.values) / 10)


def test_it_needs_a_second_and_a_half_and_something_that_stands_there() -> None:
    assert level_stretch([400.0] * 14) is None
    assert level_stretch([400.0] * 15) is not None
    assert level_stretch([*[0.0] * 20, *[400.0] * 12]) is None
    assert level_stretch([0.0] * 30) is None
    assert level_stretch([-3.0] * 30) is None


def test_it_looks_back_six_seconds_at_most() -> None:
    found = level_stretch([400.0] * 200)
    assert found is not None
    assert len(found.values) == 60


@pytest.mark.parametrize("rise", [2, 5, 8, 10, 14, 20])
def test_how_long_the_rise_took_is_from_next_to_nothing_to_nearly_all(rise: int) -> None:
    bins = [*[0.0] * 10, *ramp(0, 400, rise), *[400.0] * 20]
    found = level_stretch(bins)
    top = next(n for n, kg in enumerate(bins) if kg >= 0.92 * 400)
    foot = max(n for n, kg in enumerate(bins) if kg <= 0.12 * 400)
    assert found is not None
    assert found.rise_s == pytest.approx((top - foot - 1) / 10)


@pytest.mark.parametrize(
    ("span_s", "kg", "usual_kg", "rise_s", "maybe"),
    [
        (2.0, 300.0, None, 0.5, True),  # as quick as two feet come down
        (2.0, 300.0, None, 0.95, False),
        (2.0, 300.0, None, 1.5, False),
        (2.0, 300.0, None, 0.25, False),  # put down
        (2.0, 300.0, None, 0.0, False),
        (2.0, 300.0, None, None, True),  # nobody saw it rise
        (3.2, 300.0, None, None, True),
        (3.3, 300.0, None, 0.5, False),  # for longer than a pause half on lasts
        (3.3, 100.0, 400.0, 0.5, False),
        (2.0, 299.0, 400.0, 1.5, True),  # less than the mob weighs
        (2.0, 300.0, 400.0, 0.5, False),
    ],
)
def test_what_stands_too_soon_may_be_half(
    span_s: float, kg: float, usual_kg: float | None, rise_s: float | None, *, maybe: bool
) -> None:
    assert may_be_half(span_s, kg, usual_kg, rise_s) is maybe


def test_a_weight_is_given_when_three_estimates_agree() -> None:
    on = track(*[0.0] * 5, *ramp(0, 400, 14), *sway(25))
    found = look(on, None)
    assert found is not None
    assert found.kg == pytest.approx(400.0, rel=0.005)
    assert found.grade == "fair"
    assert found.readings == round(10 * found.span_s)
    assert found.restlessness_percent == pytest.approx(0.71, abs=0.1)
    values = on.bins()[-found.readings :]
    seconds = moving_means(values, 10)
    assert found.spread_kg == pytest.approx(max(seconds) - min(seconds))


def test_less_than_a_cycle_tells_nothing_unless_it_hardly_sways() -> None:
    assert look(track(*[400.0, *sway(19, percent=3.0, hz=0.45)]), None) is None
    assert look(track(*sway(20, percent=0.2, hz=0.45)), None) is not None


def test_a_slope_and_a_display_that_may_be_held_give_none() -> None:
    assert look(track(*ramp(380, 405, 20)), None) is None
    assert look(track(*[300.0] * 3, *[400.0] * 18), None) is None
    assert look(track(*sway(20, percent=0.3)), None) is not None


def test_a_later_higher_level_supersedes_the_first_and_a_poor_one_is_made_better() -> None:
    on = Settling(0.5)
    found = []
    bins = [*[0.0] * 5, *ramp(0, 220, 6), *sway(40, 220.0, 0.3), *ramp(220, 400, 6), *sway(40, 400.0, 0.3)]
    for n, kg in enumerate(bins):
        if one := on.feed(n / 10, kg):
            found.append((n / 10, round(one.kg or 0.0), one.grade))
    assert [(kg, grade) for _, kg, grade in found] == [(220, "poor"), (220, "fair"), (400, "fair")]
    assert 2.5 <= found[0][0] <= 2.9
    assert 4.3 <= found[1][0] <= 5.0  # longer than a pause
    assert on.level == pytest.approx(400.0, rel=0.01)
    assert on.first is not None
    assert on.first.kg == pytest.approx(400.0, rel=0.01)


def test_a_level_a_little_higher_does_not_supersede() -> None:
    on = Settling(0.5)
    got = [one for n, kg in enumerate([*sway(40, 400.0, 0.2), *sway(40, 415.0, 0.2)]) if (one := on.feed(n / 10, kg))]
    assert len(got) == 1


def test_it_looks_ten_times_a_second_until_there_is_a_weight_and_then_twice_for_a_higher_level(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    looks = list[int]()
    monkeypatch.setattr("neckyoke.bridge.station.weight.settling.look", lambda track, *_: looks.append(len(track)))
    on = Settling(0.5)
    for n in range(100):
        on.feed(n / 10, 400.0)
    assert looks == list(range(1, 101))
    looks.clear()
    on.first = Estimate(400.0, "fair")
    for n in range(100, 140):
        on.feed(n / 10, 400.0)
    assert looks == []
    for n in range(140, 170):
        on.feed(n / 10, 430.0)
    assert looks
    assert {after - before for before, after in pairwise(looks)} == {5}


def test_what_stands_there_lately_is_the_median_of_a_second() -> None:
    on = Settling(0.5)
    assert on.level == 0.0
    for n, kg in enumerate([*[400.0] * 20, *[100.0] * 5]):
        on.feed(n / 10, kg)
    assert on.lately_kg() == 250.0


def test_what_sank_is_the_level_that_stands_there_now() -> None:
    on = Settling(0.5)
    for n, kg in enumerate([*[400.0] * 30, *[180.0] * 20]):
        on.feed(n / 10, kg)
    assert on.level == 400.0
    assert on.lately_kg() == 180.0
    on.sank()
    assert on.level == 180.0


def test_nothing_fed_is_nothing_weighed() -> None:
    assert Settling(0.5).final().grade == "none"


def test_the_half_second_means_that_still_hold_some_of_the_jump_are_left_out() -> None:
    found = level_stretch([*[0.0] * 10, *[400.0] * 20])
    assert found is not None
    assert len(found.values) == 17  # the jump is in five means: three of their bins are the level's own


@pytest.mark.parametrize(("kick_kg", "reaches_back"), [(250.0, False), (265.0, True)])
def test_a_kick_stops_the_window_where_half_a_second_of_it_is_seven_per_cent_off(
    kick_kg: float, *, reaches_back: bool
) -> None:
    found = level_stretch([*[400.0] * 20, kick_kg, *[400.0] * 20])  # (4 * 400 + 250) / 5 = 370, and 373
    assert found is not None
    assert (len(found.values) > 20) is reaches_back


def test_a_first_weight_reaches_over_no_silence() -> None:
    on = track(*[400.0 + n % 2 for n in range(30)])
    for n in range(25):
        on.add(8.0 + n / 10, 400.0 + n % 2)
    found = look(on, None)
    assert found is not None
    assert found.span_s <= 2.5


def test_the_whole_stay_is_weighed_in_the_end() -> None:
    on = Settling(0.5)
    for n, kg in enumerate([*ramp(0, 400, 8), *sway(60), *ramp(400, 0, 8)]):
        on.feed(n / 10, kg)
    assert on.final().kg == pytest.approx(400.0, rel=1e-3)
    assert on.final().grade == "good"
    assert on.final(unsure_kg=30.0).grade == "poor"
