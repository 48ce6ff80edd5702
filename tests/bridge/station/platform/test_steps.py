"""The indicator's steps, told wrongly and seen rightly."""

import random

import pytest

from neckyoke.bridge.station.platform.empty.steps import FEW, Steps


def shown(step_kg: float, count: int = 200, seed: int = 1) -> list[float]:
    """Show a sway of one to three kilograms in steps."""
    rng = random.Random(seed)
    return [round(rng.gauss(400.0, 2.0) / step_kg) * step_kg for _ in range(count)]


@pytest.mark.parametrize(
    ("told_kg", "real_kg", "used_kg"),
    [
        (0.5, 0.5, 0.5),
        (0.1, 0.5, 0.5),  # told too fine
        (2.5, 0.5, 0.5),  # too coarse
        (0.5, 1.0, 0.5),  # twice may be chance
        (1.0, 0.5, 1.0),
        (0.5, 0.2, 0.2),
        (0.02, 0.5, 0.02),  # so far beyond, they are no steps
        (0.45359237, 0.45359237, 0.45359237),
    ],
)
def test_steps_are_those_that_are_seen(told_kg: float, real_kg: float, used_kg: float) -> None:
    steps = Steps(told_kg)
    for kg in shown(real_kg):
        steps.see(kg)
    assert steps.kg == pytest.approx(used_kg)


def test_nothing_is_said_before_enough_changes() -> None:
    steps = Steps(0.1)
    for n in range(FEW):
        steps.see(400.0 + n % 2 / 2)
    assert steps.kg == 0.1
    steps.see(400.0)
    assert steps.kg == 0.5


def test_loads_put_down_and_taken_away_are_no_steps() -> None:
    steps = Steps(0.5)
    for _ in range(200):
        steps.see(0.0)
        steps.see(31.0)
    assert steps.kg == 0.5


def test_once_found_finer_they_do_not_grow_again() -> None:
    steps = Steps(2.5)
    for kg in (*shown(0.5), *shown(1.0)):
        steps.see(kg)
    assert steps.kg == 0.5


def test_a_change_that_came_seldom_is_none() -> None:
    assert steps_of([1.0] * 37 + [0.1] * 3) == 1.0
    assert steps_of([1.0] * 36 + [0.1] * 4) == pytest.approx(0.1)


def test_each_forty_changes_are_judged_by_themselves() -> None:
    assert steps_of(([1.0] * 37 + [0.1] * 3) * 3) == 1.0


@pytest.mark.parametrize(("change", "found"), [(12.0, 12.0), (12.5, 1.0)])
def test_no_step_is_more_than_twelve_times_what_was_told(change: float, found: float) -> None:
    assert steps_of([change] * FEW) == found


def test_pounds_are_found_where_kilograms_were_told() -> None:
    pound_kg = 0.45359237  # exactly: the international yard and pound agreement of 1959
    steps = Steps(2.0)
    for kg in shown(pound_kg):
        steps.see(kg)
    assert steps.kg == pytest.approx(pound_kg, abs=1e-4)


def steps_of(changes: list[float], told_kg: float = 1.0) -> float:
    """Show changes up and down in turn."""
    steps, kg = Steps(told_kg), 400.0
    steps.see(kg)
    for n, change in enumerate(changes):
        kg += change if n % 2 else -change
        steps.see(kg)
    return steps.kg


@pytest.mark.parametrize(("finer", "found"), [(3, 4.4), (4, 0.4)])
def test_nothing_changes_by_less_than_a_step(finer: int, found: float) -> None:
    """Where readings are few, four of forty changes were alike by chance, and light lambs were no animals by that."""
    steps = [4.4] * (FEW - finer) + [1.2, 2.0, 2.8, 3.6][:finer]
    assert steps_of(steps, 0.4) == pytest.approx(found)
