"""How long an indicator is on its way, and the first weights that this allows."""

import math
import random

import pytest

from neckyoke.bridge.station.platform.happenings import SettledAt
from neckyoke.bridge.station.weight.arrival import FEW, Arrivals, nearly
from neckyoke.bridge.station.weight.settling import Known, Settling
from tests.bridge.station.platform.test_platform_table import ends, feed, platform, ramp


def shown(kg: float, creeps_s: float, stands_s: float = 5.0, sways: float = 0.0, seed: int = 0) -> list[float]:
    """Return what is shown, ten a second: the last five per cent come by this time constant."""
    phase = random.Random(seed).uniform(0, 6.3)
    ramp = [kg * n / 5 for n in range(5)]
    way = [0.05 * math.exp(-n / 10 / creeps_s) if creeps_s else 0.0 for n in range(round(10 * stands_s))]
    stands = [kg * (1 - off + sways * math.sin(phase + 0.9 * n)) for n, off in enumerate(way)]
    return ramp + stands + ramp[::-1]


def learned(creeps_s: float, animals: int = 12, sways: float = 0.0) -> Arrivals:
    told = Arrivals()
    for n in range(animals):
        told.learn(shown(250.0 + 20 * n, creeps_s, sways=sways, seed=n), 250.0 + 20 * n, 4.0)
    return told


@pytest.mark.parametrize("creeps_s", [0.2, 0.5, 1.0])
@pytest.mark.parametrize("sways", [0.0, 0.01])
def test_an_indicator_is_on_its_way_until_the_rest_is_small(creeps_s: float, sways: float) -> None:
    """The last 5 % come by an exponential, of which 0.7 % are left after ln(5 / 0.7) time constants."""
    bins = learned(creeps_s, sways=sways).bins
    assert bins is not None
    assert bins / 10 == pytest.approx(creeps_s * math.log(5 / 0.7), abs=0.25 + 20 * sways)


@pytest.mark.parametrize("sways", [0.0, 0.01])
def test_one_that_shows_what_stands_there_at_once_is_not(sways: float) -> None:
    bins = learned(0.0, sways=sways).bins
    assert bins is not None
    assert bins <= 3


def test_few_animals_and_those_that_stood_for_a_moment_tell_nothing() -> None:
    assert learned(0.5, animals=FEW - 1).bins is None
    assert learned(0.5, animals=FEW).bins is not None
    told = Arrivals()
    for _ in range(9):
        told.learn(shown(300.0, 0.5, stands_s=1.0), 300.0, 1.0)
    assert told.bins is None


def test_an_indicator_that_was_changed_is_learned_anew() -> None:
    told = learned(1.0)
    before = told.bins
    for n in range(15):
        told.learn(shown(300.0 + n, 0.0), 300.0 + n, 4.0)
    assert told.bins == 0 != before


def test_one_that_was_made_slower_is_known_after_a_few_animals() -> None:
    """At a quick one's grades, slow weights are promised that are 2 to 4 % short: found by an attacker."""
    told = learned(0.0, animals=15)
    assert told.bins == 0
    for n in range(4):
        told.learn(shown(300.0 + n, 0.8), 300.0 + n, 4.0)
    assert told.bins is not None
    assert told.bins >= 10


def test_nearly_is_nine_tenths_and_a_little() -> None:
    assert nearly([0.0, 270.0, 276.0, 300.0], 300.0) == 2
    assert nearly([0.0, 270.0], 300.0) is None


def first_s(values: list[float], arrives: int | None, heaviest_kg: float | None = 300.0) -> float | None:
    """Return how long after the last foot the first weight comes."""
    on = Settling(0.5, Known(usual_kg=heaviest_kg, arrives=arrives, heaviest_kg=heaviest_kg))
    for n, kg in enumerate(values):
        if on.feed(n / 10, round(2 * kg) / 2):
            return n / 10 - 0.5
    return None


def test_behind_an_indicator_that_is_known_to_be_quick_the_first_weight_comes_early() -> None:
    quick = shown(300.0, 0.0, sways=0.003)
    unknown_s, known_s = first_s(quick, None), first_s(quick, 0)
    assert unknown_s is not None
    assert known_s is not None
    assert known_s <= 1.0
    assert unknown_s >= 1.4


def test_behind_one_that_is_known_to_be_slow_nothing_is_given_while_it_is_on_its_way() -> None:
    slow = shown(300.0, 0.8, sways=0.001)
    known_s = first_s(slow, 16)
    assert known_s is not None
    assert known_s >= 1.3


def test_an_animal_that_sways_much_is_waited_for() -> None:
    calm_s, wild_s = (first_s(shown(300.0, 0.0, sways=size), 0) for size in (0.002, 0.04))
    assert calm_s is not None
    assert wild_s is None or wild_s > calm_s + 0.5


def grades(values: list[float], known: Known) -> list[tuple[float, str]]:
    """Return each first weight, roughly, and its grade."""
    on = Settling(0.5, known)
    given = [one for n, kg in enumerate(values) if (one := on.feed(n / 10, round(2 * kg) / 2))]
    return [(round(one.kg or 0.0, -1), one.grade) for one in given]


def paused(kg: float, pause_s: float) -> list[float]:
    """Return what is shown of an animal that stands on its fore feet for so long; they carry 55 %."""
    half = 0.55 * kg
    up = [half * n / 6 for n in range(6)]
    return [*up, *[half] * round(10 * pause_s), *[half + (kg - half) * n / 6 for n in range(6)], *[kg] * 30]


@pytest.mark.parametrize("pause_s", [0.8, 1.0, 1.2])
@pytest.mark.parametrize("usual_kg", [None, 250.0])
def test_a_pause_half_on_of_a_heavy_one_among_light_ones_gives_no_early_weight(
    pause_s: float, usual_kg: float | None
) -> None:
    """The dose was shown by half the weight: 16 of 30 cows among calves (simulated, feet one by one; no source)."""
    known = Known(usual_kg=usual_kg, arrives=0, heaviest_kg=460.0)
    assert grades(paused(480.0, pause_s), known) == [(480.0, "fair")]


@pytest.mark.parametrize("pause_s", [0.8, 1.0, 1.2])
@pytest.mark.parametrize("usual_kg", [None, 220.0])
def test_nor_does_one_of_which_the_half_outweighs_all_before(pause_s: float, usual_kg: float | None) -> None:
    """264 kg on the fore feet of a cow, after calves of 220 kg: it was shown as hers, early and fair."""
    known = Known(usual_kg=usual_kg, arrives=0, heaviest_kg=235.0)
    assert grades(paused(480.0, pause_s), known) == [(480.0, "fair")]


@pytest.mark.parametrize(("share", "early"), [(0.74, False), (0.76, True), (1.0, True), (1.09, True), (1.11, False)])
def test_only_what_may_be_one_of_the_mob_is_weighed_early(share: float, *, early: bool) -> None:
    came_s = first_s(shown(300.0, 0.0), 0, 300.0 / share)
    assert came_s is not None
    assert (came_s < 1.0) == early


def test_while_few_were_weighed_nothing_is_given_early_since_it_may_be_half_an_animal() -> None:
    few_s, many_s = (first_s(shown(300.0, 0.0), 0, kg) for kg in (None, 300.0))
    assert few_s is not None
    assert many_s is not None
    assert few_s >= many_s + 0.5


def test_the_platform_knows_the_heaviest_of_its_last_animals() -> None:
    light, heavy = ((2, 0.0), *ramp(0, 250, 0.6), (4, 250.0)), ((2, 0.0), *ramp(0, 460, 0.6), (4, 460.0))
    pauses = ((2, 0.0), *[(0.1, kg) for kg in paused(480.0, 1.0)], (2, 0.0))
    got = feed(platform(), *[one for _ in range(6) for one in light], *heavy, *light, *pauses)
    last = ends(got)[-1].number
    given = [(one.weight.kg, one.weight.grade) for one in got if isinstance(one, SettledAt) and one.number == last]
    assert given == [(480.0, "fair")]


def test_what_may_be_half_an_animal_is_given_no_sooner_than_before() -> None:
    """It rose as two feet do, and nobody knows what the mob weighs."""
    on = Settling(0.5, Known(arrives=0, heaviest_kg=300.0))
    came = [n for n, kg in enumerate(shown(300.0, 0.0)) if on.feed(n / 10, kg)]
    assert came[0] / 10 - 0.5 >= 1.3


def test_what_is_no_stay_yet_uses_up_no_first_weight() -> None:
    """A light one may stand there for seconds before it is taken for a stay."""
    on = Settling(0.5)
    assert [on.feed(n / 10, 300.0, looks=False) for n in range(30)] == [None] * 30
    assert on.feed(3.0, 300.0) is not None
