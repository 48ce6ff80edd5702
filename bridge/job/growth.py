"""How fast an animal grows, and weights adjusted to a common age.

Two weights give a gain a day; three or more give the slope of weight on date.  Gut fill alone moves a beast by -14 to
+34 kg from one day to the next (Watson et al. 2013, J. Anim. Sci. 91:5507), so a gain over less than `LEAST_DAYS` is
not shown and one over less than `SOUND_DAYS` is marked.  Both limits are judgement; a growth test takes 42 to 56 days
with regression (Archer & Bergh 2000), and weights neither too close nor too far apart (BIF guidelines).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

from neckyoke.bridge.events import Gain
from neckyoke.bridge.job.doses.dosing import spell
from neckyoke.protocols.readings import KG_PER

LEAST_DAYS = 14
SOUND_DAYS = 30

Weights: TypeAlias = Sequence[tuple[date, float]]
"""Weights of one animal with their dates, in kilograms, in order of date."""


def daily_gain(earlier_kg: float, later_kg: float, days: float) -> float:
    """Gain in kg/day between two weights `days` apart.  Raises ZeroDivisionError when they are of one day."""
    return (later_kg - earlier_kg) / days


def slope(weights: Weights) -> float | None:
    """Gain in kg/day by least squares of weight on date; None unless there are two dates or more."""
    if len({day for day, _ in weights}) < 2:
        return None
    start = weights[0][0]
    days = [(day - start).days for day, _ in weights]
    mean_day = sum(days) / len(days)
    mean_kg = sum(kg for _, kg in weights) / len(weights)
    covered = sum((day - mean_day) * (kg - mean_kg) for day, (_, kg) in zip(days, weights, strict=True))
    return covered / sum((day - mean_day) ** 2 for day in days)


def gain_since(earlier: Weights, today: date, kg: float) -> Gain | None:
    """Gain since the latest weight that is old enough, or, when none is, since the latest one without a figure a day.

    None when no earlier weight is known.  With two earlier weights or more the remark carries the slope over all.
    """
    before = [weight for weight in earlier if weight[0] < today]
    if not before:
        return None
    old = [weight for weight in before if (today - weight[0]).days >= LEAST_DAYS]
    since, then = (old or before)[-1]
    days = (today - since).days
    gained = round(kg - then, 3)
    if not old:
        remark = f"under {LEAST_DAYS} days: gut fill hides growth"
        return Gain(kg=gained, days=days, since=since.isoformat(), remark=remark)
    remarks = [f"under {SOUND_DAYS} days: rough"] if days < SOUND_DAYS else []
    if len(old) > 1 and (steady := slope([*before, (today, kg)])) is not None:
        remarks.append(f"{spell(steady)} kg/day over {len(before) + 1} weights since {before[0][0].isoformat()}")
    per_day = round(daily_gain(then, kg, days), 3)
    return Gain(kg=gained, days=days, since=since.isoformat(), kg_per_day=per_day, remark="; ".join(remarks) or None)


def shrink(kg: float, percent: float) -> float:
    """Take off a pencil shrink: 2-3 % for feeder cattle, 3-4 % for finished (Boyles, Ohio State)."""
    return kg * (1 - percent / 100)


Sex: TypeAlias = Literal["male", "female"]


@dataclass(frozen=True, slots=True)
class DamAge:
    """What is added for a dam up to `to_years` old, to the birth weight and, by sex, to the 205-day weight."""

    to_years: float
    birth_kg: float
    male_kg: float
    female_kg: float


def _pounds(to_years: float, birth: float, male: float, female: float) -> DamAge:
    return DamAge(to_years, *(KG_PER["lb"] * lb for lb in (birth, male, female)))


DAM_AGES: tuple[DamAge, ...] = (
    _pounds(2, 8, 60, 54),
    _pounds(3, 5, 40, 36),
    _pounds(4, 2, 20, 18),
    _pounds(10, 0, 0, 0),
    _pounds(float("inf"), 3, 20, 18),
)
"""Standard additions for the age of dam, in pounds at the source: BIF guidelines, as copied by Michigan State Extension
and breed societies.  A breed association has its own: the job sheet can replace the table."""

WEANING_AGES = range(160, 251)
YEARLING_AGES = range(320, 441)
"""Ages in days within which the BIF adjustments hold; outside there is no figure."""


def _for_dam(table: Sequence[DamAge], years: float) -> DamAge:
    return next(row for row in table if years <= row.to_years)


def adjusted_birth(birth_kg: float, dam_years: float, table: Sequence[DamAge] = DAM_AGES) -> float:
    """Birth weight adjusted for the age of dam, kg."""
    return birth_kg + _for_dam(table, dam_years).birth_kg


def adjusted_205(
    birth_kg: float,
    weaning_kg: float,
    age_days: int,
    dam_years: float | None = None,
    sex: Sex = "male",
    table: Sequence[DamAge] = DAM_AGES,
) -> float | None:
    """Weaning weight adjusted to 205 days and, when the dam's age is known, for it; None outside the ages it holds for.

    (weaning - birth) / age x 205 + birth + addition for the age of dam (BIF guidelines).
    """
    if age_days not in WEANING_AGES:
        return None
    row = None if dam_years is None else _for_dam(table, dam_years)
    addition = 0.0 if row is None else row.male_kg if sex == "male" else row.female_kg
    return (weaning_kg - birth_kg) / age_days * 205 + birth_kg + addition


def adjusted_365(weaning_kg: float, yearling_kg: float, days_between: int, adjusted_205_kg: float) -> float | None:
    """Yearling weight adjusted to 365 days: (yearling - weaning) / days between x 160 + the 205-day weight (BIF).

    None when the two weights are of one day.  Whether the animal's age fits `YEARLING_AGES` is for the caller to see.
    """
    if days_between <= 0:
        return None
    return (yearling_kg - weaning_kg) / days_between * 160 + adjusted_205_kg


@dataclass(frozen=True, slots=True)
class Adjusted:
    """Adjusted weights of one animal, and from which weighings they were made."""

    at_205_kg: float
    weaned: date
    at_365_kg: float | None = None
    yearling: date | None = None


def adjusted(
    weights: Weights,
    born: date,
    birth_kg: float,
    dam_years: float | None,
    sex: Sex,
    table: Sequence[DamAge] = DAM_AGES,
) -> Adjusted | None:
    """Adjust an animal's weights by those nearest to 205 and 365 days of age; None without one of weaning age."""
    aged = [((day - born).days, day, kg) for day, kg in weights]
    weaning = min((one for one in aged if one[0] in WEANING_AGES), key=lambda one: abs(one[0] - 205), default=None)
    if weaning is None:
        return None
    at_205 = adjusted_205(birth_kg, weaning[2], weaning[0], dam_years, sex, table)
    assert at_205 is not None, "the age was looked at above"
    yearling = min((one for one in aged if one[0] in YEARLING_AGES), key=lambda one: abs(one[0] - 365), default=None)
    if yearling is None:
        return Adjusted(at_205, weaning[1])
    at_365 = adjusted_365(weaning[2], yearling[2], yearling[0] - weaning[0], at_205)
    return Adjusted(at_205, weaning[1], at_365, yearling[1])


def is_unlikely(kg: float, earlier: Weights, today: date, *, kg_per_day: float, fill_percent: float) -> bool:
    """Return whether a weight is further from the latest earlier one than `Limits` of gut fill and growth allow."""
    before = [weight for weight in earlier if weight[0] < today]
    if not before:
        return False
    since, then = before[-1]
    allowed = then * fill_percent / 100 + kg_per_day * (today - since).days
    return abs(kg - then) > allowed
