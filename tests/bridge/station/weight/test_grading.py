"""Doubts and the grades they leave: how much of each, alone, a good and a fair weight can bear.

The figures are this project's own calibration (see the module); the tests in `test_settling_promises.py` hold them
against simulated stays.  Here stands what they come to, one by one, so that none can slip.
"""

from dataclasses import replace

import pytest

from neckyoke.bridge.station.weight.grading import Doubts, grade_of, is_adrift, worse

NONE = Doubts(
    scatter_percent=0.0,
    trend_percent=0.0,
    step_percent=0.0,
    entry_share=0.0,
    exit_share=0.0,
    outside_share=0.0,
    far_share=0.0,
    sway_percent=0.0,
    crowded=False,
    spread_percent=0.0,
)
BEARS = {  # the most of one doubt alone that is still good, and still fair
    "scatter_percent": (2.0, 4.5),
    "trend_percent": (2.5, 5.625),
    "step_percent": (0.5, 1.125),
    "entry_share": (2.857, 6.428),
    "exit_share": (0.8, 1.8),
    "outside_share": (0.333, 0.75),
    "sway_percent": (1.0, 2.25),
    "spread_percent": (6.666, None),  # never poor alone: beyond 8 % it weighs no more
    "zero_percent": (0.909, 2.045),  # a zero unsure by more than a fair weight may be wrong promises nothing
}


def test_without_doubts_it_is_good() -> None:
    assert grade_of(NONE) == "good"
    assert NONE.budget_percent() == 0.0


@pytest.mark.parametrize("doubt", BEARS)
def test_each_doubt_alone_lowers_the_grade_where_the_table_says(doubt: str) -> None:
    good, fair = BEARS[doubt]
    assert grade_of(replace(NONE, **{doubt: good})) == "good"  # type: ignore[arg-type]
    assert grade_of(replace(NONE, **{doubt: good * 1.003})) == "fair"  # type: ignore[arg-type]
    if fair is None:
        assert grade_of(replace(NONE, **{doubt: 1000.0})) == "fair"  # type: ignore[arg-type]
        assert replace(NONE, spread_percent=1000.0).budget_percent() == pytest.approx(0.24)
    else:
        assert grade_of(replace(NONE, **{doubt: fair})) == "fair"  # type: ignore[arg-type]
        assert grade_of(replace(NONE, **{doubt: fair * 1.003})) == "poor"  # type: ignore[arg-type]


@pytest.mark.parametrize(("far_share", "grade"), [(0.0, "good"), (0.1, "good"), (0.101, "poor"), (0.5, "poor")])
def test_a_plateau_a_tenth_of_which_is_far_away_is_a_guess(far_share: float, grade: str) -> None:
    assert grade_of(replace(NONE, far_share=far_share)) == grade


def test_doubts_add_up() -> None:
    both = replace(NONE, scatter_percent=1.0, step_percent=0.25)
    assert both.budget_percent() == pytest.approx(0.2)
    assert grade_of(both) == "good"
    assert grade_of(replace(both, crowded=True)) == "fair"
    assert replace(both, crowded=True).budget_percent() == pytest.approx(0.25)
    assert grade_of(replace(both, crowded=True, trend_percent=2.5)) == "fair"
    assert grade_of(replace(both, crowded=True, trend_percent=2.6)) == "poor"


def test_the_worse_of_two_grades() -> None:
    order = ("none", "poor", "fair", "good")
    for low, one in enumerate(order):
        for high, other in enumerate(order):
            assert worse(one, other) == order[min(low, high)]  # type: ignore[arg-type]


@pytest.mark.parametrize(("zero_percent", "adrift"), [(0.0, False), (2.0, False), (2.04, False), (2.05, True)])
def test_a_zero_off_by_more_than_a_fair_weight_may_be_wrong_promises_nothing(
    zero_percent: float, *, adrift: bool
) -> None:
    assert is_adrift(zero_percent) is adrift
