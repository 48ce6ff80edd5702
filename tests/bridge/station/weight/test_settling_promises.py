"""The grades keep their promises, and the weights are what they are said to be: the bench in small, with a fixed seed.

Promises (README): good, within 1 % in at least 99 of 100; fair, within 2 % in at least 95 of 100; no error above 5 % is
ever good or fair.  The bounds here leave the small sample room; `tests/bench/settling.py` measures a thousand a regime.
"""

import math
import random
from statistics import fmean

import pytest

from neckyoke.bridge.station.platform.happenings import Ended
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.weight.estimators import (
    agreed_level,
    fit_sine,
    moving_means,
    narrowest_half,
    settled_from,
    winsorised,
)
from neckyoke.protocols.readings import WeightReading
from neckyoke.simulators.crush.indicator import Indicator
from tests.bench.settling import REGIMES, Summary, run

STAYS = 60
WITHIN = {"calm": 0.98, "typical": 0.97, "restless": 0.9, "half-on": 0.95, "leaning": 0.82, "crowded": 0.82}
GIVEN = {"calm": 0.95, "typical": 0.95, "restless": 0.9}


@pytest.fixture(scope="module", params=sorted(REGIMES))
def measured(request: pytest.FixtureRequest) -> tuple[str, Summary]:
    name: str = request.param
    return name, run(name, STAYS, seed=7, rules=name in GIVEN)


def test_promises_are_kept(measured: tuple[str, Summary]) -> None:
    _, result = measured
    assert result.final.promises["good"].broken <= 1
    assert result.final.promises["fair"].broken <= 2
    assert result.final.promises["gross"].broken == 0
    assert result.final.promises["gross"].given >= 0.5 * STAYS  # nobody is served by a promise never made


def test_final_weights_are_right(measured: tuple[str, Summary]) -> None:
    name, result = measured
    assert result.final.within >= WITHIN.get(name, 0.75)
    if name in {"calm", "typical"}:
        assert result.final.rmse <= 0.3


def test_every_stay_is_one_weighing_or_flagged(measured: tuple[str, Summary]) -> None:
    name, result = measured
    if name == "overlap":
        assert result.unflagged <= 0.05 * STAYS
    else:
        assert result.miscounted <= 0.03 * STAYS


def test_first_weights_come_soon_and_more_often_than_the_baselines(measured: tuple[str, Summary]) -> None:
    name, result = measured
    if name not in GIVEN:
        return
    assert result.first.given >= GIVEN[name]
    times = sorted(result.first.times)
    assert times[int(0.9 * (len(times) - 1))] <= 3.5
    assert result.final.rmse <= result.rules["10 within 2 %"].rmse
    if name != "calm":
        assert result.first.given >= 1.5 * result.rules["10 within 2 kg"].given


# -- outside checks


@pytest.mark.parametrize("load", [0.2, 0.5, 0.9])
@pytest.mark.parametrize("repeat", range(5))
def test_a_good_static_load_stays_within_one_interval_for_five_seconds(load: float, repeat: int) -> None:
    """OIML R 76-1:2006, A.4.12 (4.4.2): about half of Max put on and disturbed, five repeats, watched for 5 s."""
    crush = Settings(site="larkmoor", name="crush", scale="indicator", capacity_kg=1500.0, interval_kg=0.5)
    kg = load * crush.capacity_kg + 0.1 * repeat

    def force(t: float) -> float:
        disturbed = 20.0 * math.exp(-2.0 * (t - 2.0)) * math.cos(9.0 * (t - 2.0))
        return 0.0 if t < 2.0 or t >= 16.0 else kg + disturbed

    indicator = Indicator(filter_s=0.3, interval_kg=0.5, capacity_kg=1500.0, noise_kg=0.1, seed=repeat)
    shown = [(one.t, one.kg) for one in indicator.samples(force, 0.0, 18.0) if one.kg is not None]
    on = Platform(crush, Memory())
    ended = [one for t, at in shown for one in on.weight(t, WeightReading(at)) if isinstance(one, Ended)]
    assert [one.weight.grade for one in ended] == ["good"]
    watched = [at for t, at in shown if 9.0 <= t < 14.0]
    assert ended[0].weight.kg is not None
    assert all(abs(at - ended[0].weight.kg) <= crush.interval_kg for at in watched)


@pytest.mark.parametrize(("cycles", "bound"), [(1.25, 1.16), (1.5, 1.10), (2.0, 1.09), (4.0, 1.02)])
def test_the_fit_comes_near_the_bound_for_a_level_beside_one_sinusoid(cycles: float, bound: float) -> None:
    """The Cramer-Rao bound with unknown frequency, times the white-noise variance over n, averaged over phase.

    (Own numeric computation of the bound; Andersson and Handel 2003 derive it.)  The fit's frequencies are on a grid,
    so the bound is approached, not met: within a factor of 1.3 in variance.
    """
    rng = random.Random(11)
    noise = 0.3
    errors = []
    for _ in range(600):
        phase, hz = rng.uniform(0, 2 * math.pi), rng.uniform(0.45, 1.2)
        values = [
            400 + 2.0 * math.sin(2 * math.pi * hz * n * 0.1 + phase) + rng.gauss(0, noise)
            for n in range(round(cycles / hz / 0.1))
        ]
        errors.append((fit_sine(values).level - 400) ** 2 / (noise**2 / len(values)))
    assert fmean(errors) <= 1.3 * bound


def test_a_plain_mean_is_worse_than_the_fit_at_a_cycle_and_a_quarter() -> None:
    """Worst bias of the mean at 1.25 cycles: 0.18 of the amplitude (own computation: sinc)."""
    biases = []
    for degree in range(0, 360, 10):
        values = [400 + 10 * math.sin(2 * math.pi * 0.5 * n * 0.1 + math.radians(degree)) for n in range(25)]
        biases.append((abs(fmean(values) - 400), abs(fit_sine(values).level - 400)))
    assert max(plain for plain, _ in biases) == pytest.approx(1.8, abs=0.15)
    assert max(fitted for _, fitted in biases) < 0.5


# -- the estimates one by one


def test_moving_means_have_a_place_for_each_window() -> None:
    assert moving_means([1.0, 2.0, 3.0, 4.0], 2) == [1.5, 2.5, 3.5]
    assert moving_means([1.0], 2) == []


def test_the_agreed_level_is_the_majoritys_and_not_the_mean() -> None:
    values = [400.0 + n % 3 for n in range(60)] + [380.0 + n % 3 for n in range(40)]
    assert agreed_level(values, 4.0) == pytest.approx(401.0, abs=0.2)
    assert fmean(values) == pytest.approx(393.0, abs=0.2)


def test_the_narrowest_half_is_blind_to_a_minority() -> None:
    assert narrowest_half([400.0, 400.5, 401.0, 390.0, 700.0]) == 1.0


def test_winsorising_draws_in_the_outermost() -> None:
    assert winsorised([10.0] * 18 + [1000.0, -1000.0]) == 10.0


def test_a_leading_transient_is_cut_and_a_steady_sway_is_not() -> None:
    sway = [400 + 4 * math.sin(n / 2) for n in range(80)]
    rising = [400 - 60 * math.exp(-n / 6) for n in range(80)]
    assert settled_from(sway, 15) == 0
    assert 10 <= settled_from(rising, 15) <= 40
