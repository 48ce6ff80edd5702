"""Two levels a person apart: which of them is the animal is not known, unless its feet explain the lower."""

import random

import pytest

from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.weight.apart import may_be_two, paused, rests
from neckyoke.bridge.station.weight.bins import Track
from neckyoke.bridge.station.weight.settling import Settling
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator
from neckyoke.simulators.crush.walk import Touch
from tests.bench.settling import weigh
from tests.bridge.station.platform.test_moved_grade import at_last

KG = 400.0
SHEEP = Settings("larkmoor", "crush", "indicator", capacity_kg=300.0, interval_kg=0.1, smallest_kg=16.0)


def stay(before: list[float], after: list[float], whole: list[float] | None = None) -> list[float]:
    """Return the bins of a stay at `KG` for two seconds; others are shares of it."""
    shares = [*before, *(whole or [1.0] * 20), *after]
    return [0.0, *(KG * share for share in [0.5 * shares[0], *shares, 0.5 * shares[-1]]), 0.0]


@pytest.mark.parametrize(
    ("before", "after", "two"),
    [
        ([], [], False),
        ([0.55] * 20, [], False),  # a pause on fore feet
        ([], [0.45] * 20, False),  # and on hind feet
        ([0.55] * 15, [0.45] * 8, False),  # on both: they do not carry the same
        ([0.72] * 5, [], True),  # too much for fore feet
        ([0.72] * 4, [], False),  # no rest yet
        ([0.65] * 5, [], False),
        ([0.67] * 5, [], True),
        ([0.45] * 9, [], False),
        ([0.43] * 5, [], True),  # too little for fore feet
        ([0.26] * 5, [], True),
        ([0.61] * 10, [], False),
        ([0.63] * 9, [], False),
        ([0.63] * 10, [], True),  # for a second: its sway is out of it
        ([0.61, 0.655] * 5, [], True),  # also where it sways
        ([0.55] * 32, [], False),
        ([0.55] * 33, [], True),  # no pause
        ([0.53, 0.57] * 17, [], True),
        ([0.2] * 9, [], False),  # one foot
        ([], [0.6] * 5, True),  # too much for hind feet
        ([], [0.6] * 4, False),
        ([], [0.52] * 9, False),
        ([], [0.45] * 21, True),  # nobody leaves one hind foot after the other so slowly
        ([], [*[0.47] * 8, *[0.45] * 13], True),  # nor swaying
        ([], [*[0.47] * 8, *[0.45] * 12], False),
        ([], [0.37] * 9, False),
        ([], [0.35] * 5, True),  # too little for hind feet
        ([0.87] * 9, [0.9] * 7, False),  # a display that creeps
        ([0.87] * 9, [0.87] * 9, True),  # it does not creep to the same on both sides
        ([0.9] * 4, [0.9] * 4, True),
        ([0.9] * 3, [0.9] * 4, False),  # in passing
        ([0.9] * 4, [0.9] * 3, False),
        ([0.9] * 4, [0.914] * 4, True),
        ([0.9] * 4, [0.917] * 4, False),
        ([0.89, 0.915] * 2, [0.9] * 4, True),
        ([0.88, 0.915] * 2, [0.9] * 4, False),  # that is no rest
        ([0.955] * 4, [0.955] * 4, True),
        ([0.965] * 4, [0.965] * 4, False),  # it sways so
        ([0.9] * 4 + [0.98] * 11, [0.9] * 4, True),
        ([0.84] * 9, [], True),
        ([0.51] * 8, [0.52, 0.5], True),  # the same on both sides
        ([0.51] * 8, [0.52, 0.45], False),
        ([0.55, *[0.51] * 5], [0.485, 0.485], True),  # any stretch of it, though it came to rest there from above
        ([], [0.2] * 5, True),  # what a person left behind who stepped off a lamb
        ([], [0.2] * 4, False),
        ([], [0.12] * 9, False),  # a foot, or less
        ([0.51, 0.53] * 3, [0.5, 0.5], True),  # also where it sways
        ([0.51] * 4, [0.51] * 2, False),
        ([0.51] * 5, [0.51] * 2, True),
        ([0.36, 0.36], [0.36] * 6, True),
    ],
)
def test_what_rested_beside_the_weight_and_is_no_pause_may_be_the_animal(
    before: list[float], after: list[float], *, two: bool
) -> None:
    assert may_be_two(stay(before, after), KG) is two


@pytest.mark.parametrize(
    ("whole", "two"),
    [
        ([*[0.93] * 8, *[1.0] * 26], True),  # somebody stepped on
        ([*[1.0] * 26, *[0.93] * 8], True),
        ([*[0.93] * 7, *[1.0] * 20], False),
        ([*[0.93] * 10, *[1.0] * 34], False),  # it leaned for a quarter of the time
        ([*[0.97] * 20, *[1.0] * 20], False),  # not far enough to be anybody
        ([*[0.91, 0.95] * 8, *[1.0] * 30], False),  # no level
        ([*[1.07] * 20, *[1.0] * 30], False),  # more stood there: that is no part of the weight, and seen elsewhere
    ],
)
def test_a_level_below_the_weight_while_all_feet_are_on_may_be_the_animal(whole: list[float], *, two: bool) -> None:
    assert may_be_two(stay([], [], whole), KG) is two


@pytest.mark.parametrize(
    ("shares", "held"),
    [
        ([*[0.72] * 8, *[1.0] * 30], range(3, 6)),
        ([*[1.0] * 30, *[0.6] * 8], range(35, 40)),
        ([*[0.51] * 8, *[1.0] * 30, 0.51, 0.51], range(8)),
        ([*[0.93] * 10, *[1.0] * 30], range(4)),
    ],
)
def test_what_the_display_held_did_not_rest(shares: list[float], held: range) -> None:
    bins = [KG * share for share in shares]
    assert may_be_two(bins, KG)
    assert not may_be_two(bins, KG, set(held))


def test_a_number_is_held_from_one_leap_to_the_next() -> None:
    track = Track(0.5)
    for n, kg in enumerate([100.0, 200.0, *[300.0] * 12, 396.0, *[400.0] * 20, 399.0]):
        track.add(n / 10, kg)
    assert track.held() == set(range(2, 14))


def test_a_weight_that_was_never_shown_is_not_held_against_anything() -> None:
    assert not may_be_two([*[100.0] * 30], KG)
    assert not may_be_two([], KG)


def test_what_rests_keeps_within_its_share_for_long_enough() -> None:
    bins = [100.0, 104.0, 105.0, 110.0, 200.0, 201.0, 202.0]
    assert rests(bins, 3, 0.05) == [(0, 3, 103.0), (4, 3, 201.0)]
    assert rests(bins, 4, 0.05) == []
    assert rests(bins, 4, 0.05, 200.0) == [(0, 4, 104.75)]
    assert rests([], 3, 0.05) == []


def test_it_promises_nothing() -> None:
    on, alone = Settling(0.5), Settling(0.5)
    for n, kg in enumerate(stay([0.72] * 8, [], [1.0] * 40)):
        on.feed(n / 10, kg)
    for n, kg in enumerate(stay([0.55] * 8, [], [1.0] * 40)):
        alone.feed(n / 10, kg)
    found = on.final()
    assert (found.kg, found.grade, found.limit) == (KG, "poor", "poor")
    assert alone.final().grade == "good"


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize(
    ("rate_hz", "how", "filter_s"), [(3.0, "average", 0.2), (4.0, "average", 0.05), (8.0, "average", 0.5)]
)
def test_a_person_on_the_platform_for_a_part_of_a_short_stay_is_in_no_weight_that_promises(
    rate_hz: float, how: Filter, filter_s: float, seed: int
) -> None:
    """Of a hundred such sheep with a person beside them for half of their stay some were graded, twice as heavy."""
    rng = random.Random(seed)
    manner = Manner(
        stay_median_s=4.0, stay_s=(3.0, 6.0), entry_s=(0.6, 0.8), leave_s=(0.8, 1.5), sway_percent=(0.5, 2.0)
    )
    visit = Visit(rng, rng.uniform(40.0, 70.0), manner, 4.0)
    long_s = visit.leave_t - visit.all_on_t
    on_t = visit.all_on_t + rng.uniform(0.2, 0.35) * long_s
    person = Touch("person", rng.uniform(0.4, 1.2) * visit.kg, on_t, on_t + rng.uniform(0.4, 0.6) * long_s, 0.3)

    def force(at: float) -> float:
        return person.force_kg(at) + (visit.force_kg(at) if visit.on_t <= at <= visit.off_t else 0.0)

    indicator = Indicator(rate_hz=rate_hz, filter=how, filter_s=filter_s, interval_kg=0.1, capacity_kg=300.0, seed=seed)
    for one in at_last(weigh(list(indicator.samples(force, 0.0, visit.off_t + 6.0)), SHEEP)):
        kg = one.weight.kg or 0.0
        assert one.weight.grade in {"poor", "none"} or abs(kg / visit.kg - 1) < 0.05


@pytest.mark.parametrize(
    ("before", "after", "half"),
    [
        ([0.55] * 7, [], True),
        ([0.55] * 6, [], False),
        ([0.55, 0.6] * 4, [], True),  # it sways
        ([0.53, 0.6] * 4, [], False),
        ([], [0.45] * 7, True),
        ([0.74] * 9, [0.37] * 9, False),
        ([0.71] * 9, [], True),
        ([], [0.39] * 9, True),
    ],
)
def test_what_rests_at_half_before_or_after_paused(before: list[float], after: list[float], *, half: bool) -> None:
    assert paused(stay(before, after), KG) is half


def test_what_never_weighed_so_much_did_not() -> None:
    assert not paused([200.0] * 30, KG)


@pytest.mark.parametrize(
    ("whole", "least"),
    [
        ([*[1.0] * 12, *[1.1, 1.2] * 7], True),  # for less than half of the time
        ([*[1.0] * 13, *[1.1, 1.2] * 6], False),
        ([*[1.0] * 11, *[1.1, 1.2] * 6], False),  # so short a one is weighed by its top
        ([*[1.0, 1.04] * 6, *[1.1, 1.2] * 7], True),
        ([*[1.0] * 12, *[0.86, 1.2] * 9], True),
        ([*[1.0] * 12, *[0.96, 1.04] * 9], False),  # it sways
    ],
)
def test_what_it_weighed_for_the_lesser_part_of_the_time_may_be_no_animals(whole: list[float], *, least: bool) -> None:
    """One threw itself about for sixteen seconds, and two readings a second made it stand still for six of them."""
    assert may_be_two(stay([], [], whole), KG) is least


def test_what_the_display_held_is_no_shoulder() -> None:
    bins = stay([0.9] * 4, [0.9] * 4)
    assert may_be_two(bins, KG)
    held = {place for place, kg in enumerate(bins) if kg == 0.9 * KG}
    assert not may_be_two(bins, KG, held)
