"""What a whole stay's weight and its doubts are made of, each worked out anew with numpy and scipy."""

import math

import pytest

from neckyoke.bridge.events import Grade
from neckyoke.bridge.station.weight import final
from neckyoke.bridge.station.weight.bins import Track
from neckyoke.bridge.station.weight.estimators import fit_sine
from neckyoke.bridge.station.weight.final import agree, weigh
from neckyoke.bridge.station.weight.grading import Doubts
from tests.bridge.station.weight.test_final import plateau, sway, weighed

LEANT = [*[400.0] * 86, *[400.0 * (1 - 0.0202)] * 14]


def doubts_of(
    monkeypatch: pytest.MonkeyPatch, values: list[float], unsure_kg: float = 0.0, **changed: object
) -> tuple[Doubts, float]:
    """Weigh a plateau; return what is doubted of it, and the weight."""
    seen = list[Doubts]()

    def note(doubts: Doubts) -> Grade:
        seen.append(doubts)
        return "good"

    monkeypatch.setattr(final, "grade_of", note)
    track = Track(0.5)
    for n, value in enumerate(values):
        track.add(n / 10, value)
    track.blind = []  # what is made up here stands still
    kg = weigh(plateau(values, **changed), track, unsure_kg).kg
    assert kg is not None
    return seen[0], kg


@pytest.mark.parametrize(
    "values",
    [sway(60), sway(40, percent=2.0, hz=0.6), sway(22, percent=1.0), [*sway(50), *sway(10, kg=385.0)], LEANT],
    ids=["calm", "slow", "short", "leant", "leant a little"],
)
def test_each_doubt_is_what_its_name_says(monkeypatch: pytest.MonkeyPatch, values: list[float]) -> None:
    import numpy as np

    cut = [*[406.0] * 4, *[404.0] * 4]  # two values further away than 1.2 %: four of eight
    got, kg = doubts_of(monkeypatch, values, unsure_kg=1.5, cut=cut, exit_s=0.3, crowded=True)
    agreed = agree(values, [True] * len(values))
    means, every, count = np.array(agreed.means), np.array(agreed.every), len(values)
    half = len(means) // 2
    cut_apart = np.sum(np.abs(np.array(cut) - kg) > 0.012 * kg) / count
    assert got.trend_percent == pytest.approx(100 * abs(means[half:].mean() - means[:half].mean()) / kg, abs=1e-9)
    assert got.apart_percent == pytest.approx(100 * abs(np.mean(values) - agreed.kg) / kg, abs=1e-9)
    assert got.step_percent == pytest.approx(100 * 0.5 / kg)
    assert got.still == (len(set(values)) <= 2)
    assert got.exit_share == pytest.approx(0.3 / (count / 10))
    assert got.outside_share == pytest.approx(1 - len(means) / len(every) + cut_apart)
    cycles = fit_sine(values[-100:]).hz * min(count, 100) / 10
    assert got.sway_percent == pytest.approx(100 * np.std(values) / kg / max(cycles, 0.3) ** 2)
    assert got.readings_percent == pytest.approx(100 * np.std(values) / kg / (count + 1))
    assert got.zero_percent == pytest.approx(150 / kg)
    assert got.undone_percent == 0.0, "nothing was undone"
    assert got.beside


def level_of_one_rhythm(values: list[float]) -> float:
    """Fit a level and one sinusoid by scipy's nonlinear least squares, from several frequencies."""
    import numpy as np
    from scipy.optimize import least_squares

    t, y = np.arange(len(values)) / 10, np.array(values)

    def left_over(at: np.ndarray) -> np.ndarray:
        level, a, b, hz = at
        return np.asarray(level + a * np.sin(2 * math.pi * hz * t) + b * np.cos(2 * math.pi * hz * t) - y)

    fits = [least_squares(left_over, (y.mean(), 1.0, 1.0, hz)) for hz in (0.45, 0.7, 1.0, 1.5)]
    return float(min(fits, key=lambda fit: float(fit.cost)).x[0])


@pytest.mark.parametrize("phase", range(6))
@pytest.mark.parametrize(("count", "hz"), [(28, 0.6), (26, 0.9)])
def test_of_a_short_plateau_the_middle_of_three_estimates_is_taken(phase: int, count: int, hz: float) -> None:
    import numpy as np
    from scipy.stats import mstats

    values = [400 + 8 * math.sin(2 * math.pi * hz * n / 10 + phase) for n in range(count)]
    drawn_in = float(mstats.winsorize(np.array(values), limits=(0.1, 0.1)).mean())
    three = (float(np.mean(values)), level_of_one_rhythm(values), drawn_in)
    assert weighed(values).kg == pytest.approx(sorted(three)[1], abs=0.02)


@pytest.mark.parametrize("bend", [0.0, 0.02, -0.02])
def test_a_rhythm_of_which_no_whole_cycle_was_seen_has_no_say(bend: float) -> None:
    import numpy as np
    from scipy.stats import mstats

    values = [398 + 0.2 * n + bend * n * n for n in range(20)]  # 0.8 of a cycle of the slowest, if it were one
    drawn_in = float(mstats.winsorize(np.array(values), limits=(0.1, 0.1)).mean())
    three = (float(np.mean(values)), agree(values, [True] * 20).kg, drawn_in)
    assert weighed(values).kg == pytest.approx(sorted(three)[1], abs=1e-6)


def test_nor_has_one_of_more_than_ten_seconds() -> None:
    import numpy as np

    values = [*[400.0] * 100, *[404.0] * 20]
    agreed = agree(values, [True] * 120).kg
    assert agreed < np.mean(values) - 0.1
    assert weighed(values).kg == pytest.approx(agreed)


def test_means_are_as_wide_as_makes_them_agree_best() -> None:
    quick = sway(60, percent=8.0, hz=2.5)  # two seconds, and no shorter width on the list, hold whole cycles
    assert len(agree(quick, [True] * 60).every) == 60 - 20 + 1
