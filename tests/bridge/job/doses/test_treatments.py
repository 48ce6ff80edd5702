"""Treatments in any unit, against published label tables, and what is refused of them."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pydantic import ValidationError

from neckyoke.bridge.job.doses.dosing import dose_for, spell_amount
from neckyoke.bridge.job.doses.treatments import TreatmentTable, expired

LB_KG = 0.45359237


def treatment(**given: Any) -> TreatmentTable:
    return TreatmentTable.model_validate({"name": "drench", **given})


def amount(made: TreatmentTable, kg: float) -> float:
    dose = dose_for(made.rule, kg)
    assert dose is not None
    return dose.amount


@pytest.mark.parametrize(("pounds", "boluses"), [(200, 1), (400, 2), (600, 3), (800, 4), (1000, 5)])
def test_the_label_table_of_a_counted_unit(pounds: float, boluses: int) -> None:
    """Sulfamethazine sustained-release bolus, 32.1 g: one for each 200 lb (label, NADA 120-615, as on DailyMed).

    The label's half boluses are left out: what is counted comes whole here.
    """
    made = treatment(amount_per_step=1, step_kg=round(200 * LB_KG, 3), unit="bolus", round="nearest")
    assert amount(made, pounds * LB_KG) == boluses


@pytest.mark.parametrize(("pounds", "boluses"), [(50, 1), (100, 2), (150, 3), (200, 4)])
def test_the_label_of_a_counted_unit_for_calves(pounds: float, boluses: int) -> None:
    """Sulfamethazine calf bolus, 8.02 g: one for each 50 lb (the same approval's label)."""
    made = treatment(amount_per_step=1, step_kg=round(50 * LB_KG, 4), unit="bolus", round="nearest")
    assert amount(made, round(pounds * LB_KG, 2)) == boluses


@pytest.mark.parametrize(("pounds", "ml"), [(100, 4), (500, 20), (950, 38)])
def test_a_step_dose_says_what_the_regulation_says_per_pound(pounds: float, ml: float) -> None:
    """Albendazole 113.6 mg/mL at 4.54 mg/lb (21 CFR 520.45a(e)(1)): 4 mL for each 100 lb."""
    made = treatment(ml_per_step=4, step_kg=Decimal("45.359237"), round_to_ml=Decimal("0.5"), round="nearest")
    assert amount(made, pounds * LB_KG) == ml
    assert ml * 113.6 / pounds == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize(
    ("kg", "rounding", "tablets"), [(100.0, "up", 2), (101.0, "up", 3), (149.0, "down", 2), (126.0, "nearest", 3)]
)
def test_what_is_counted_comes_whole(kg: float, rounding: str, tablets: int) -> None:
    made = treatment(amount_per_kg=Decimal("0.02"), unit="tablet", round=rounding)
    assert amount(made, kg) == tablets


def test_less_than_one_whole_piece_is_said() -> None:
    dose = dose_for(treatment(amount_per_kg=Decimal("0.02"), unit="tablet", round="down").rule, 40.0)
    assert dose is not None
    assert (dose.amount, dose.remark, dose.unit) == (0, "less than one tablet", "tablet")


def test_ml_keys_are_the_same_as_amounts_in_millilitres() -> None:
    old = treatment(ml_per_kg=Decimal("0.1"), at_least_ml=10, at_most_ml=40, round_to_ml=5)
    new = treatment(amount_per_kg=Decimal("0.1"), unit="mL", at_least=10, at_most=40, round_to=5)
    assert old.rule == new.rule
    assert treatment(ml=2).rule == treatment(amount=2, unit="mL").rule


@pytest.mark.parametrize(
    ("number", "unit", "said"),
    [
        (35.0, "mL", "35 mL"),
        (1.0, "implant", "1 implant"),
        (2.0, "bolus", "2 boluses"),
        (3.0, "tablet", "3 tablets"),
        (0.5, "g", "0.5 g"),
        (1.0, "dose", "1 dose"),
    ],
)
def test_amounts_are_spelled_as_people_say_them(number: float, unit: str, said: str) -> None:
    assert spell_amount(number, unit) == said


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"amount": 1}, 'amount needs a unit, such as unit = "tablet"'),
        ({"ml": 1, "unit": "tablet"}, "ml is in mL; for tablet write amount"),
        ({"ml_per_kg": 1, "unit": "g"}, "ml_per_kg is in mL; for g write amount_per_kg"),
        ({"amount_per_kg": 1, "unit": "g", "round_to_ml": 1}, "with amount_per_kg write round_to, not round_to_ml"),
        ({"ml_per_kg": 1, "at_most": 1}, "with ml_per_kg write at_most_ml, not at_most"),
        ({"amount": Decimal("1.5"), "unit": "implant"}, "amount must be a whole number: an implant is not divided"),
        ({"amount_per_step": 1, "unit": "bolus"}, "amount_per_step and step_kg go together"),
        ({"amount_per_kg": 1, "unit": "bolus", "round_to": Decimal("0.5")}, "round_to must be a whole number"),
        ({"amount": 1, "unit": "implant", "at_most": 2}, "a fixed amount takes no at_most"),
        ({"amount": 1, "unit": "spoon"}, "'mL', 'L', 'mg', 'g', 'kg', 'tablet'"),
        ({"amount": 1, "unit": "g", "ml": 1}, "has more than one of"),
    ],
)
def test_what_does_not_fit_is_refused_with_what_would_be_right(given: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError) as raised:
        treatment(**given)
    assert said in str(raised.value)


def test_what_an_auditor_asks_for_stays_with_the_treatment() -> None:
    made = treatment(ml=2, route="under the skin", body_site="left neck", given_by="J. Doe", reason="clostridial cover")
    assert (made.route, made.body_site, made.given_by) == ("under the skin", "left neck", "J. Doe")


@pytest.mark.parametrize(("today", "told"), [(date(2026, 12, 31), 0), (date(2027, 1, 1), 1)])
def test_a_batch_may_be_used_up_to_and_with_its_last_day(today: date, told: int) -> None:
    made = treatment(ml=2, batch="B7", expires=date(2026, 12, 31))
    said = expired([made], today)
    assert len(said) == told
    assert not said or said[0] == "The batch B7 of drench expired on 2026-12-31: use another, or mend the date."
    assert expired([treatment(ml=2)], today) == []
