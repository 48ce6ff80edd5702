"""What one animal is given: worked cases of what the sheet says, what a person says, and what stands of long ago."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import DoseSaid, Treatment, Weighing, Weight
from neckyoke.bridge.job.doses.given import treatments, treatments_afterwards, unsaid
from neckyoke.bridge.job.doses.held import PastDose
from neckyoke.bridge.job.doses.shown import Shown
from neckyoke.bridge.job.doses.treatments import TreatmentTable
from tests.support.events import weighing

NOON = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)
DRENCH = TreatmentTable(name="Drench", ml_per_kg=0.1, round_to_ml=5, withhold_days=28, export_days=42, batch="B7")
BOLUS = TreatmentTable(name="copper", amount=1, unit="bolus", withhold_days=0, batch="C1", expires="2026-12-01")
GROUP = TreatmentTable(name="pour-on", ml_per_kg=0.1, dose_to_heaviest=True, withhold_days=0)
GIVEN = Treatment(
    name="Drench", amount=30.0, unit="mL", dose_ml=30.0, withheld_until="2026-11-24", batch="B6", expires="2026-11-30"
)
LEFT_OUT = Treatment(name="Drench", skipped=True, batch="B6")


def said(**word: Any) -> DoseSaid:
    return DoseSaid(name=word.pop("name", " drench "), **word)


def animal(*words: DoseSaid, had: tuple[Treatment, ...] = (), kg: float = 318.5, **more: Any) -> Weighing:
    weight = Weight(kg=kg, grade=more.pop("grade", "good"), first_kg=kg)
    return weighing(1).model_copy(update={"weight": weight, "doses_said": words, "treatments": had, **more})


def one(table: TreatmentTable, data: Weighing) -> Treatment:
    (made,) = treatments([table], data, NOON)
    return made


@pytest.mark.parametrize(
    ("table", "word", "amount", "unit", "dose_ml", "batch", "expires"),
    [
        (DRENCH, None, 35.0, "mL", 35.0, "B7", None),
        (DRENCH, said(amount=12.0), 12.0, "mL", 12.0, "B7", None),
        (DRENCH, said(batch="B8"), 35.0, "mL", 35.0, "B8", None),
        (BOLUS, None, 1.0, "bolus", None, "C1", "2026-12-01"),
        (BOLUS, said(name="Copper", amount=2.0), 2.0, "bolus", None, "C1", "2026-12-01"),
        (BOLUS, said(name="copper", batch="C1"), 1.0, "bolus", None, "C1", "2026-12-01"),
        (BOLUS, said(name="copper", batch="C2"), 1.0, "bolus", None, "C2", None),  # another batch, another expiry
        (GROUP, None, None, "mL", None, None, None),  # by its heaviest, who is not known yet
        (GROUP, said(name="pour-on", amount=40.0), 40.0, "mL", 40.0, None, None),
    ],
)
def test_what_the_sheet_says_gives_way_to_what_a_person_says(
    table: TreatmentTable, word: DoseSaid | None, amount: float, unit: str, dose_ml: float, batch: str, expires: str
) -> None:
    made = one(table, animal(*([word] if word else [])))
    assert (made.amount, made.unit, made.dose_ml, made.batch, made.expires) == (amount, unit, dose_ml, batch, expires)
    assert not made.skipped


def test_what_was_not_given_counts_nowhere() -> None:
    made = one(DRENCH, animal(said(given=False)))
    assert made == Treatment(name="Drench", skipped=True, batch="B7")


def test_a_dose_says_what_the_arithmetic_says_and_until_when_it_holds() -> None:
    made = one(DRENCH, animal())
    assert (made.exact, made.exact_ml) == (31.85, 31.85)
    assert (made.withheld_until, made.export_from) == ("2026-12-30", "2027-01-13")  # 28 and 42 days of 24 hours
    unknown = one(TreatmentTable(name="x", ml=1), animal())
    assert (unknown.withheld_until, unknown.export_from) == ("unknown", "unknown")
    assert unknown.remark == "no withholding period given: counts as withheld"


@pytest.mark.parametrize(
    ("table", "data", "remark"),
    [
        (DRENCH, animal(), None),
        (DRENCH, animal(grade="poor"), "the weight is poor: weigh again before dosing by it"),
        (DRENCH, animal(said(amount=12.0), grade="poor"), None),  # whoever named it knows
        (BOLUS, animal(grade="poor"), None),  # the same for every animal
        (DRENCH, animal(kg=-3.0), "no weight to dose by"),
        (DRENCH, animal(said(amount=12.0), kg=-3.0), None),
        (GROUP, animal(grade="poor"), "one dose for the group, by its heaviest: see the tally"),
        (GROUP, animal(said(name="pour-on", amount=40.0)), None),
        (
            BOLUS.model_copy(update={"expires": NOON.date() - timedelta(days=1)}),
            animal(),
            "batch expired on 2026-11-30",
        ),
    ],
)
def test_what_a_person_should_know_of_a_dose_is_remarked(
    table: TreatmentTable, data: Weighing, remark: str | None
) -> None:
    assert one(table, data).remark == remark


NOW = one(DRENCH, animal())
LOST = Treatment(
    name="Drench",
    withheld_until="unknown",
    export_from="unknown",
    batch="B6",
    remark="its job sheet is not at hand: no dose known, counts as withheld",
)
BEFORE = LEFT_OUT.model_copy(update={"given_before": NOON})


@pytest.mark.parametrize(
    ("had", "word", "with_sheet", "without"),
    [
        (GIVEN, None, GIVEN, GIVEN),  # what was given stands, whatever the sheet says now
        (GIVEN, said(given=False), LEFT_OUT, LEFT_OUT),
        (GIVEN, said(given=True), GIVEN, GIVEN),
        (
            GIVEN,
            said(amount=12.0, batch="B8"),
            GIVEN.model_copy(update={"amount": 12.0, "dose_ml": 12.0, "batch": "B8", "expires": None}),
            GIVEN.model_copy(update={"amount": 12.0, "dose_ml": 12.0, "batch": "B8", "expires": None}),
        ),
        (LEFT_OUT, said(given=False), LEFT_OUT, LEFT_OUT),
        (LEFT_OUT, said(given=True), NOW, LOST),  # given after all
        (LEFT_OUT, None, NOW, LEFT_OUT),  # that it was not was taken back
        (BEFORE, None, BEFORE, BEFORE),  # nobody said so: it had it already
        (
            LEFT_OUT,
            said(given=True, amount=12.0),
            NOW.model_copy(update={"amount": 12.0, "dose_ml": 12.0}),
            LOST.model_copy(update={"amount": 12.0, "unit": "mL", "dose_ml": 12.0}),
        ),
    ],
)
def test_of_long_ago_what_was_given_stands_but_for_what_is_said_now(
    had: Treatment, word: DoseSaid | None, with_sheet: Treatment, without: Treatment
) -> None:
    data = animal(*([word] if word else []), had=(had,))
    assert [*treatments_afterwards([DRENCH], data, NOON)] == [with_sheet]
    assert [*treatments_afterwards([BOLUS], data, NOON)] == [without]


def test_what_an_earlier_version_kept_as_left_out_is_left_out() -> None:
    data = animal(had=(GIVEN,), skipped=("DRENCH",))
    assert [*treatments_afterwards([], data, NOON)] == [LEFT_OUT]


WORD = GIVEN.model_copy(update={"amount": 12.0, "dose_ml": 12.0, "exact": 31.85, "exact_ml": 31.85})


@pytest.mark.parametrize(
    ("had", "by_sheet", "names", "left"),
    [
        (WORD, (NOW,), {"drench"}, NOW),
        (WORD, (BEFORE,), {"drench"}, BEFORE),  # it had had it already: the amount alone gave it again
        (WORD, (NOW,), {"copper"}, WORD),  # something else was taken back
        (WORD, (), {"drench"}, WORD.model_copy(update={"amount": 31.85, "dose_ml": 31.85})),  # its sheet is not at hand
        (GIVEN, (), {"drench"}, GIVEN),  # nor is its dose by weight
    ],
)
def test_of_long_ago_what_was_said_of_a_dose_is_taken_back(
    had: Treatment, by_sheet: tuple[Treatment, ...], names: set[str], left: Treatment
) -> None:
    assert [*unsaid([had], by_sheet, names)] == [left]


HAD = [PastDose("Drench", NOON - timedelta(hours=1), "job", "2026-12-29", None)]
"""It had it an hour ago."""


@pytest.mark.parametrize(
    ("shown", "word", "skipped", "given_before"),
    [
        (None, None, True, NOON - timedelta(hours=1)),  # it is known while it stands there: never twice by a slip
        (GIVEN, None, False, None),  # whose it was turned out later: what was given was given
        (LEFT_OUT, None, True, NOON - timedelta(hours=1)),  # a person had left it out, and took that back
        (GIVEN, said(given=False), True, None),
        (GIVEN, said(amount=12.0), False, None),
        (GIVEN, said(batch="B8"), False, None),
    ],
)
def test_what_was_given_stands_when_it_turns_out_that_the_animal_had_had_it(
    shown: Treatment | None, word: DoseSaid | None, *, skipped: bool, given_before: datetime | None
) -> None:
    data = animal(*([word] if word else []))
    (made,) = treatments([DRENCH], data, NOON, HAD, Shown({"drench": shown}) if shown else Shown())
    assert (made.skipped, made.given_before) == (skipped, given_before)


@pytest.mark.parametrize(
    ("word", "skipped", "amount"),
    [(None, True, None), (said(given=True), False, 35.0), (said(amount=12.0), False, 12.0)],
)
def test_what_was_not_given_stands_when_it_turns_out_that_the_animal_had_not_had_it(
    word: DoseSaid | None, amount: float | None, *, skipped: bool
) -> None:
    data = animal(*([word] if word else []))
    (made,) = treatments([DRENCH], data, NOON, (), Shown({"drench": BEFORE}))
    assert (made.skipped, made.amount, made.batch) == (skipped, amount, "B7"), "and the batch is the sheet's"
    assert made.given_before == (NOON if skipped else None)


@pytest.mark.parametrize(
    ("had", "shown", "remark"),
    [
        (HAD, None, "given today at 11:00: not given again unless you say so"),
        (HAD, BEFORE, "given today at 12:00: not given again unless you say so"),
        ([], BEFORE, "not given: it was taken for one that had it today at 12:00"),
    ],
)
def test_it_says_why_it_was_not_given_and_whether_that_is_still_so(
    had: list[PastDose], shown: Treatment | None, remark: str
) -> None:
    (made,) = treatments([DRENCH], animal(), NOON, had, Shown({"drench": shown}) if shown else Shown())
    assert (made.remark, made.withheld_until) == (remark, None)
