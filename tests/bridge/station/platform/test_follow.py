"""Animals that follow each other closely, or behind a display that shows hardly a gap: each is weighed, and once."""

import random
from collections.abc import Callable

import pytest

from neckyoke.bridge.station.platform.dips.dip import Dip
from neckyoke.bridge.station.platform.happenings import Ended
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.weight.lag import Lag
from neckyoke.bridge.station.weight.settling import Known, Settling
from neckyoke.protocols.readings import WeightReading
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator
from neckyoke.simulators.crush.walk import Touch
from tests.bridge.station.platform.test_platform_table import ends

CALVES = Settings("larkmoor", "crush", "indicator", capacity_kg=1000.0, interval_kg=0.5, smallest_kg=25.0)
APART_S = 8.0
"""The first animals are so far apart that a slow display is known by them."""
KNOWN = 5


def stands(rng: random.Random, kg: float, on_t: float, seconds: float, entry_s: float = 0.8) -> Visit:
    manner = Manner(stay_median_s=seconds, stay_spread=0.0, stay_s=(0.3, 60.0), entry_s=(entry_s, entry_s))
    return Visit(rng, kg, manner, on_t)


def follow(
    kgs: list[float], gap_s: Callable[[], float], seconds: float, seed: int, entry_s: float, known_kg: float = 120.0
) -> list[Visit]:
    """Let the first ones come far apart, and then the others, each so long behind the last foot of the one before."""
    rng = random.Random(seed)
    visits: list[Visit] = []
    t = 4.0
    for kg in [known_kg] * KNOWN:
        visits.append(stands(rng, kg, t, 6.0))
        t = visits[-1].off_t + APART_S
    for kg in kgs:
        visits.append(stands(rng, kg, t, seconds, entry_s))
        t = visits[-1].off_t + gap_s()
    return visits


def told(visits: list[Visit], indicator: Indicator, settings: Settings, gate: Touch | None = None) -> list[Ended]:
    def force(at: float) -> float:
        stood = sum(one.force_kg(at) for one in visits if one.on_t <= at <= one.off_t)
        return stood + (gate.force_kg(at) if gate else 0.0)

    on = Platform(settings, Memory())
    shown = indicator.samples(force, 0.0, visits[-1].off_t + 12.0)
    return ends(one for reading in shown for one in on.weight(reading.t, WeightReading(reading.kg)))


def lost(visits: list[Visit], got: list[Ended]) -> list[int]:
    """Return whom no stay belongs to: each belongs to the one it shares most time with."""
    shared = [[min(end.off, one.off_t) - max(end.on, one.on_t) for one in visits] for end in got]
    return sorted(set(range(len(visits))) - {max(range(len(visits)), key=times.__getitem__) for times in shared})


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("filter_s", [1.0, 1.4])
@pytest.mark.parametrize(
    ("kgs", "gap_s", "seconds", "entry_s"),
    [
        ([170.0, 90.0, 61.0, 135.0, 65.0, 150.0, 92.0], (0.3, 0.8), 2.5, 0.6),
        ([175.0, 62.0, 180.0, 67.0, 166.0, 62.0], (0.5, 1.2), 9.0, 0.6),  # a third of what was there before
        ([180.0, 67.0, 145.0, 70.0], (1.2, 1.5), 8.0, 3.5),  # and it takes its time to step on
    ],
)
def test_behind_a_slow_display_that_is_known_nobody_is_lost(
    kgs: list[float], gap_s: tuple[float, float], seconds: float, entry_s: float, filter_s: float, seed: int
) -> None:
    """The display fell to a third or a half in between, and rose by too little: two became one stay."""
    rng = random.Random(seed)
    visits = follow(kgs, lambda: rng.uniform(*gap_s), seconds, seed, entry_s)
    got = told(visits, Indicator(rate_hz=10.0, filter="smooth", filter_s=filter_s, interval_kg=0.5), CALVES)
    assert lost(visits, got) == []
    assert len(got) == len(visits)


def test_that_it_was_bare_is_not_forgotten_when_the_next_one_is_on() -> None:
    """At two readings a second, undone, the next was higher than what was seen of the one before: taken for its top."""
    one = Settling(0.1, Known(lag=Lag(0.515)))
    shown = [0.0, 8.7, 15.4, 22.2, 26.7, 29.2, 30.5, 31.1, 31.4, 31.6, 30.6]
    for n, kg in enumerate(shown):
        one.feed(n / 2, kg)
    dip = Dip(len(shown) / 2, one, 0.0)
    for n, kg in enumerate([21.7, 13.6, 15.2, 20.9], start=len(shown)):
        dip.sink(n / 2, kg)
        one.feed(n / 2, kg)
    assert dip.was_bare()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("share", [0.6, 0.75, 0.95])
@pytest.mark.parametrize(
    ("rate_hz", "how", "filter_s", "gap_s"),
    [(20.0, "smooth", 0.95, (2.5, 6.0)), (8.0, "adaptive", 0.64, (2.5, 3.0)), (3.0, "average", 0.05, (0.9, 1.5))],
)
def test_a_gate_that_is_left_hanging_joins_no_two_animals(
    rate_hz: float, how: Filter, filter_s: float, gap_s: tuple[float, float], share: float, seed: int
) -> None:
    """More than half the smallest animal was never next to nothing: what had sunk to it was the animal still."""
    rng = random.Random(seed)
    visits = follow([140.0, 122.0, 68.0, 134.0, 81.0, 143.0], lambda: rng.uniform(*gap_s), 2.5, seed, 0.8)
    gate = Touch("gate", share * CALVES.smallest_kg, visits[KNOWN].on_t + 1.0, 999.0, 0.2)
    got = told(visits, Indicator(rate_hz=rate_hz, filter=how, filter_s=filter_s, interval_kg=0.5), CALVES, gate)
    assert lost(visits, got) == []
    assert len(got) == len(visits)


@pytest.mark.parametrize(("seconds", "more"), [(1.2, 1.14), (2.0, 1.02), (2.0, 1.08), (3.0, 1.02)])
def test_who_is_hardly_heavier_than_the_smallest_is_told_though_a_slow_display_never_shows_all_of_it(
    seconds: float, more: float
) -> None:
    visits = follow([more * 100.0] * 4, lambda: 6.0, seconds, 1, 0.8, 300.0)
    settings = Settings("larkmoor", "crush", "indicator", capacity_kg=1000.0, interval_kg=0.5, smallest_kg=100.0)
    got = told(visits, Indicator(rate_hz=10.0, filter="smooth", filter_s=1.2, interval_kg=0.5), settings)
    assert lost(visits, got) == []
    assert len(got) == len(visits)


@pytest.mark.parametrize("seconds", [0.3, 0.5])
def test_a_knock_behind_a_slow_display_is_none_however_heavy_it_was(seconds: float) -> None:
    rng = random.Random(2)
    visits = follow([], lambda: 6.0, 6.0, 2, 0.8, 300.0)
    knock = Touch("gate", 120.0, visits[-1].off_t + 5.0, visits[-1].off_t + 5.0 + seconds, 0.1)
    visits.append(stands(rng, 300.0, knock.off_t + 7.0, 5.0))
    settings = Settings("larkmoor", "crush", "indicator", capacity_kg=1000.0, interval_kg=0.5, smallest_kg=100.0)
    got = told(visits, Indicator(rate_hz=10.0, filter="smooth", filter_s=1.2, interval_kg=0.5), settings, knock)
    assert len(got) == len(visits)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("gap_s", [0.2, 0.4])
def test_who_comes_while_a_slow_display_is_far_from_nothing_weighs_what_it_weighs(gap_s: float, seed: int) -> None:
    """Its smoothing was undone as if it had begun at nothing: a cow of 760 kg weighed more than five tons, poor."""
    rng = random.Random(seed)
    visits = follow([rng.uniform(400.0, 900.0) for _ in range(12)], lambda: gap_s, 0.6, seed, 1.2)
    indicator = Indicator(rate_hz=20.0, filter="smooth", filter_s=1.4, interval_kg=0.4, capacity_kg=2000.0)
    assert max(one.weight.kg or 0.0 for one in told(visits, indicator, CALVES)) < 1100.0


def test_undone_from_where_the_display_rested_it_is_level_where_nothing_moved() -> None:
    one = Settling(0.5, Known(lag=Lag(0.6)))
    one.rested_kg = 200.0
    for n in range(30):
        one.feed(n / 10, 200.0)
    assert one.stands_kg == pytest.approx(200.0)
    assert one.stood_s(199.0) == pytest.approx(3.0)
    assert one.stood_s(201.0) == 0.0
    assert one.undone(2.0) == pytest.approx([200.0] * len(one.undone(2.0)))
    one.shift(50.0)
    assert one.rested_kg == 150.0
    assert one.stands_kg == pytest.approx(150.0)
