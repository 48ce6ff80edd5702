"""How an indicator comes to rest, learned as animals leave: by hand, and of the simulator's own kinds of filters."""

import pytest

from neckyoke.bridge.station.platform.empty.tail import Lowest
from neckyoke.bridge.station.weight.arrival import Falls, Rests
from neckyoke.simulators.crush.indicator import Filter, Indicator


def learned(*shares: float, left: float = 0.0, kg: float = 400.0, interval_kg: float = 0.0) -> Rests | None:
    falls = Falls()
    for share in shares:
        falls.learn(kg, share * kg, left * kg, interval_kg)
    return falls.rests


@pytest.mark.parametrize(
    ("shares", "rests"),
    [
        ((0.5, 0.5), None),  # two tell nothing yet
        ((0.5, 0.5, 0.5), "quick"),
        ((0.2, 0.2, 0.2, 0.2), "quick"),
        ((0.19, 0.19, 0.19), "middling"),
        ((0.03, 0.03, 0.03), "middling"),
        ((0.02, 0.02, 0.02), "slow"),
        ((0.02, 0.5, 0.5, 0.5, 0.5, 0.5), "quick"),  # one that took its time
        ((0.02, 0.02, 0.5, 0.5), "slow"),  # a quarter may say less, no more
        ((*(0.5,) * 9, *(0.02,) * 9), "slow"),  # somebody made it slower
    ],
)
def test_by_how_much_it_fell_last_tells_how_it_comes_to_rest(shares: tuple[float, ...], rests: Rests | None) -> None:
    assert learned(*shares) == rests


def test_a_fall_that_was_cut_off_tells_nothing_nor_does_nothing() -> None:
    assert learned(0.5, 0.5, 0.5, left=0.031) is None
    assert learned(0.5, 0.5, 0.5, left=0.03) == "quick"
    assert learned(0.5, 0.5, 0.5, kg=0.0) is None


def test_a_few_steps_of_the_display_are_no_fall() -> None:
    """An indicator that is quick until it is near, and creeps then, creeps by a few steps, however large these are."""
    assert learned(*[0.22] * 3, kg=100.0, interval_kg=2.0) == "middling"
    assert learned(*[0.10] * 3, kg=100.0, interval_kg=2.0) == "slow"


@pytest.mark.parametrize("rate_hz", [4.0, 10.0, 25.0])
@pytest.mark.parametrize(
    ("how", "filter_s", "rests"),
    [
        ("average", 0.1, "quick"),
        ("average", 0.8, "quick"),
        ("smooth", 0.1, "quick"),
        ("smooth", 1.0, "slow"),
        ("adaptive", 1.0, "slow"),  # the first of the way it falls at once
    ],
)
def test_what_the_simulator_s_filters_are(how: Filter, filter_s: float, rests: Rests, rate_hz: float) -> None:
    """simulators/crush/indicator.py: a moving mean, two equal stages, and one that is quick while the weight leaps."""
    indicator = Indicator(rate_hz=rate_hz, filter=how, filter_s=filter_s, interval_kg=0.5, noise_kg=0.0)
    falls, lowest = Falls(), Lowest()
    # It stands for six seconds, and its last feet are off within a tenth of one; then nothing for four.
    for shown in indicator.samples(lambda t: 400.0 * min(1.0, max(0.0, (6.1 - t % 10) / 0.1)), 0.0, 60.0):
        if shown.t % 10 < 5.5:
            if lowest.fell_kg > 0:
                falls.learn(400.0, lowest.fell_kg, lowest.kg, 0.5)
            lowest.forget()
        lowest.see(shown.t, shown.kg or 0.0, 0.5)
    assert falls.rests == rests


def test_the_fall_is_by_how_much_it_fell_in_the_last_half_second_before_it_was_there() -> None:
    lowest = Lowest()
    for n, kg in enumerate((400.0, 300.0, 200.0, 120.0, 60.0, 20.0, 2.0, 0.4, 0.0, 0.0, 0.2, 0.0)):
        lowest.see(n / 10, kg, 0.5)
    assert lowest.kg == 0.0
    assert lowest.fell_kg == pytest.approx(200.0 - 0.4), "of a tenth of a second in which it was within an interval"
    assert lowest.rested_until == pytest.approx(1.1)
    lowest.forget()
    assert (lowest.fell_kg, lowest.rested_until) == (0.0, -float("inf"))
