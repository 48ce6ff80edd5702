"""How much of a treatment an animal gets, in exact arithmetic.

By weight a dose is proportional, weight x rate, held between a least and a most and then brought to a mark of the
applicator.  Per step ("5 mL for each 50 kg") is the same line, spelled as labels spell it; with the applicator's marks
as far apart as the dose of one step it becomes the label's staircase.  Fractions throughout: 300 kg at 1 mL for 50 kg
is 6 mL, never 6.000000001 rounded up to 6.5.

Which way to round is a setting.  Up is common practice (no written source found); nearest is what an extension
service's worked example does: 1.1 mL/100 lb at 550 lb is 6.05, given as 6 mL.
These figures are arithmetic on what the user typed: the product's label and the veterinarian decide.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Literal, TypeAlias

Rounding: TypeAlias = Literal["up", "down", "nearest"]

MILLILITRES = "mL"
COUNTED = frozenset({"tablet", "capsule", "bolus", "implant", "sachet", "device", "dose"})
"""Units of which an animal gets whole pieces only."""

SPLIT_RATIO = 2
"""Split a group dosed to its heaviest when its lightest would get more than this many times its own dose.
Source: HCC Wales on dosing against worms: weigh, dose to the heaviest, split if the lightest would get over double."""


@dataclass(frozen=True, slots=True)
class Rule:
    """How a treatment is measured out, in `unit`.  Exactly one of `per_kg` and `fixed` is set.

    `fixed` is the same for every animal; `at_least`, `at_most` bound a dose by weight; `mark` is the distance between
    two marks of the applicator, or one whole piece of what is counted.
    """

    per_kg: Fraction | None = None
    fixed: Fraction | None = None
    at_least: Fraction | None = None
    at_most: Fraction | None = None
    mark: Fraction | None = None
    rounding: Rounding = "up"
    unit: str = MILLILITRES


@dataclass(frozen=True, slots=True)
class Dose:
    """What to give, what the arithmetic alone says, and what a person should know of the difference, in `unit`."""

    amount: float
    exact: float
    remark: str | None = None
    unit: str = MILLILITRES


def fraction(number: float | str | Decimal) -> Fraction:
    """Take a number as it is written: 0.1 is one tenth."""
    return Fraction(str(number))


def spell(number: float | Fraction) -> str:
    """Write a number without a tail of zeros, to a thousandth."""
    return f"{float(number):.3f}".rstrip("0").rstrip(".")


def spell_amount(amount: float | Fraction, unit: str) -> str:
    """Write an amount with its unit, as in 35 mL, 1 implant, 2 boluses."""
    return f"{spell(amount)} {named_unit(amount, unit)}"


def named_unit(amount: float | Fraction, unit: str) -> str:
    """Return a unit as it is written behind an amount: counted ones have a plural."""
    if unit not in COUNTED or amount == 1:
        return unit
    return f"{unit}es" if unit.endswith("s") else f"{unit}s"


def marks_fit(rule: Rule) -> bool:
    """Return whether some mark of the applicator lies between the least and the most dose."""
    least, most = rule.at_least or Fraction(0), rule.at_most
    if most is None:
        return True
    if rule.mark is None:
        return least <= most
    return max(1, ceil(least / rule.mark)) * rule.mark <= most


def dose_for(rule: Rule, kg: float | None) -> Dose | None:
    """Work out one animal's dose; None when it goes by weight and the weight is not known."""
    if rule.fixed is not None:
        return Dose(float(rule.fixed), float(rule.fixed), unit=rule.unit)
    if rule.per_kg is None or kg is None or kg <= 0:
        return None
    exact = fraction(kg) * rule.per_kg
    given = _to_mark(rule, exact)
    return Dose(round(float(given), 3), round(float(exact), 3), _remark(rule, exact, given), rule.unit)


def _to_mark(rule: Rule, exact: Fraction) -> Fraction:
    least, most, mark = rule.at_least, rule.at_most, rule.mark
    held = exact if least is None else max(exact, least)
    held = held if most is None else min(held, most)
    if mark is None:
        return held
    steps = {"up": ceil(held / mark), "down": floor(held / mark), "nearest": floor(held / mark + Fraction(1, 2))}
    given = steps[rule.rounding] * mark
    if least is not None and given < least:
        given = ceil(least / mark) * mark
    if most is not None and given > most:
        given = floor(most / mark) * mark
    return given


def _remark(rule: Rule, exact: Fraction, given: Fraction) -> str | None:
    if rule.at_most is not None and exact > rule.at_most:
        return f"held to the most allowed; by weight it is {spell_amount(exact, rule.unit)}"
    if given == 0:
        return f"less than one {rule.unit}" if rule.unit in COUNTED else "less than one mark of the applicator"
    return None


@dataclass(frozen=True, slots=True)
class GroupDose:
    """One dose for a whole group, by its heaviest.  `split` says why to make two groups of it, when it should be."""

    heaviest_kg: float
    lightest_kg: float
    dose: Dose
    split: str | None


def dose_group(rule: Rule, weights_kg: Sequence[float]) -> GroupDose | None:
    """Dose a group to its heaviest (not its average); None for an empty group."""
    if not weights_kg:
        return None
    heaviest, lightest = max(weights_kg), min(weights_kg)
    dose = dose_for(rule, heaviest)
    if dose is None:
        return None
    split = None
    if rule.per_kg is not None:
        own = fraction(lightest) * rule.per_kg
        if fraction(dose.amount) > SPLIT_RATIO * own:
            split = (
                f"the lightest ({spell(lightest)} kg) would get more than {SPLIT_RATIO} times its own "
                f"{spell_amount(own, rule.unit)}: split the group and dose each part to its own heaviest"
            )
    return GroupDose(heaviest, lightest, dose, split)
