"""Doubts and the grades they leave: how much of each, alone, a good and a fair weight can bear.

The factors are this project's own calibration (tests/bench/doubts.py); the tests in `test_settling_promises.py` hold
them against simulated stays.  Here stands what they come to, one by one, so that none can slip, and the arithmetic
beside scipy's.
"""

import math
from dataclasses import replace

import pytest

from neckyoke.bridge.station.weight.arrival import Rests
from neckyoke.bridge.station.weight.grading import (
    FITTED,
    GUARDED,
    LEANS,
    MAY_BREAK,
    ONE_STEP,
    PLAIN,
    PROMISED_PERCENT,
    RESIDUE_STEP,
    Doubts,
    grade_of,
    is_adrift,
    worse,
)

NONE = Doubts()
BEARS = {  # the most of one doubt alone that is still good, and still fair
    "sway_percent": (0.6113, 2.74),
    "readings_percent": (0.1069, 0.4795),
    "trend_percent": (0.8559, 3.836),
    "apart_percent": (0.3003, 1.346),
    "undone_percent": (1.037, 4.65),
    "edges_percent": (3.112, 13.95),
    "ramps_percent": (0.5706, 2.557),
    "step_percent": (2.062, 9.244),
    "exit_share": (1.348, 6.041),
    "outside_share": (0.2853, 1.279),
    "zero_percent": (0.999, 1.999),  # to what may lie there unseen no chance is given: it takes from the room
}


def test_the_readme_s_promises() -> None:
    """README: good, within 1 % in 99 of 100; fair, within 2 % in 95: of all that are given, at the edge of fewer."""
    assert PROMISED_PERCENT == {"good": 1.0, "fair": 2.0}


def test_without_doubts_it_is_good() -> None:
    assert grade_of(NONE) == "good"
    assert NONE.error_percent() == NONE.chance_beyond(1.0) == 0.0
    assert not any(NONE.parts().values())


@pytest.mark.parametrize("doubt", BEARS)
def test_each_doubt_alone_lowers_the_grade_where_the_table_says(doubt: str) -> None:
    good, fair = BEARS[doubt]
    assert grade_of(replace(NONE, **{doubt: good})) == "good"  # type: ignore[arg-type]
    assert grade_of(replace(NONE, **{doubt: good * 1.003})) == "fair"  # type: ignore[arg-type]
    assert grade_of(replace(NONE, **{doubt: fair})) == "fair"  # type: ignore[arg-type]
    assert grade_of(replace(NONE, **{doubt: fair * 1.003})) == "poor"  # type: ignore[arg-type]


def test_something_beside_it_allows_no_good_weight_and_a_still_display_hides_half_a_step() -> None:
    assert grade_of(replace(NONE, beside=True)) == "fair"
    moving = replace(NONE, step_percent=1.0)
    still = replace(moving, still=True)
    assert moving.error_percent() == pytest.approx(0.083)
    assert still.error_percent() == pytest.approx(math.hypot(0.083, 0.14))


def test_of_what_lies_there_half_a_step_is_hidden_where_zero_is_set_to_a_quarter() -> None:
    """OIML R 76-1:2006, 4.5.2, for the quarter: both as uniform distributions, on the scale of `ONE_STEP`."""
    step = replace(NONE, step_percent=1.0)
    quarter, half = (width / math.sqrt(12) for width in (0.5, 1.0))
    assert replace(step, residue=True).error_percent() == pytest.approx(ONE_STEP * half / quarter, rel=0.01)
    slow = replace(step, residue=True, short=True, rests="slow", late=True)
    assert slow.parts()["residue"] == pytest.approx(RESIDUE_STEP), "however it comes to rest"


@pytest.mark.parametrize("error", [0.02, 0.1, 0.3, 1.0, 5.0, 40.0])
@pytest.mark.parametrize("beyond", [0.2, 1.0, 2.0, 5.0])
def test_the_chance_is_that_of_a_student_s_t_of_three_degrees_of_freedom(error: float, beyond: float) -> None:
    from scipy import stats

    doubts = replace(NONE, trend_percent=error / FITTED["trend"])
    assert doubts.error_percent() == pytest.approx(error)
    assert doubts.chance_beyond(beyond) == pytest.approx(2 * stats.t.sf(beyond / error, 3), abs=1e-12)
    unseen = replace(doubts, zero_percent=0.15)
    assert unseen.chance_beyond(beyond) == pytest.approx(2 * stats.t.sf((beyond - 0.15) / error, 3), abs=1e-12)
    assert unseen.chance_beyond(0.15) == unseen.chance_beyond(0.1) == 1.0


def test_doubts_add_up_as_independent_errors_do() -> None:
    """JCGM 100:2008, 5.1.2: the combined variance is the sum of the variances, each times its sensitivity squared."""
    sizes = {
        "sway": ("sway_percent", 0.1),
        "readings": ("readings_percent", 0.02),
        "trend": ("trend_percent", 0.3),
        "apart": ("apart_percent", 0.05),
        "undone": ("undone_percent", 0.2),
        "leaving": ("exit_share", 0.25),
        "outside": ("outside_share", 0.1),
    }
    doubts = replace(NONE, **dict(sizes.values()))  # type: ignore[arg-type]
    worth = FITTED | GUARDED
    assert {name: part for name, part in doubts.parts().items() if part} == pytest.approx(
        {name: worth[name] * size for name, (_, size) in sizes.items()}
    )
    assert doubts.error_percent() == pytest.approx(math.sqrt(sum(part**2 for part in doubts.parts().values())))


@pytest.mark.parametrize("grade", ["good", "fair"])
def test_a_grade_is_given_up_to_the_chance_that_it_may_break(grade: str) -> None:
    from scipy import stats

    edge = PROMISED_PERCENT[grade] / float(stats.t.isf(MAY_BREAK[grade] / 2, 3))  # type: ignore[index]
    assert grade_of(replace(NONE, trend_percent=0.9999 * edge / FITTED["trend"])) == grade
    assert grade_of(replace(NONE, trend_percent=1.0001 * edge / FITTED["trend"])) != grade


def test_the_worse_of_two_grades() -> None:
    order = ("none", "poor", "fair", "good")
    for low, one in enumerate(order):
        for high, other in enumerate(order):
            assert worse(one, other) == order[min(low, high)]  # type: ignore[arg-type]


@pytest.mark.parametrize(("zero_percent", "adrift"), [(0.0, False), (1.99, False), (2.0, True), (2.05, True)])
def test_a_zero_off_by_as_much_as_a_fair_weight_may_be_wrong_promises_nothing(
    zero_percent: float, *, adrift: bool
) -> None:
    assert is_adrift(zero_percent) is adrift
    assert (grade_of(replace(NONE, zero_percent=zero_percent)) == "poor") is adrift


KINDS: tuple[Rests | None, ...] = ("quick", "middling", "slow", None)


@pytest.mark.parametrize("rests", KINDS)
@pytest.mark.parametrize("short", [False, True])
def test_what_begins_before_the_indicator_has_arrived_is_worth_less_than_what_has(
    *, short: bool, rests: Rests | None
) -> None:
    doubts = replace(NONE, sway_percent=0.5, step_percent=0.2, short=short, rests=rests)
    arrived, late = (replace(doubts, late=one).error_percent() for one in (False, True))
    assert arrived <= late
    parts = replace(doubts, late=True).parts()
    assert math.hypot(*parts.values()) == pytest.approx(late)


@pytest.mark.parametrize("late", [False, None, True])
@pytest.mark.parametrize("short", [False, True])
def test_behind_a_quick_display_it_is_worth_more_and_behind_a_slow_one_less(*, short: bool, late: bool | None) -> None:
    doubts = replace(NONE, sway_percent=0.5, step_percent=0.2, short=short, late=late)
    quick, middling, slow = (replace(doubts, rests=one).error_percent() for one in KINDS[:3])
    assert quick < middling < slow
    assert slow / quick > (3 if short and late is not False else 1.6), "of a short stay the ramps are most"


@pytest.mark.parametrize("rests", KINDS)
def test_who_stood_beside_it_is_doubted_behind_any_display(rests: Rests | None) -> None:
    doubts = replace(NONE, beside=True, outside_share=0.2, short=True, late=True)
    assert replace(doubts, rests=rests).error_percent() == pytest.approx(doubts.error_percent())


@pytest.mark.parametrize(
    ("doubts", "most"),
    [
        (NONE, MAY_BREAK["fair"]),  # a first weight: not all of the stay was seen
        (Doubts(leans=False, short=True), PLAIN),
        (Doubts(leans=False), MAY_BREAK["fair"]),  # it stood there for long enough to be surer
        (Doubts(leans=True), LEANS),
        (Doubts(leans=False, short=True, beside=True), MAY_BREAK["fair"]),  # somebody stood there
        (Doubts(leans=False, short=True, outside_share=0.149), PLAIN),
        (Doubts(leans=False, short=True, outside_share=0.151), MAY_BREAK["fair"]),
        (Doubts(leans=False, short=True, ramps_percent=0.91), PLAIN),
        (Doubts(leans=False, short=True, ramps_percent=0.93), MAY_BREAK["fair"]),
        (Doubts(leans=True, beside=True), LEANS),
    ],
)
def test_how_likely_a_fair_weight_may_break_hangs_on_who_stood_there(doubts: Doubts, most: float) -> None:
    assert doubts.may_break("fair") == most
    assert doubts.may_break("good") == MAY_BREAK["good"]


@pytest.mark.parametrize(
    ("sway_percent", "leans", "grade"),
    [
        (2.7, None, "fair"),  # 7.7 in 100
        (2.7, True, "poor"),
        (2.2, True, "fair"),  # 4.6
        (3.5, None, "poor"),  # 13.5
        (3.5, False, "poor"),
        (0.6, True, "good"),
    ],
)
def test_at_the_edge_the_mob_decides(sway_percent: float, *, leans: bool | None, grade: str) -> None:
    assert grade_of(Doubts(sway_percent=sway_percent, leans=leans)) == grade


@pytest.mark.parametrize(("sway_percent", "grade"), [(2.4, "fair"), (2.7, "poor")])
def test_and_of_a_short_stay_in_an_upright_mob_more_may_break(sway_percent: float, grade: str) -> None:
    """13.4 and 16.5 in 100; behind a display that nobody knows its sway counts for half as much again."""
    assert grade_of(Doubts(sway_percent=sway_percent, leans=False, short=True)) == grade
