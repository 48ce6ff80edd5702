"""One treatment of a job sheet: what is given, how much, how, and for how long it counts.

An amount is written in one of three ways, fixed, by weight or by steps of weight, and in one unit:

    ml = 2                                    2 mL for each animal
    ml_per_kg = 0.1                           by weight, in mL
    ml_per_step = 5.0, step_kg = 50           so much for each step of weight, in mL
    amount = 1, unit = "implant"              the same three for other units: amount, amount_per_kg, amount_per_step

A counted unit (tablet, implant, …) comes whole: what the arithmetic says is brought to a whole number.  What a keeper's
record of a treatment asks for beside the amount is written here too: batch, expiry, route, body site, who and why.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Literal, Self, TypeAlias

from pydantic import Field, model_validator

from neckyoke.bridge.config.fields import Days, Positive, SheetTable, Text
from neckyoke.bridge.job.doses import dosing
from neckyoke.bridge.job.doses.dosing import COUNTED, MILLILITRES, Rounding, fraction

Unit: TypeAlias = Literal[
    "mL", "L", "mg", "g", "kg", "tablet", "capsule", "bolus", "implant", "sachet", "device", "dose"
]


class TreatmentTable(SheetTable):
    """One treatment and its rules, as the product's label and the veterinarian give them."""

    name: Text
    ml_per_kg: Positive | None = None
    ml_per_step: Positive | None = None
    ml: Positive | None = None
    amount_per_kg: Positive | None = None
    amount_per_step: Positive | None = None
    amount: Positive | None = None
    unit: Unit | None = Field(default=None, description="of amount…; ml… keys are mL by name")
    step_kg: Positive | None = None
    at_least_ml: Positive | None = None
    at_most_ml: Positive | None = None
    round_to_ml: Positive | None = None
    at_least: Positive | None = None
    at_most: Positive | None = None
    round_to: Positive | None = Field(default=None, description="the distance of two marks; whole for counted units")
    round: Rounding = "up"
    batch: Text | None = None
    expires: date | None = Field(default=None, description="the last day on which the batch may be used")
    route: Text | None = Field(default=None, description="how it is given, such as under the skin")
    body_site: Text | None = Field(default=None, description="where on the animal, such as left neck")
    given_by: Text | None = None
    reason: Text | None = None
    withhold_days: Days | None = None
    export_days: Days | None = None
    dose_to_heaviest: bool = Field(default=False, description="one dose for the group, by its heaviest: see the tally")

    @model_validator(mode="after")
    def _one_rule(self) -> Self:
        told = f"treatment {self.name!r}"
        keys = ("ml_per_kg", "ml_per_step", "ml", "amount_per_kg", "amount_per_step", "amount")
        given = [key for key in keys if getattr(self, key) is not None]
        if len(given) != 1:
            how = "has none of" if not given else "has more than one of"
            raise ValueError(
                f"{told} {how} ml_per_kg, ml_per_step (with step_kg) and ml, or the same as amount… with unit"
            )
        self._one_unit(told, given[0])
        if (given[0] in {"ml_per_step", "amount_per_step"}) != (self.step_kg is not None):
            step = "ml_per_step" if given[0].startswith("ml") else "amount_per_step"
            raise ValueError(f"{told}: {step} and step_kg go together, as in 5 mL a step of 50 kg")
        bounds = [key for key in self._bound_keys if getattr(self, key) is not None]
        if given[0] in {"ml", "amount"} and (bounds or self.dose_to_heaviest):
            raise ValueError(f"{told}: a fixed {given[0]} takes no {', '.join(bounds) or 'dose_to_heaviest'}")
        if not dosing.marks_fit(self.rule):
            low, high, mark = self._bound_keys
            raise ValueError(f"{told}: no mark of {mark} lies between {low} and {high}")
        return self

    def _one_unit(self, told: str, key: str) -> None:
        """Check that the keys speak of one unit, and that what is counted is whole."""
        in_ml = key.startswith("ml")
        if in_ml and self.unit not in {None, MILLILITRES}:
            raise ValueError(f"{told}: {key} is in mL; for {self.unit} write {key.replace('ml', 'amount', 1)}")
        if not in_ml and self.unit is None:
            raise ValueError(f'{told}: {key} needs a unit, such as unit = "tablet"')
        other = ("at_least", "at_most", "round_to") if in_ml else ("at_least_ml", "at_most_ml", "round_to_ml")
        strange = next((one for one in other if getattr(self, one) is not None), None)
        if strange:
            right = f"{strange}_ml" if in_ml else strange.removesuffix("_ml")
            raise ValueError(f"{told}: with {key} write {right}, not {strange}")
        if self.unit in COUNTED:
            broken = next((one for one in ("amount", *self._bound_keys) if _is_broken(getattr(self, one))), None)
            if broken:
                raise ValueError(f"{told}: {broken} must be a whole number: {_one(self.unit)} is not divided")

    @property
    def _bound_keys(self) -> tuple[str, str, str]:
        if self.unit in {None, MILLILITRES} and self.amount is self.amount_per_kg is self.amount_per_step is None:
            return "at_least_ml", "at_most_ml", "round_to_ml"
        return "at_least", "at_most", "round_to"

    @property
    def fixed(self) -> bool:
        """Whether every animal gets the same amount, whatever it weighs."""
        return self.ml is not None or self.amount is not None

    @cached_property
    def rule(self) -> dosing.Rule:
        """The dose rule in exact fractions."""
        per_kg = _exact(self.ml_per_kg or self.amount_per_kg)
        per_step = self.ml_per_step or self.amount_per_step
        if per_step is not None and self.step_kg is not None:
            per_kg = fraction(per_step) / fraction(self.step_kg)
        least, most, mark = (_exact(getattr(self, key)) for key in self._bound_keys)
        unit = self.unit or MILLILITRES
        return dosing.Rule(
            per_kg=per_kg,
            fixed=_exact(self.ml or self.amount),
            at_least=least,
            at_most=most,
            mark=mark or (Fraction(1) if unit in COUNTED and per_kg is not None else None),
            rounding=self.round,
            unit=unit,
        )


def expired(tables: Iterable[TreatmentTable], today: date) -> list[str]:
    """Return a sentence for each treatment whose batch may not be used any more."""
    return [
        f"The batch{f' {one.batch}' if one.batch else ''} of {one.name} expired on {one.expires.isoformat()}:"
        f" use another, or mend the date."
        for one in tables
        if one.expires is not None and one.expires < today
    ]


def _exact(number: Decimal | None) -> Fraction | None:
    return None if number is None else fraction(number)


def _is_broken(number: Decimal | None) -> bool:
    return number is not None and number != number.to_integral_value()


def _one(unit: str | None) -> str:
    return f"an {unit}" if unit == "implant" else f"a {unit}"
