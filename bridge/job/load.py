"""A job as it lies on the disk: the sheet's file, and the roster it names beside it."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from bridge.job.roster import Roster, load_roster
from bridge.job.sheet import Sheet, doubts, load_sheet
from bridge.problems import Problem


@dataclass(frozen=True, slots=True)
class Job:
    """A sheet and its roster, ready for the clerk; `doubts` are what a person should look at before the day."""

    sheet: Sheet
    roster: Roster | None
    doubts: tuple[Problem, ...]


def load_job(path: Path, today: date) -> Job:
    """Read a sheet and the roster it names.  Raises ConfigError saying what is wrong; bad roster rows are doubts."""
    sheet = load_sheet(path)
    roster = load_roster(path.parent / sheet.roster, today) if sheet.roster else None
    return Job(sheet, roster, (*doubts(sheet, today), *(roster.problems if roster else ())))
