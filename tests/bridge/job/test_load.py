"""A job as it lies on the disk: a sheet, the roster that it names, and what a person should look at."""

from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.load import expected_by, load_job
from neckyoke.bridge.job.roster.roster import load_roster

TODAY = date(2026, 11, 24)
SHEET = 'title = "Weaning"\nroster = "mob.csv"\n'


def lying(folder: Path, roster: str | None, sheet: str = SHEET) -> Path:
    (folder / "sheet.toml").write_text(sheet)
    if roster is not None:
        (folder / "mob.csv").write_text(roster)
    return folder / "sheet.toml"


def said(path: Path) -> list[str]:
    with pytest.raises(ConfigError) as refused:
        load_job(path, TODAY)
    return [str(one).replace(f"{path.parent}/", "") for one in refused.value.problems]


NONE = "mob.csv: file: no animal can be read from it"
LOST = "mob.csv: row {}, column tag: is empty.  This row is left out."


@pytest.mark.parametrize(
    ("roster", "told"),
    [
        ("tag\n", [f"{NONE}.  Without a roster: take the key 'roster' out of the sheet."]),
        ("tag,sex\n" + ",steer\n" * 1, [LOST.format(2), f"{NONE}."]),
    ],
)
def test_a_roster_of_which_no_animal_can_be_read_is_refused_with_the_reasons(
    tmp_path: Path, roster: str, told: list[str]
) -> None:
    assert said(lying(tmp_path, roster)) == told


BAD = ("9.99E+14", "steer", "99900000011223", "999999999999999", "")
"""Tags wrong in five ways."""


@pytest.mark.parametrize("kinds", range(1, len(BAD) + 1))
@pytest.mark.parametrize("columns", ["tag", "tag,weight", "tag,weight,sex,sex"])
def test_of_many_reasons_the_first_five_are_named(tmp_path: Path, kinds: int, columns: str) -> None:
    path = lying(tmp_path, columns + "\n" + "".join(f"{tag},x,,\n" for tag in BAD[:kinds]))
    reasons = [str(one).replace(f"{tmp_path}/", "") for one in load_roster(tmp_path / "mob.csv", TODAY).problems]
    assert reasons
    *named, last = said(path)
    assert named == reasons[:5]
    assert last.removeprefix(NONE) == (f".  So it is with {len(reasons) - 5} more." if len(reasons) > 5 else ".")


def test_without_its_roster_a_sheet_is_better_than_nothing(tmp_path: Path) -> None:
    path = lying(tmp_path, None)
    assert "there is no such file" in said(path)[0]
    job = load_job(path, TODAY, without_roster=True)
    assert (job.roster, expected_by(job)) == (None, None)
    assert job.lacking
    assert job.lacking[0] in job.doubts


def test_a_roster_may_lie_elsewhere_and_its_bad_rows_are_doubts(tmp_path: Path) -> None:
    path = lying(tmp_path, None)
    other = tmp_path / "kept.csv"
    other.write_text("tag,visual,born\n999000000112233,,2026-01-02\n999000000112234,48,2026-02-30\n,49,\n")
    job = load_job(path, TODAY, roster=other)
    assert ([str(other) == one.file for one in job.doubts], job.lacking) == ([True], ())
    assert expected_by(job) == {
        "999000000112233": "999000000112233",
        "999000000112234": "48",
        "visual 49": "49",
    }
    assert expected_by(None) is None
    path.write_text('title = "Weaning"\n')
    assert load_job(path, TODAY).roster is None


def test_a_pen_that_asks_for_what_nobody_has_is_doubted(tmp_path: Path) -> None:
    asks = '[details]\nbreed = "red"\n[[draft]]\npen = "a"\nmatch = { KEY = ["x"] }\n'
    for key, known in (("breed", True), ("block", True), ("sex", False), ("blok", False)):
        path = lying(tmp_path, "tag,block\n999000000112233,east\n", SHEET + asks.replace("KEY", key))
        doubts = [
            str(one) for one in load_job(path, TODAY).doubts if "neither a detail nor a roster column" in str(one)
        ]
        assert bool(doubts) is not known, key
    assert "block" in doubts[0], "the nearest"
    path = lying(tmp_path, None, 'title = "Weaning"\n' + asks.replace("KEY", "sex"))
    assert not [one for one in load_job(path, TODAY).doubts if "neither" in str(one)], "a roster could have it"
