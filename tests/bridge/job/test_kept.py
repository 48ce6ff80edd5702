"""Sheets as the daemon keeps them: whole or not at all, and the same content once.

That a rename replaces whole or not at all: rename(2), POSIX.
"""

import hashlib
import os
import stat
from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.kept import Given, KeptSheets, changed, check_whole, summary
from neckyoke.bridge.job.load import load_job
from neckyoke.bridge.job.roster.roster import load_roster
from neckyoke.bridge.job.sheet import Sheet, load_sheet

TODAY = date(2026, 11, 24)
SHEET = b'title = "Lambs"\nroster = "old/lambs.csv"\n[[treatments]]\nname = "drench"\nml = 5\nwithhold_days = 14\n'
ROSTER = b"tag,visual\n999000000112233,105\n"


def test_what_is_kept_is_read_again_with_its_roster(tmp_path: Path) -> None:
    kept = KeptSheets(tmp_path)
    ref, job = kept.keep(Given(SHEET, ROSTER), TODAY)
    again = KeptSheets(tmp_path).load(ref.digest, TODAY)
    assert ref.title == again.sheet.title == "Lambs"
    assert again.sheet.treatments == job.sheet.treatments
    assert again.roster is not None
    assert [animal.visual for animal in again.roster.animals] == ["105"]


def test_a_sheet_without_its_roster_is_kept_and_the_roster_doubted(tmp_path: Path) -> None:
    _, job = KeptSheets(tmp_path).keep(Given(SHEET), TODAY)
    assert job.roster is None
    assert any("lambs.csv" in str(doubt) for doubt in job.doubts)


def test_another_sheet_or_another_roster_is_kept_beside_it(tmp_path: Path) -> None:
    kept = KeptSheets(tmp_path)
    digests = {
        kept.keep(given, TODAY)[0].digest
        for given in (Given(SHEET, ROSTER), Given(SHEET), Given(SHEET + b"\n", ROSTER), Given(SHEET, ROSTER))
    }
    assert len(digests) == len(list(tmp_path.iterdir())) == 3


def test_what_is_no_sheet_is_refused_by_its_own_name_and_leaves_nothing(tmp_path: Path) -> None:
    kept = KeptSheets(tmp_path)
    with pytest.raises(ConfigError, match=r"lambs\.toml: .*titel"):
        kept.keep(Given(b'titel = "Lambs"\n'), TODAY, "lambs.toml")
    with pytest.raises(ConfigError, match=r"1 MiB"):
        kept.keep(Given(b"#" * (1 << 21)), TODAY)
    assert list(tmp_path.iterdir()) == []


def test_a_torn_copy_of_an_earlier_stop_is_in_nobodys_way(tmp_path: Path) -> None:
    kept = KeptSheets(tmp_path)
    ref, _ = kept.keep(Given(SHEET, ROSTER), TODAY)
    (tmp_path / f"{ref.digest}.1.new").mkdir()
    assert kept.keep(Given(SHEET, ROSTER), TODAY)[0] == ref


def test_a_job_from_files_is_kept_as_it_was_whatever_becomes_of_them(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "lambs.csv").write_bytes(ROSTER)
    (tmp_path / "lambs.toml").write_bytes(SHEET)
    kept = KeptSheets(tmp_path / "sheets")
    ref, _ = kept.keep(Given.of(load_job(tmp_path / "lambs.toml", TODAY)), TODAY)
    (tmp_path / "lambs.toml").unlink()
    assert kept.load(ref.digest, TODAY).sheet.title == "Lambs"
    with pytest.raises(ConfigError):
        kept.load("0" * 12, TODAY)


def test_what_nothing_needs_any_more_goes_and_what_was_used_of_late_stays(tmp_path: Path) -> None:
    kept = KeptSheets(tmp_path)
    old, needed, late = (kept.keep(Given(b'title = "%d"\n' % number), TODAY)[0].digest for number in range(3))
    (tmp_path / "weaning.toml").write_text('title = "A person\'s own"\n')
    for name in (old, needed, "weaning.toml"):
        os.utime(tmp_path / name, (1000.0, 1000.0))
    assert kept.sweep({needed}, 2000.0) == [old]
    assert {path.name for path in tmp_path.iterdir()} == {needed, late, "weaning.toml"}
    kept.keep(Given(b'title = "1"\n'), TODAY)
    assert kept.sweep(set(), 2000.0) == [], "it was used again"


def test_what_is_named_so_but_leads_elsewhere_is_left_alone(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    os.utime(elsewhere, (1000.0, 1000.0))
    kept = tmp_path / "sheets"
    kept.mkdir()
    (kept / ("a" * 12)).symlink_to(elsewhere)
    assert KeptSheets(kept).sweep((), 2000.0) == []
    assert (kept / ("a" * 12)).is_symlink()
    assert KeptSheets(tmp_path / "none").sweep((), 2000.0) == []


def test_sheet_and_roster_together_are_bounded(tmp_path: Path) -> None:
    half = b"#" * (600 << 10)
    with pytest.raises(ConfigError, match="at most 1 MiB"):
        KeptSheets(tmp_path).keep(Given(SHEET + half, ROSTER + half), TODAY)
    KeptSheets(tmp_path).keep(Given(SHEET + half, ROSTER), TODAY)


def test_a_roster_keeps_its_kind_and_its_name_in_what_is_said(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "lambs.CSV").write_bytes(ROSTER)
    (tmp_path / "lambs.toml").write_bytes(SHEET.replace(b"lambs.csv", b"lambs.CSV"))
    given = Given.of(load_job(tmp_path / "lambs.toml", TODAY))
    assert given.roster_name == "lambs.CSV"
    ref, _ = KeptSheets(tmp_path / "sheets").keep(given, TODAY)
    assert sorted(path.name for path in (tmp_path / "sheets" / ref.digest).iterdir()) == ["roster.csv", "sheet.toml"]


def test_it_is_in_its_place_only_when_all_of_it_would_survive_a_power_cut(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What fsync(2) promises is of what was written by then: sizes are noted as it is called."""
    noted = []
    sync = os.fsync

    def note(handle: int) -> None:
        about = os.fstat(handle)
        noted.append("folder" if stat.S_ISDIR(about.st_mode) else about.st_size)
        noted.extend(["there"] if (tmp_path / Given(SHEET, ROSTER).digest).exists() else [])
        sync(handle)

    monkeypatch.setattr(os, "fsync", note)
    KeptSheets(tmp_path).keep(Given(SHEET, ROSTER), TODAY)
    assert noted == [len(SHEET), len(ROSTER), "folder", "folder", "there"]


def sheet(folder: Path, text: str) -> Sheet:
    path = folder / "sheet.toml"
    path.write_text(text)
    return load_sheet(path)


DRENCH = '[[treatments]]\nname = "drench"\nml = 5\n'
RED = '[details]\nbreed = "red"\n'
VACCINE = '[[treatments]]\nname = "vaccine"\nml = 2\n'


@pytest.mark.parametrize(
    ("text", "rows", "told"),
    [
        ('title = "x"\n', None, "0 treatments, 0 pens"),
        ('title = "x"\n' + DRENCH, None, "1 treatment, 0 pens"),
        ('title = "x"\n' + DRENCH + VACCINE + '[[draft]]\npen = "all"\n', 1, "2 treatments, 1 pen, 1 animal"),
        ('title = "x"\n', 2, "0 treatments, 0 pens, 2 animals"),
    ],
)
def test_what_is_in_a_sheet_is_counted(tmp_path: Path, text: str, rows: int | None, told: str) -> None:
    roster = None
    if rows is not None:
        (tmp_path / "mob.csv").write_text("tag,visual\n" + "".join(f",{row}\n" for row in range(rows)))
        roster = load_roster(tmp_path / "mob.csv", TODAY)
    assert summary(sheet(tmp_path, text), roster) == told


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("", "", "As before."),
        ("", 'mob = "north"\n', "Other than before: mob."),
        ('mob = "north"\n', "", "Other than before: mob."),
        (DRENCH, DRENCH + VACCINE, "Other than before: treatment 'vaccine' new."),
        (DRENCH + VACCINE, VACCINE, "Other than before: treatment 'drench' gone."),
        (DRENCH, DRENCH.replace("5", "6"), "Other than before: treatment 'drench'."),
        (RED, RED + 'block = "e"\n', "Other than before: detail 'block' new."),
        (RED, RED.replace("red", "black"), "Other than before: detail 'breed'."),
        (
            RED + DRENCH,
            'mob = "n"\n',
            "Other than before: mob, treatment 'drench' gone, detail 'breed' gone.",
        ),
    ],
)
def test_what_differs_from_the_sheet_before_is_named(tmp_path: Path, old: str, new: str, told: str) -> None:
    before, after = (sheet(tmp_path, 'title = "x"\n' + text) for text in (old, new))
    assert changed(before, after) == told


@pytest.mark.parametrize(
    ("digest", "whole"), [(None, True), ("", True), ("all", True), ("some", True), ("0" * 12, False)]
)
def test_half_a_file_shows_by_its_digest(digest: str | None, *, whole: bool) -> None:
    known = hashlib.sha256(SHEET).hexdigest()
    given = {"all": known, "some": known[:12]}.get(digest or "", digest)
    if whole:
        check_whole(SHEET, given, "lambs.toml")
        return
    with pytest.raises(ConfigError, match=rf"lambs\.toml: file: has another digest, {known[:12]}: it is half written"):
        check_whole(SHEET, given, "lambs.toml")


def test_a_digest_has_twelve_digits_and_tells_where_the_sheet_ends_and_the_roster_begins() -> None:
    assert len(Given(SHEET, ROSTER).digest) == 12
    assert Given(SHEET + b"x", ROSTER).digest != Given(SHEET, b"x" + ROSTER).digest
    assert Given(SHEET).digest == Given(SHEET, b"").digest


def test_so_large_and_not_a_byte_larger(tmp_path: Path) -> None:
    most = SHEET + b"#" * ((1 << 20) - len(SHEET) - len(ROSTER))
    KeptSheets(tmp_path / "deep" / "er").keep(Given(most, ROSTER), TODAY)
    with pytest.raises(ConfigError, match="at most 1 MiB"):
        KeptSheets(tmp_path).keep(Given(most + b"#", ROSTER), TODAY)
