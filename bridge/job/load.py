"""A job as it lies on the disk: the sheet's file, and the roster it names beside it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from neckyoke.bridge.config.problems import ConfigError, Problem, nearest
from neckyoke.bridge.job.roster.roster import NAMES, Roster, load_roster
from neckyoke.bridge.job.sheet import Sheet, doubts, load_sheet

SHOWN = 5
"""How many rows are named of a roster of which none can be read: they are wrong in the same way."""


@dataclass(frozen=True, slots=True)
class Job:
    """A sheet and its roster, ready for the clerk; `doubts` are what a person should look at before the day.

    `lacking` says why there is no roster though the sheet names one.
    """

    sheet: Sheet
    roster: Roster | None
    doubts: tuple[Problem, ...]
    lacking: tuple[Problem, ...] = ()


def load_job(path: Path, today: date, *, roster: Path | None = None, without_roster: bool = False) -> Job:
    """Read a sheet and the roster it names.  Raises ConfigError saying what is wrong; bad roster rows are doubts.

    `roster` is where its roster lies when that is not beside it.  `without_roster` lets a roster that cannot be read be
    a doubt too: doses and pens are better than nothing.
    """
    sheet = load_sheet(path)
    animals: Roster | None = None
    missing: tuple[Problem, ...] = ()
    path = roster or sheet.roster_path or path
    if sheet.roster_path is not None:
        try:
            animals = _some_animals(load_roster(path, today), path)
        except ConfigError as error:
            if not without_roster:
                raise
            missing = error.problems
    found = animals.problems if animals is not None else missing
    return Job(sheet, animals, (*doubts(sheet, today), *_unknown_matches(sheet, animals), *found), missing)


def _some_animals(roster: Roster, path: Path) -> Roster:
    """Return a roster that holds an animal.  Raises ConfigError with the first reasons why there is none."""
    if roster.animals:
        return roster
    more = len(roster.problems) - SHOWN
    rest = f"So it is with {more} more." if more > 0 else ""
    hint = "Without a roster: take the key 'roster' out of the sheet." if not roster.problems else rest
    none = Problem(file=str(path), where="file", what="no animal can be read from it", hint=hint)
    raise ConfigError([*roster.problems[:SHOWN], none])


def _unknown_matches(sheet: Sheet, roster: Roster | None) -> Iterator[Problem]:
    """Find draft rules that ask for something neither the details nor the roster's columns have."""
    known = {*sheet.details.as_dict(), *(NAMES if roster is None else roster.columns)}
    for pen in sheet.pens:
        for key in pen.match:
            if key not in known:
                what = f"{key!r} is neither a detail nor a roster column, so no animal matches"
                where = f"[[draft]] {pen.pen}"
                yield Problem(file=str(sheet.path), where=where, what=what, hint=nearest(key, known))


def expected_by(job: Job | None) -> dict[str, str] | None:
    """Return the animals of a job's roster, key to the name that people know it by; None when nobody said."""
    if job is None or job.roster is None:
        return None
    return {animal.key: animal.visual or animal.key for animal in job.roster.animals}
