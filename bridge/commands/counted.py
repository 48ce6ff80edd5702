"""What the commands that count up have in common: the weighings read once, the job that is meant, and its mob's."""

import argparse
import contextlib
import gc
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import tzinfo

from neckyoke.bridge.commands.selection import job_events, selection_of
from neckyoke.bridge.commands.weighings import book_of, weighing_lines, zone_of
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.reports.pictures.mob_growth import Spread
from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.selection.mobs import JobSaid, growth, jobs_said, mob_of
from neckyoke.bridge.reports.selection.works import Pick, Selection, Work, picker, works_of
from neckyoke.bridge.reports.tally import Count, Tally

BEFORE = "before"
"""Names the mob's job before the one that is meant."""


@dataclass(frozen=True, slots=True)
class Counted:
    """All weighings, and the tally of those that are meant."""

    count: Count
    zone: tzinfo
    said: Mapping[str, JobSaid]
    pick: Pick
    root: Callable[[str], str]
    tally: Tally

    @property
    def rows(self) -> list[tuple[str, Row]]:
        """The newest revision of every weighing."""
        return self.count.rows()

    @property
    def work(self) -> Work | None:
        """The last job of which a weighing is meant."""
        there = works_of(((name, row) for name, row in self.rows if self.pick(row)), self.zone, self._turns)
        return there[-1] if there else None

    @property
    def _turns(self) -> dict[str, int]:
        return {job: one.turn for job, one in self.said.items() if one.turn is not None}

    def about(self) -> About:
        """Return whose work it was."""
        work = self.work
        known = self.said.get(work.job or "", JobSaid()) if work else JobSaid()
        mob = mob_of(work, self.said) if work else None
        return About(known.place, mob, work.station if work else None, known.turn)

    def growth(self) -> list[Spread]:
        """Return the weights of the mob over its jobs."""
        work = self.work
        return growth(self.rows, mob_of(work, self.said), self.said, self.zone) if work else []

    def against(self, named: str) -> tuple[Work, Tally]:
        """Count up another job, by its number or id, or the one `before` of the same mob.

        Raises ConfigError saying which jobs there are, when there is no such one.
        """
        work = self.work
        there = works_of(self.rows, self.zone, self._turns)
        if named == BEFORE and work is not None:
            mob = mob_of(work, self.said)
            earlier = [one for one in there if one.first < work.first and mob_of(one, self.said) == mob]
            if not earlier:
                what = f"there is no job before this one of the mob {mob!r}"
                raise ConfigError([Problem(file="tally", where="--against", what=what, hint=_named(there))])
            key = earlier[-1].key
        else:
            station = work.station if work else None
            found = [one for one in there if named in {one.job, str(one.turn)} and one.station == station]
            if not found:
                what = f"there is no job {named} at this station"
                raise ConfigError([Problem(file="tally", where="--against", what=what, hint=_named(there))])
            key = found[-1].key
        other = next(one for one in there if one.key == key)
        pick = picker(self.rows, Selection(job=other.job), self.zone, self._turns)
        return other, self.count.tally(None, pick, self.root)


def _named(there: Iterable[Work]) -> str:
    told = "; ".join(f"{one.name}, {one.title or 'no sheet'}, {one.station}, {one.first:%Y-%m-%d}" for one in there)
    return f"There is: {told}."


@contextlib.contextmanager
def _nothing_thrown_away() -> Iterator[None]:
    """Look for no rings of garbage meanwhile: rows make none, and looking costs a sixth of the time."""
    looking = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looking:
            gc.enable()


def counted(
    args: argparse.Namespace,
    expected: Mapping[str, str] | None = None,
    since: str | None = None,
    until: str | None = None,
) -> Counted:
    """Read the weighings that a person named, and count up those that are meant.

    `expected` are the roster's animals, key to name.  Raises ConfigError when nothing is meant.
    """
    zone, count, selection = zone_of(args), Count(since=since, until=until), selection_of(args)
    with weighing_lines(args) as lines, _nothing_thrown_away():
        for line in lines:
            count.add_line(line)
    timed = since is not None or until is not None
    said = jobs_said(job_events(args))
    turns = {job: one.turn for job, one in said.items() if one.turn is not None}
    rows, selection = count.rows(), replace(selection, everything=selection.everything or timed)
    pick = picker(rows, selection, zone, turns) if rows else lambda _: True
    root = book_of(args).root
    return Counted(count, zone, said, pick, root, count.tally(expected, pick, root))
