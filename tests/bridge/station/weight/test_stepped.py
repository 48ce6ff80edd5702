"""A step within a plateau: how much of it the mean over the plateau has taken in."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.station.weight.stepped import taken_in_kg


def swaying(count: int, kg: float, percent: float, step_kg: float, at: int, seed: int = 0) -> list[float]:
    """Return values a tenth of a second apart of an animal that sways, with a step from place `at` on."""
    rng = random.Random(seed)
    hz, phase = rng.uniform(0.6, 2.0), rng.uniform(0.0, 6.3)
    sway = [kg * percent / 100 * math.sin(2 * math.pi * hz * n / 10 + phase) for n in range(count)]
    return [kg + one + (step_kg if n >= at else 0.0) for n, one in enumerate(sway)]


@pytest.mark.parametrize("step_kg", [10.0, 24.0, -10.0])
@pytest.mark.parametrize("percent", [0.3, 1.0, 2.0])
@pytest.mark.parametrize(("count", "at"), [(60, 20), (60, 30), (60, 45), (120, 30), (40, 20)])
def test_a_step_in_the_middle_is_taken_in_for_as_long_as_it_lasted(
    step_kg: float, percent: float, count: int, at: int
) -> None:
    values = swaying(count, 320.0, percent, step_kg, at)
    assert taken_in_kg(values, step_kg) == pytest.approx(abs(step_kg) * (count - at) / count, rel=0.2)


@pytest.mark.parametrize("step_kg", [10.0, 24.0, -10.0])
@pytest.mark.parametrize("percent", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("count", [40, 60, 120])
def test_what_came_as_the_animal_went_is_in_no_weight(step_kg: float, percent: float, count: int) -> None:
    values = swaying(count, 320.0, percent, 0.0, 0)
    assert taken_in_kg(values, step_kg) < 0.05 * abs(step_kg)


def test_where_sway_hides_it_half_of_it_may_be_in() -> None:
    """No more is known than before anything was seen: one half that it came within, and then anywhere."""
    values = swaying(60, 320.0, 8.0, 0.0, 0)
    assert taken_in_kg(values, 1.0) == pytest.approx(0.25, abs=0.02)


@pytest.mark.parametrize("values", [[], [320.0]])
def test_of_fewer_than_two_values_nothing_is_known(values: list[float]) -> None:
    assert taken_in_kg(values, -7.0) == 7.0


@given(st.lists(st.floats(0.0, 1e4), max_size=40), st.floats(-1e4, 1e4))
def test_it_is_never_more_than_the_step(values: list[float], step_kg: float) -> None:
    assert 0.0 <= taken_in_kg(values, step_kg) <= abs(step_kg) * (1 + 1e-9)


@given(st.lists(st.floats(100.0, 500.0), min_size=2, max_size=30), st.sampled_from([-20.0, -3.0, 3.0, 20.0]))
def test_it_is_what_sums_of_squares_said_one_by_one_give(values: list[float], step_kg: float) -> None:
    """A plain model: undo the step from each place on, and see how much is left beside the mean."""
    count = len(values)

    def squares(at: int) -> float:
        undone = [value - (step_kg if n >= at else 0.0) for n, value in enumerate(values)]
        mean = sum(undone) / count
        return sum((value - mean) ** 2 for value in undone)

    left = {at: squares(at) for at in range(1, count + 1)}  # at its end: it came as the animal went
    spread = 2 * 5 * max(min(left.values()), 1e-9) / count
    chances = {
        at: math.exp(min((left[count] - one) / spread, 700.0)) * (0.5 / (count - 1) if at < count else 0.5)
        for at, one in left.items()
    }
    taken = sum(chance * (count - at) / count for at, chance in chances.items()) / sum(chances.values())
    assert taken_in_kg(values, step_kg) == pytest.approx(abs(step_kg) * taken, rel=1e-3, abs=1e-6)
