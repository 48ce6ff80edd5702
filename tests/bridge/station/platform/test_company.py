"""A person who stands on the platform while animals follow each other is in no weight that promises."""

import random

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.platform.company import Company
from neckyoke.bridge.station.settings import Settings
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator
from neckyoke.simulators.crush.walk import Touch
from tests.bench.settling import weigh
from tests.bridge.station.platform.test_platform_table import ends, feed, platform, ramp

STEERS = Settings("larkmoor", "crush", "indicator", capacity_kg=1500.0, interval_kg=0.5, smallest_kg=25.0)


def promised(
    person_kg: float, rate_hz: float, how: Filter, filter_s: float, gap_s: tuple[float, float], seed: int
) -> list[tuple[float, bool, float]]:
    """Let twenty steers follow each other while a person stands there from within the tenth to within the fourteenth.

    Return of each that got a good or fair weight the error in per cent, whether the person stood beside it, its weight.
    """
    rng = random.Random(seed)
    visits, t = list[Visit](), 4.0
    for _ in range(20):
        visits.append(Visit(rng, rng.uniform(280.0, 360.0), Manner(stay_median_s=4.0), t))
        t = visits[-1].off_t + rng.uniform(*gap_s)
    on_t, off_t = (rng.uniform(visit.on_t, visit.off_t) for visit in (visits[9], visits[13]))
    person = Touch("person", person_kg, on_t, off_t)

    def force(at: float) -> float:
        return person.force_kg(at) + sum(one.force_kg(at) for one in visits if one.on_t <= at <= one.off_t)

    indicator = Indicator(rate_hz=rate_hz, filter=how, filter_s=filter_s, capacity_kg=1500.0, seed=seed)
    found = list[tuple[float, bool, float]]()
    for end in ends(weigh(list(indicator.samples(force, 0.0, t + 5.0)), STEERS)):
        visit = max(visits, key=lambda one, end=end: min(end.off, one.off_t) - max(end.on, one.on_t))  # type: ignore[misc]
        if end.weight.grade in {"good", "fair"} and end.weight.kg is not None:
            beside = on_t < visit.leave_t and off_t > visit.all_on_t
            found.append((100 * (end.weight.kg / visit.kg - 1), beside, visit.kg))
    return found


@pytest.mark.parametrize("person_kg", [60.0, 75.0, 90.0])
@pytest.mark.parametrize("rate_hz", [5.0, 20.0])
@pytest.mark.parametrize(
    ("how", "filter_s", "gap_s"),
    [
        ("average", 0.1, (0.2, 0.6)),
        ("average", 0.5, (0.5, 1.0)),
        ("smooth", 1.0, (0.2, 0.6)),
        ("adaptive", 1.0, (0.2, 0.6)),
    ],
)
def test_a_person_who_stands_there_while_animals_follow_is_in_no_weight_that_promises(
    person_kg: float, rate_hz: float, how: Filter, filter_s: float, gap_s: tuple[float, float]
) -> None:
    """It was good with 17 to 28 % too much, and with as much too little once falls had ended at the person's weight."""
    for seed in (0, 3):
        found = promised(person_kg, rate_hz, how, filter_s, gap_s, seed)
        assert [one for one in found if abs(one[0]) > 5.0] == []
        assert len(found) >= 4, "and of those who were alone enough keep their grade"


# -- what is left before and after


def company(*lows_kg: float) -> Company:
    """Let animals come and go, between which so little was left."""
    found = Company()
    for kg in lows_kg:
        found.lowest.see(0.0, kg, 0.5)
        found.comes(0.0, 0.5)
    return found


def beside(
    lows_kg: tuple[float, ...], after_kg: float, *, rested: bool = False, heavier_kg: float | None = None
) -> float:
    """Return what may have stood beside the last of some animals, after which so little was left."""
    found = company(*lows_kg)
    for t in (0.0, 0.5) if rested else (0.0,):
        found.lowest.see(t, after_kg, 0.5)
    return found.goes(0.0, heavier_kg, 0.5)


@pytest.mark.parametrize(
    ("lows_kg", "after_kg", "beside_kg"),
    [
        ((0.0, 0.0, 75.0), 75.0, 75.0),
        ((0.0, 0.0, 75.0), 90.0, 75.0),  # no more than the least on either side
        ((0.0, 0.0, 75.0), 40.0, 40.0),
        ((0.0, 0.0, 75.0), 0.5, 0.0),  # bare, within an interval
        ((0.0, 0.0, 75.0), 1.0, 1.0),
        ((0.0, 0.0, 0.5), 75.0, 0.0),
        ((60.0, 90.0), 75.0, 75.0),  # too few to say what is usual
        ((60.0, 80.0, 90.0, 70.0, 75.0), 75.0, 0.0),  # they overlap, or the display is slow
        ((80.0, 80.0, 80.0, 80.0, 150.0), 155.0, 150.0),
    ],
)
def test_more_than_is_usual_on_both_sides_may_have_stood_there(
    lows_kg: tuple[float, ...], after_kg: float, beside_kg: float
) -> None:
    assert beside(lows_kg, after_kg) == beside_kg


@pytest.mark.parametrize(
    ("after_kg", "rested", "beside_kg"), [(60.0, True, 60.0), (60.0, False, 0.0), (30.0, True, 30.0), (29.5, True, 0.0)]
)
def test_what_rests_there_afterwards_may_have_come_on_with_it(
    after_kg: float, beside_kg: float, *, rested: bool
) -> None:
    """Lighter than any person it is a gate, or mud, that was hung or left as the animal went."""
    assert beside((0.0, 0.0), after_kg, rested=rested) == beside_kg


@pytest.mark.parametrize(
    ("heavier_kg", "beside_kg"), [(None, 0.0), (-20.0, 0.0), (35.0, 0.0), (35.5, 70.0), (80.0, 70.0)]
)
def test_where_something_is_always_left_one_far_heavier_than_its_mob_may_have_company(
    heavier_kg: float | None, beside_kg: float
) -> None:
    """That is, where without what was left it would be nearer to what its mob weighs."""
    assert beside((70.0, 73.0, 76.0, 79.0, 70.0), 70.0, heavier_kg=heavier_kg) == beside_kg


@pytest.mark.parametrize(
    ("lows_kg", "beside_kg"),
    [
        ((48.5, 64.5, 49.0, 71.5, 48.0, 50.0, 57.0), 57.0),  # four within two kilograms: something lies there
        ((48.5, 64.5, 53.0, 71.5, 48.0, 50.5, 57.0), 0.0),
        (
            (48.0, 48.5, 49.0, 50.0, 52.5, 53.0, 55.0, 60.0, 64.0, 70.0, 57.0),
            0.0,
        ),  # it was so, and is no more among the last nine
        ((9.0, 9.5, 10.0, 9.0, 20.0, 30.0, 11.0), 0.0),  # lighter than any person
    ],
)
def test_where_gap_after_gap_ends_at_the_same_something_lies_there_and_nothing_left_is_usual(
    lows_kg: tuple[float, ...], beside_kg: float
) -> None:
    """A gate that was hung while animals followed closely: weights were good with 20 % too much."""
    assert beside(lows_kg, 65.0) == beside_kg


def test_of_what_is_left_no_more_than_a_person_counts_against_the_mob() -> None:
    lows_kg = (150.0, 153.0, 156.0, 159.0, 150.0)
    assert [beside(lows_kg, 150.0, heavier_kg=kg) for kg in (40.0, 40.5)] == [0.0, 150.0]


def test_an_indicator_that_says_nothing_tells_of_no_company() -> None:
    found = Company()
    found.comes(0.0, 0.5)
    assert found.goes(0.0, None, 0.5) == 0.0


def test_a_person_beside_one_of_three_is_in_its_grade() -> None:
    """In steps drawn by hand: a gap of three tenths of a second is too short to rest in."""
    shown = [(2.0, 0.0), *ramp(0, 300, 0.8), (2.5, 300.0), (2.5, 375.0), *ramp(375, 75, 0.3), (0.3, 75.0)]
    shown += [*ramp(75, 395, 0.8), (5.0, 395.0), *ramp(395, 75, 0.3), (0.3, 75.0)]
    shown += [*ramp(75, 355, 0.8), (2.5, 355.0), (2.5, 280.0), *ramp(280, 0, 0.5), (3.0, 0.0)]
    got = ends(feed(platform(), *shown))
    assert [one.weight.grade for one in got] == ["poor", "poor", "poor"]
    assert got[1].weight.kg == pytest.approx(395.0)
    assert all(Flag.INTERRUPTED not in one.flags for one in got)


def test_what_three_gaps_all_came_down_to_is_known_and_two_tell_nothing() -> None:
    company = Company()
    floors = []
    for n, low_kg in enumerate((7.0, 6.0, 9.0, 8.0, 12.0)):
        company.lowest.see(float(n), low_kg, 0.5)
        floors.append(company.comes(1.0, 0.5))
    assert floors == [0.0, 0.0, 5.0, 5.0, 7.0]
