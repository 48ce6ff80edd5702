"""What a person says, in the words of the job sheet."""

import pytest

from neckyoke.bridge.events import Treatment
from neckyoke.bridge.job.meaning import in_words_of
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.station.instructions import AnimalInstruction, Dosed, Found, Note, Void

SHEET = Sheet.model_validate(
    {
        "title": "Induction",
        "treatments": [
            {"name": "Oral Drench", "ml": 10},
            {"name": "copper", "amount": 1, "unit": "bolus"},
            {"name": "vitamin", "amount": 250, "unit": "mg"},
        ],
        "findings": [{"name": "Mouth", "choices": ["Full", "Broken"]}],
    }
)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        (Dosed("drench", amount=12.5), Dosed("Oral Drench", amount=12.5, unit="mL")),
        (Dosed("COPPER", amount=1.0), Dosed("copper", amount=1.0, unit="bolus")),
        (Dosed("copper", amount=2.0), Dosed("copper", amount=2.0, unit="boluses")),
        (Dosed("copper", given=False), Dosed("copper", given=False, unit="boluses")),
        (Dosed("vitamin", amount=12.5), Dosed("vitamin", amount=12.5, unit="mg")),
        (Found("mouth", "broken"), Found("Mouth", "Broken")),
        (Found("MOUTH", None), Found("Mouth", None)),  # taken back
        (Note("drench"), Note("drench")),
    ],
)
def test_names_values_and_units_are_the_sheets(said: AnimalInstruction, meant: AnimalInstruction) -> None:
    assert in_words_of(SHEET, said, ()) == meant


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (Dosed("copper", amount=1.5), "copper is counted in boluses: give a whole number"),
        (Dosed("pour-on"), "Oral Drench, copper, vitamin"),
        (Found("mouth", "half"), "'half' is no choice of Mouth"),
        (Found("teeth", "full"), "Mouth"),
    ],
)
def test_what_the_sheet_does_not_know_is_refused_with_what_there_is(said: AnimalInstruction, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        in_words_of(SHEET, said, ())


def test_where_the_sheet_is_not_at_hand_what_was_shown_counts_and_is_in_millilitres_unless_it_says_otherwise() -> None:
    given = [Treatment(name="Oral Drench"), Treatment(name="copper", unit="bolus")]
    assert in_words_of(None, Dosed("drench", amount=1.5), given) == Dosed("Oral Drench", amount=1.5, unit="mL")
    assert in_words_of(None, Dosed("copper", amount=2.0), given) == Dosed("copper", amount=2.0, unit="boluses")
    with pytest.raises(ValueError, match="give a whole number"):
        in_words_of(None, Dosed("copper", amount=1.5), given)
    with pytest.raises(ValueError, match="Oral Drench, copper"):
        in_words_of(None, Dosed("pour-on"), given)


def test_what_another_sheet_showed_is_spoken_of_beside_the_sheets_own() -> None:
    shown = [Treatment(name="oral drench", unit="g"), Treatment(name="pour-on", unit="mL")]
    assert in_words_of(SHEET, Dosed("pour", amount=1.5), shown) == Dosed("pour-on", amount=1.5, unit="mL")
    assert in_words_of(SHEET, Dosed("drench", amount=1.5), shown) == Dosed("Oral Drench", amount=1.5, unit="mL")
    with pytest.raises(ValueError, match="Oral Drench, copper, vitamin, pour-on"):
        in_words_of(SHEET, Dosed("implant"), shown)


@pytest.mark.parametrize(("given", "doses"), [(True, ("Oral Drench",)), (False, ()), (None, ())])
def test_that_the_doses_of_one_struck_out_were_given_is_said_of_those_that_it_has(
    *, given: bool | None, doses: tuple[str, ...]
) -> None:
    shown = [Treatment(name="Oral Drench"), Treatment(name="copper", skipped=True)]
    assert in_words_of(SHEET, Void(given=given), shown) == Void(given=given, doses=doses)
