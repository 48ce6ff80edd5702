"""A sheet half written reads well and is refused by its digest; what a sheet changes is said."""

import hashlib
from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.kept import changed, check_whole, summary
from neckyoke.bridge.job.load import Job, load_job

WHOLE = """\
title = "autumn weigh-in"
roster = "roster.csv"

[details]
sex = "steer"

[[treatments]]
name = "oral drench"
ml_per_kg = 0.1

[[treatments]]
name = "clostridial"
ml = 2.0

[[draft]]
pen = "light"
below_kg = 300

[[draft]]
pen = "heavy"
"""


def job(folder: Path, text: str) -> Job:
    (folder / "sheet.toml").write_text(text)
    (folder / "roster.csv").write_text("tag,visual\n999000000112233,215\n")
    return load_job(folder / "sheet.toml", date(2026, 11, 24))


def test_every_part_of_a_sheet_but_the_whole_is_refused_with_the_digest_of_the_whole() -> None:
    whole = WHOLE.encode()
    digest = hashlib.sha256(whole).hexdigest()  # FIPS 180-4, by the standard library
    check_whole(whole, digest, "sheet.toml")
    check_whole(whole, digest[:12], "sheet.toml")
    check_whole(whole[:100], None, "sheet.toml")
    for length in range(len(whole)):
        with pytest.raises(ConfigError, match="half written"):
            check_whole(whole[:length], digest[:12], "sheet.toml")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("", "", "As before."),
        ("= 2.0", "= 2.5", "Other than before: treatment 'clostridial'."),
        ("below_kg = 300", "below_kg = 310", "Other than before: draft."),
        ('sex = "steer"', 'sex = "heifer"', "Other than before: detail 'sex'."),
        ('sex = "steer"', 'breed = "dairy"', "Other than before: detail 'sex' gone, detail 'breed' new."),
        (
            'title = "autumn weigh-in"', 'title = "spring"\nmob = "steers"', "Other than before: title, mob."
        ),
    ],
)  # fmt: skip
def test_what_differs_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    before, after = job(tmp_path, WHOLE).sheet, job(tmp_path, WHOLE.replace(old, new, 1)).sheet

    assert changed(before, after) == said


def test_half_a_sheet_that_reads_well_shows_by_what_is_in_it(tmp_path: Path) -> None:
    whole = job(tmp_path, WHOLE)
    half = job(tmp_path, WHOLE[: WHOLE.index('[[treatments]]\nname = "clostridial"')])

    assert summary(whole.sheet, whole.roster) == "2 treatments, 2 pens, 1 animal"
    assert summary(half.sheet, None) == "1 treatment, 0 pens"
    assert changed(whole.sheet, half.sheet) == "Other than before: draft, treatment 'clostridial' gone."
