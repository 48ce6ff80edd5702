"""Drafting by head count: the count comes out, and little weight is given up against the best choice."""

import random
from collections.abc import Iterable
from statistics import fmean, stdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.job.pens.heads import Forecast, Heads, cut_after, first_come, forecast, given_up_kg
from tests.support.blind_choice import best_blind

GAIN = 0.9
"""kg/day the mob is expected to have made; the simulated mobs make 0.9 by a standard deviation of 0.15."""


def mob(seed: int, animals: int, days: int) -> tuple[dict[str, float], dict[str, float]]:
    """Draw a mob: last weights, and today's, in the order of coming.

    Spread of weights 25 kg (common practice, no source); of gains within a mob and of gut fill as Kenward (1987).
    """
    draw = random.Random(seed)
    gain = draw.gauss(GAIN, 0.15)
    last = {f"{n}": draw.gauss(300, 25) for n in range(animals)}
    now = {key: kg + days * draw.gauss(gain, 0.18) + draw.gauss(0, 0.016 * kg) for key, kg in last.items()}
    return last, {key: round(2 * kg) / 2 for key, kg in now.items()}


def pass_through(heads: Heads, today: Iterable[tuple[str, float]]) -> list[str]:
    took = []
    for key, kg in today:
        went = heads.goes(key, kg)
        heads.passed(key, kg, went=went)
        if went:
            took.append(key)
    return took


@pytest.mark.parametrize("animals", [40, 100, 400])
@pytest.mark.parametrize("days", [20, 60])
@pytest.mark.parametrize("heaviest", [True, False])
def test_exactly_so_many_go_and_little_weight_is_given_up(animals: int, days: int, *, heaviest: bool) -> None:
    ours, plain = [], []
    for seed in range(2 if animals == 400 else 8):
        last, now = mob(seed, animals, days)
        heads = Heads(animals // 3, {key: forecast(kg, days, GAIN) for key, kg in last.items()}, heaviest=heaviest)
        took = pass_through(heads, now.items())
        assert len(took) == animals // 3
        ours.append(given_up_kg(now, took, animals // 3, heaviest=heaviest))
        plain.append(given_up_kg(now, first_come(now.items(), animals // 3), animals // 3, heaviest=heaviest))
    assert fmean(ours) <= fmean(plain) / 3


def test_without_last_weights_the_count_comes_out_too() -> None:
    for seed in range(8):
        last, now = mob(seed, 60, 40)
        took = pass_through(Heads(20, dict.fromkeys(last)), now.items())
        assert len(took) == 20


def test_the_best_blind_choice_is_the_published_one() -> None:
    """Derman, Lieberman and Ross (1972): of two animals, one chosen blind: the mean of what is above nothing, by scipy.

    For many to come it tends to the best third of all, which is known only afterwards.
    """
    from scipy import stats

    assert best_blind(2, 1) == pytest.approx(stats.norm.expect(lambda x: max(x, 0.0)))
    third = stats.norm.expect(lb=stats.norm.ppf(2 / 3)) * 3
    gaps = [third - best_blind(animals, animals // 3) for animals in (30, 120, 300)]
    assert gaps[0] > gaps[1] > gaps[2] > 0
    assert gaps[2] < 0.02


def test_without_last_weights_little_more_is_given_up_than_the_best_blind_choice_does() -> None:
    """The best knows beforehand how the mob is spread; we learn it; tests/bench/heads.py has 1.2 to 4 times."""
    ours, best = [], []
    for seed in range(40):
        _, now = mob(seed, 40, 40)
        took = pass_through(Heads(13, dict.fromkeys(now)), now.items())
        top = fmean(sorted(now.values(), reverse=True)[:13])
        ours.append(given_up_kg(now, took, 13))
        best.append(top - fmean(now.values()) - stdev(now.values()) * best_blind(40, 13))
    assert fmean(best) < fmean(ours) < 2 * fmean(best)


@settings(deadline=None, max_examples=200)
@given(
    animals=st.lists(st.tuples(st.floats(100, 700), st.one_of(st.none(), st.floats(100, 700))), max_size=25),
    wanted=st.integers(1, 30),
    heaviest=st.booleans(),
)
def test_whoever_comes_the_count_is_what_was_asked_or_all(
    animals: list[tuple[float, float | None]], wanted: int, *, heaviest: bool
) -> None:
    """However wrong every forecast was."""
    expected = {str(n): None if said is None else Forecast(said, 5.0) for n, (_, said) in enumerate(animals)}
    heads = Heads(wanted, expected, heaviest=heaviest)
    assert heads.shortfall == max(0, wanted - len(animals))
    took = pass_through(heads, [(str(n), kg) for n, (kg, _) in enumerate(animals)])
    assert len(took) == min(wanted, len(animals))
    assert heads.left == wanted - len(took)


@settings(deadline=None, max_examples=100)
@given(st.lists(st.floats(200, 400), min_size=2, max_size=15, unique=True), st.data())
def test_with_true_forecasts_the_best_go(weights: list[float], data: st.DataObject) -> None:
    """Weights at least 5 kg apart, forecast to half a kilogram: the model sorts them."""
    apart = [200.0 + 5 * place for place, _ in enumerate(sorted(weights))]
    order = data.draw(st.permutations(range(len(apart))))
    wanted = data.draw(st.integers(1, len(apart)))
    heads = Heads(wanted, {str(n): Forecast(kg, 0.5) for n, kg in enumerate(apart)})
    took = pass_through(heads, [(str(n), apart[n]) for n in order])
    assert {int(key) for key in took} == set(range(len(apart) - wanted, len(apart)))


@settings(deadline=None, max_examples=60)
@given(
    errors=st.lists(st.integers(-30, 30).map(float), max_size=8),
    coming=st.lists(st.tuples(st.integers(280, 340), st.integers(2, 30)), min_size=2, max_size=12),
    heaviest=st.booleans(),
    data=st.data(),
)
def test_at_the_cut_half_an_animal_fewer_is_expected_beyond_it_than_places_are_left(
    errors: list[float], coming: list[tuple[int, int]], data: st.DataObject, *, heaviest: bool
) -> None:
    """The equation of `heads.py`, by scipy: among the others to come, each as those weighed have moved its forecast.

    All errors but one part count (as if one animal more had come as forecast); from the fourth on their spread does.
    """
    from scipy import stats

    places = data.draw(st.integers(1, len(coming) - 1))
    expected: dict[str, Forecast | None] = {f"c{n}": Forecast(kg, sd) for n, (kg, sd) in enumerate(coming)}
    heads = Heads(places, expected | {f"e{n}": Forecast(300.0, 5.0) for n, _ in enumerate(errors)}, heaviest=heaviest)
    for n, error in enumerate(errors):
        heads.passed(f"e{n}", 300.0 + error, went=False)
    off = sum(errors) / (len(errors) + 1)
    wider = stdev(errors) / 5.0 if len(errors) >= 4 else 1.0
    cut = heads.cut_kg
    assert cut is not None
    beyond = [(stats.norm.sf if heaviest else stats.norm.cdf)(cut, kg + off, max(0.5, sd * wider)) for kg, sd in coming]
    assert sum(beyond) * (len(coming) - 1) / len(coming) == pytest.approx(places - 0.5, abs=0.01)


def test_what_the_first_show_moves_the_cut() -> None:
    """All are 20 kg heavier than forecast: the cut follows, and the best still go."""
    heads = Heads(2, {str(n): Forecast(300.0 + 10 * n, 4.0) for n in range(6)})
    before = heads.cut_kg
    assert before is not None
    assert 330 < before < 345
    for n in (0, 1, 2):
        assert not heads.goes(str(n), 320.0 + 10 * n)
        heads.passed(str(n), 320.0 + 10 * n, went=False)
    after = heads.cut_kg
    assert after is not None
    assert after - before > 10
    assert not heads.goes("3", 350.0)
    heads.passed("3", 350.0, went=False)
    assert heads.goes("4", 360.0)
    assert heads.cut_kg is None, "as many places as animals: all go"


def test_one_that_comes_twice_is_one_animal() -> None:
    heads = Heads(1, {"a": Forecast(300, 5), "b": Forecast(300, 5)})
    heads.passed("a", 310, went=True)
    assert heads.left == 0
    heads.passed("a", 311, went=True)
    assert (heads.left, heads.to_come) == (0, 1)
    assert heads.goes("a", 311)
    assert not heads.goes("b", 400)
    heads.passed("a", 311, went=False)
    assert heads.left == 1


def test_one_who_was_not_expected_takes_a_place_like_any_other() -> None:
    heads = Heads(1, {"a": Forecast(300, 5)})
    assert heads.goes("stranger", 350)
    assert not heads.goes("stranger", 250)
    heads.passed("stranger", 350, went=True)
    assert not heads.goes("a", 400)


def test_the_cut_after_the_fact_lies_between_the_last_that_goes_and_the_first_that_stays() -> None:
    assert cut_after([300, 340, 320, 310], 2) == (320, 310)
    assert cut_after([300, 340, 320, 310], 1, heaviest=False) == (300, 310)
    assert cut_after([300, 340], 2) is None


def test_a_forecast_is_wider_the_longer_ago_and_the_heavier() -> None:
    near, far = forecast(300, 14, 0.5), forecast(300, 112, 0.5)
    assert (near.kg, far.kg) == (307, 356)
    assert near.sd_kg < far.sd_kg
    assert far.sd_kg == pytest.approx(((0.02 * 356) ** 2 + (0.18 * 112) ** 2) ** 0.5)
