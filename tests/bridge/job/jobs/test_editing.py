"""A sheet changed in one place: everything else is as the person wrote it."""

import tomllib
from datetime import date

import pytest

from neckyoke.bridge.job.jobs.editing import with_batch

SHEET = """# autumn, second half
title = "autumn weigh-in"   # for the board in the shed

[[treatments]]
name = "oral drench"        # ask Bob
ml_per_kg = 0.1
batch = "B7"
expires = 2026-12-31

[[treatments]]
name = "seven in one"
ml = 2
"""


def test_another_batch_changes_two_lines_and_no_comment() -> None:
    text, found = with_batch(SHEET, "drench", batch="B8", expires=date(2027, 5, 1))
    assert found == "oral drench"
    table = tomllib.loads(text)["treatments"][0]
    assert (table["batch"], table["expires"], table["ml_per_kg"]) == ("B8", date(2027, 5, 1), 0.1)
    changed = {*SHEET.splitlines()} ^ {*text.splitlines()}
    assert changed == {'batch = "B7"', "expires = 2026-12-31", 'batch = "B8"', "expires = 2027-05-01"}


def test_another_batch_has_not_the_old_ones_date() -> None:
    text, _ = with_batch(SHEET, "oral drench", batch="B8")
    assert "expires" not in tomllib.loads(text)["treatments"][0]


def test_another_product_takes_the_treatments_place() -> None:
    text, found = with_batch(SHEET, "seven", batch="K1", product="five in one")
    assert found == "seven in one"
    assert [one["name"] for one in tomllib.loads(text)["treatments"]] == ["oral drench", "five in one"]
    assert tomllib.loads(text)["treatments"][1]["batch"] == "K1"


@pytest.mark.parametrize(
    ("treatment", "said"),
    [("pour-on", "there is: oral drench, seven in one"), ("n", "may be any of these")],
)
def test_a_treatment_that_is_not_there_is_refused(treatment: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        with_batch(SHEET, treatment, batch="B8")


def test_a_sheet_without_treatments_has_none_to_change() -> None:
    with pytest.raises(ValueError, match="no job sheet with treatments"):
        with_batch('title = "x"\n', "drench", batch="B8")


def test_treatments_on_one_line_are_changed_there() -> None:
    text, found = with_batch('treatments = [{ name = "drench", ml = 5, batch = "B7" }]  # mine\n', "drench", batch="B8")
    assert (text, found) == ('treatments = [{ name = "drench", ml = 5, batch = "B8" }]  # mine\n', "drench")
    with pytest.raises(ValueError, match="no job sheet with treatments"):
        with_batch("treatments = 3\n", "drench", batch="B8")
