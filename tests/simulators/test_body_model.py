"""The bodies and the indicator obey the physics and the trade they stand for."""

import math
import random
from dataclasses import replace
from itertools import pairwise
from statistics import fmean, pstdev

import pytest

from neckyoke.simulators.crush.body import Manner, Visit, _sway
from neckyoke.simulators.crush.indicator import Indicator, Shown

STILL = Manner(
    sway_percent=(0.0, 0.0), breath_percent=(0.0, 0.0), shifts_per_s=0.0, stay_s=(10.0, 10.0), stay_median_s=10.0
)


def standing(visit: Visit) -> list[float]:
    count = int((visit.leave_t - visit.all_on_t) * 50) - 1
    return [visit.force_kg(visit.all_on_t + n / 50) for n in range(1, count)]


def test_a_still_body_weighs_what_it_weighs_and_nothing_before_or_after() -> None:
    visit = Visit(random.Random(1), 400.0, STILL, 5.0)
    assert visit.on_t == 5.0 < visit.all_on_t < visit.leave_t < visit.off_t
    assert all(kg == pytest.approx(400.0) for kg in standing(visit))
    assert visit.force_kg(4.99) == visit.force_kg(visit.off_t + 0.1) == 0.0


def test_it_steps_on_in_two_stages_with_more_than_half_on_the_fore_feet() -> None:
    manner = replace(STILL, pause_chance=1.0, pause_s=(3.0, 3.0))
    visit = Visit(random.Random(2), 400.0, manner, 0.0)
    pause = [visit.force_kg(t / 10) for t in range(14, 30)]
    assert fmean(pause) == pytest.approx(400.0 * 0.55, rel=0.1)
    assert max(pause) - min(pause) < 1.0


@pytest.mark.parametrize("seed", range(5))
def test_jolts_change_the_mean_force_by_nothing(seed: int) -> None:
    """Newton: the mean vertical force between two moments of rest is the weight."""
    manner = replace(STILL, kicks_per_s=0.5, shifts_per_s=0.5, kick_percent=(20.0, 60.0))
    visit = Visit(random.Random(seed), 400.0, manner, 0.0)
    forces = standing(visit)
    assert max(forces) > 410.0
    assert fmean(forces) == pytest.approx(400.0, abs=0.05)


def test_sway_averages_out_and_leaning_does_not() -> None:
    long = replace(STILL, stay_s=(300.0, 300.0), stay_median_s=300.0)
    swaying = Visit(random.Random(3), 400.0, replace(long, sway_percent=(3.0, 3.0)), 0.0)
    leaning = Visit(
        random.Random(3), 400.0, replace(long, lean_chance=1.0, lean_percent=(-5.0, -5.0), lean_share=(0.4, 0.4)), 0.0
    )
    assert fmean(standing(swaying)) == pytest.approx(400.0, rel=2e-3)
    assert pstdev(standing(swaying)) == pytest.approx(400.0 * 0.03 / 2**0.5, rel=0.4)
    assert fmean(standing(leaning)) == pytest.approx(400.0 * (1 - 0.4 * 0.05), rel=2e-3)


def test_the_same_seed_gives_the_same_body() -> None:
    one, other = (Visit(random.Random(9), 500.0, Manner(), 1.0) for _ in range(2))
    assert standing(one) == standing(other)


def show(indicator: Indicator, kg: float, until: float = 4.0) -> list[Shown]:
    return list(indicator.samples(lambda t: kg if t >= 1.0 else 0.0, 0.0, until))


def test_the_indicator_rounds_to_its_interval_and_keeps_its_rate() -> None:
    shown = show(Indicator(rate_hz=5.0, interval_kg=2.0, noise_kg=0.0), 333.3)
    assert len(shown) == 20
    assert shown[-1].kg == 334.0
    assert all(one.kg is not None and one.kg % 2 == 0 for one in shown)


@pytest.mark.parametrize("kind", ["average", "smooth", "adaptive"])
def test_every_filter_arrives(kind: str) -> None:
    shown = show(Indicator(filter=kind, filter_s=0.6, noise_kg=0.0), 400.0)  # type: ignore[arg-type]
    assert shown[5].kg == 0.0
    assert shown[-1].kg == pytest.approx(400.0, abs=0.5)
    assert 50.0 < next(one.kg for one in shown if one.t >= 1.4 and one.kg is not None) < 390.0


def test_no_indication_above_max_and_nine_intervals() -> None:
    """OIML R 76-1:2006, 4.2.3."""
    at = Indicator(capacity_kg=1000.0, interval_kg=1.0, noise_kg=0.0)
    assert show(at, 1009.0)[-1][1:] == (1009.0, True, False)
    assert show(replace(at), 1010.0)[-1][1:] == (None, True, True)


def test_units_are_blank_while_it_moves() -> None:
    shown = show(Indicator(blank_moving=True), 400.0)
    moving = [one for one in shown if 1.1 < one.t < 1.5]
    assert all(one.kg is None and not one.stable for one in moving)
    assert shown[-1].kg == 400.0


def test_a_day_asked_for_piece_by_piece_is_the_day() -> None:
    visit = Visit(random.Random(4), 400.0, Manner(), 1.0)
    whole = list(Indicator(seed=4, jitter=0.5, lost=0.1).samples(visit.force_kg, 0.0, 9.0))
    piecewise = Indicator(seed=4, jitter=0.5, lost=0.1)
    pieces = [one for n in range(9) for one in piecewise.samples(visit.force_kg, float(n), n + 1.0)]
    assert [(one.kg, one.stable) for one in whole] == [(one.kg, one.stable) for one in pieces]
    assert all(after.t >= before.t for before, after in pairwise(whole))


def test_noise_is_the_normal_variates_of_the_seed_whether_drawn_here_or_by_the_library() -> None:
    """Days of all seeds stay what they were."""
    indicator, library = Indicator(noise_kg=0.07, seed=5), random.Random(5)

    assert [indicator._noise() for _ in range(9)] == [library.gauss(0.0, 0.07) for _ in range(9)]


def test_sway_is_the_normal_variates_of_the_seed_whether_drawn_here_or_by_the_library() -> None:
    even = Manner(sway_percent=(1.0, 1.0), sway_hz=(0.0, 0.0), second_harmonic=(0.0, 0.0), entry_extra=(0.0, 0.0))
    still = replace(even, frequency_drift=0.0, breath_percent=(0.0, 0.0))
    sway, library = _sway(random.Random(5), still, 0.0), random.Random(5)
    for _ in range(5):  # what is drawn evenly before
        library.random()
    phase, _, _ = (library.uniform(0, 2 * math.pi) for _ in range(3))
    _, louder = library.gauss(0, 1), library.gauss(0, 1)
    keep = math.exp(-1 / 50 / 1.5)
    for n in range(9):
        _, fresh = library.gauss(0, 1), library.gauss(0, 1)
        louder = keep * louder + math.sqrt(1 - keep * keep) * fresh
        assert sway(n / 50) == pytest.approx(0.01 * math.exp(0.3 * louder) * math.sin(phase))
