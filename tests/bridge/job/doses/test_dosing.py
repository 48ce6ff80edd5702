"""Dose arithmetic against worked examples."""

import pytest

from neckyoke.bridge.job.doses.dosing import Dose, Rounding, Rule, dose_for, dose_group, fraction, marks_fit

LB = 0.45359237
PER_100_LB = fraction("1.1") / (100 * fraction("0.45359237"))
"""1.1 mL/100 lb: the worked example of a university extension page on dosing by weight."""


@pytest.mark.parametrize(
    ("pounds", "exact_ml", "given_ml"),
    [(550, 6.05, 6.0), (530, 5.83, 6.0)],
)
def test_published_example_to_the_nearest_millilitre(pounds: float, exact_ml: float, given_ml: float) -> None:
    rule = Rule(per_kg=PER_100_LB, mark=fraction(1), rounding="nearest")
    dose = dose_for(rule, round(pounds * LB, 4))
    assert dose is not None
    assert dose.exact == pytest.approx(exact_ml, abs=0.005)
    assert dose.amount == given_ml


def test_a_dose_that_falls_on_a_mark_is_not_pushed_to_the_next() -> None:
    """300 kg at 1 mL for 50 kg is 6.0 mL, not 6.5: in binary fractions 0.02 x 300 is a hair above six."""
    rule = Rule(per_kg=fraction(1) / 50, mark=fraction("0.5"))
    assert dose_for(rule, 300.0) == Dose(6.0, 6.0)
    assert dose_for(Rule(per_kg=fraction("0.1"), mark=fraction("0.1")), 3.0) == Dose(0.3, 0.3)


@pytest.mark.parametrize(
    ("rounding", "kg", "ml"),
    [("up", 318.5, 35), ("up", 300, 30), ("down", 318.5, 30), ("nearest", 318.5, 30), ("nearest", 325, 35)],
)
def test_rounding_to_the_marks_of_the_applicator(rounding: Rounding, kg: float, ml: float) -> None:
    """5 mL a step of 50 kg, marks every 5 mL."""
    dose = dose_for(Rule(per_kg=fraction(5) / 50, mark=fraction(5), rounding=rounding), kg)
    assert dose is not None
    assert dose.amount == ml
    assert dose.exact == kg / 10


def test_without_marks_a_dose_is_told_to_a_thousandth() -> None:
    assert dose_for(Rule(per_kg=fraction("0.005")), 101.0) == Dose(0.505, 0.505)
    assert dose_for(Rule(per_kg=fraction("0.005")), 100.13) == Dose(0.501, 0.501)


def test_least_and_most_hold_and_the_most_is_said() -> None:
    rule = Rule(per_kg=fraction("0.1"), at_least=fraction(10), at_most=fraction(32), mark=fraction(5))
    assert dose_for(rule, 40) == Dose(10, 4.0)
    assert dose_for(rule, 318) == Dose(30, 31.8), "rounding up would pass the most"
    held = dose_for(rule, 400)
    assert held is not None
    assert held.amount == 30
    assert held.remark == "held to the most allowed; by weight it is 40 mL"
    lowest = dose_for(Rule(fraction("0.1"), at_least=fraction(11), mark=fraction(5), rounding="down"), 80)
    assert lowest is not None
    assert lowest.amount == 15, "rounding down would fall below the least"


def test_a_fixed_dose_needs_no_weight() -> None:
    """Vaccines are per head (common practice; extension pages say so)."""
    assert dose_for(Rule(fixed=fraction(2)), None) == Dose(2, 2)


@pytest.mark.parametrize("kg", [None, 0.0, -3.0])
def test_no_weight_no_dose(kg: float | None) -> None:
    assert dose_for(Rule(per_kg=fraction("0.1")), kg) is None


def test_less_than_one_mark_is_said() -> None:
    dose = dose_for(Rule(per_kg=fraction("0.01"), mark=fraction(5), rounding="down"), 100)
    assert dose == Dose(0, 1.0, "less than one mark of the applicator")


@pytest.mark.parametrize(
    ("least", "most", "mark", "fits"),
    [
        (11, 14, 5, False),
        (10, 14, 5, True),
        (None, 4, 5, False),
        (None, 5, 5, True),
        (11, 14, None, True),
        (14, 14, None, True),
        (None, 0.5, None, True),
    ],
)
def test_some_mark_lies_between_least_and_most(
    least: float | None, most: float, mark: float | None, *, fits: bool
) -> None:
    rule = Rule(
        fraction("0.1"),
        at_least=None if least is None else fraction(least),
        at_most=fraction(most),
        mark=None if mark is None else fraction(mark),
    )
    assert marks_fit(rule) == fits


def test_a_group_is_dosed_to_its_heaviest_and_split_when_the_lightest_would_get_double() -> None:
    """Weigh, dose to the heaviest, not the average; split when the lightest gets more than double (HCC Wales)."""
    rule = Rule(per_kg=fraction("0.1"))
    even = dose_group(rule, [210.0, 300.0, 400.0])
    assert even is not None
    assert (even.dose.amount, even.split) == (40.0, None)
    wide = dose_group(rule, [190.0, 300.0, 400.0])
    assert wide is not None
    assert wide.split is not None
    assert "190 kg" in wide.split
    assert dose_group(rule, []) is None
