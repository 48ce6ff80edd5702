"""What readings say against the layout that gave them, at its limits."""

from itertools import accumulate

import pytest

from neckyoke.protocols.readings import WeightReading
from neckyoke.protocols.recognition.doubts import falls_deep, find_doubts, roughness


def of(*some: tuple[int, float]) -> list[WeightReading]:
    """Make so many readings of each weight."""
    return [WeightReading(kg) for times, kg in some for _ in range(times)]


@pytest.mark.parametrize(
    ("readings", "deep"),
    [
        (of((6, -90.0), (94, 400.0)), True),  # more than a twentieth, and more than a fifth of the heaviest
        (of((5, -90.0), (95, 400.0)), False),  # a twentieth may be damage
        (of((6, -80.0), (94, 400.0)), False),
        (of((6, -90.0), (89, 400.0), (5, 900.0)), True),  # so may one at the other end
        (of((6, -90.0), (88, 400.0), (6, 900.0)), False),
        (of((2, -90.0), (36, 400.0)), True),
        (of((2, -90.0), (34, 400.0), (2, 500.0)), False),
        (of((20, -90.0), (20, 0.0)), True),  # an untared platform shows as little, and then a weight
        ([WeightReading(None)] * 9, False),
        ([], False),
    ],
)
def test_many_weights_far_below_nought_are_noticed(readings: list[WeightReading], *, deep: bool) -> None:
    assert falls_deep(readings) is deep
    assert falls_deep(readings[::-1]) is deep


def test_a_weight_is_as_rough_as_its_usual_step_is_of_its_range() -> None:
    assert roughness(of((3, 0.0), (1, 10.0), (4, 20.0), (1, 30.0))) == pytest.approx(10 / 30)
    assert roughness(of((9, 400.0))) == 0.0
    assert roughness([]) == 0.0


@pytest.mark.parametrize(
    ("calm", "restless", "step", "doubted"),
    [(5, 5, 1.0, True), (4, 5, 1.0, False), (5, 4, 1.0, False), (5, 5, 2.0, False)],
)
def test_frames_called_stable_that_change_more_are_noticed_from_five_of_each_kind(
    calm: int, restless: int, step: float, *, doubted: bool
) -> None:
    steps = [(True, 2.0)] * calm + [(False, step)] * restless
    weights = accumulate((one for _, one in steps), initial=100.0)
    stable = [True, *(stable for stable, _ in steps)]
    doubts = find_doubts([WeightReading(kg, f"{kg:.1f}", stable=so) for kg, so in zip(weights, stable, strict=True)])
    assert any("stable change more" in doubt.text for doubt in doubts) is doubted
