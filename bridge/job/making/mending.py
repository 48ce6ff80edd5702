"""A sheet as it is to be, tried: its text made, checked by the same checks as everywhere, and what it would do told."""

import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from re import fullmatch
from typing import Any

from neckyoke.bridge.asking.sheet_requests import TrySheet
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.kept import Given, named_as_given
from neckyoke.bridge.job.load import Job, load_job
from neckyoke.bridge.job.making.blocks import place_of
from neckyoke.bridge.job.making.form import checked, form_of, written
from neckyoke.bridge.job.making.shelf import CHANGED, OPEN_AGAIN, Lying, Shelf


@dataclass(frozen=True, slots=True)
class Tried:
    """A sheet that was tried: where it would lie and as what; `job` when it is good to use, else `problems`."""

    file: str
    given: Given
    was: str | None
    job: Job | None
    problems: Sequence[Problem] = ()


def tried(shelf: Shelf, request: TrySheet, today: date) -> Tried:
    """Make and check a sheet; nothing is written.  Raises ConfigError when it was changed meanwhile."""
    there = shelf.read(request.file) if request.file is not None else None
    form = _form_of(request)
    file = request.file or shelf.place_for(str(form.get("title") or ""))
    copied = shelf.read(request.copy_of) if request.copy_of is not None else None
    base = there or copied
    text = request.text or (base.text if base is not None else "")
    roster = _roster(request, there, copied, form)
    given = Given(b"", roster.content, roster.name or "roster.csv")
    if roster.content is not None and roster.is_new:
        form["roster"] = shelf.roster_for(file, given)
    try:
        made = written(text, form).encode()
    except ValueError as error:
        raise ConfigError([Problem(file=file, where="sheet", what=str(error))]) from None
    given = Given(made, roster.content, str(form.get("roster") or given.roster_name))
    if there is not None and there.given.digest not in {request.was, given.digest}:
        raise ConfigError([Problem(file=file, where="sheet", what=CHANGED, hint=OPEN_AGAIN)])
    try:
        return Tried(file, given, request.was, check(given, today, Path(file).name))
    except ConfigError as error:
        return Tried(file, given, request.was, None, error.problems)


@dataclass(frozen=True, slots=True)
class _Roster:
    """A roster's content; `is_new`: it did not come from this sheet, and needs a name of its own."""

    content: bytes | None = None
    name: str | None = None
    is_new: bool = False


def _form_of(request: TrySheet) -> dict[str, Any]:
    """Return what a request says as a form.  Raises ConfigError."""
    try:
        form = dict(request.form) if request.form is not None else form_of(request.text or "")
        checked(form)
    except (ValueError, RecursionError) as error:
        what = str(error) or "is nested too deeply"
        raise ConfigError([Problem(file=request.file or "new sheet", where="sheet", what=what)]) from None
    return form


def _roster(request: TrySheet, there: Lying | None, copied: Lying | None, form: dict[str, Any]) -> _Roster:
    """Return the roster that a sheet is to have: one that comes with it, a copied sheet's, or the one that it had."""
    brought = request.roster_bytes()
    if brought is not None:
        return _Roster(brought, request.roster_name, is_new=True)
    base = there or copied
    if base is None or form.get("roster") is None or form["roster"] != base.roster:
        return _Roster()
    return _Roster(base.given.roster, base.roster, is_new=there is None)


def check(given: Given, today: date, name: str) -> Job:
    """Check a sheet with its roster, as it would lie.  Raises ConfigError naming the person's own files."""
    with tempfile.TemporaryDirectory(prefix="neckyoke-") as work:
        folder = Path(work)
        (folder / "sheet.toml").write_bytes(given.sheet)
        ending = ".xlsx" if given.roster_name.casefold().endswith(".xlsx") else ".csv"
        roster = folder / f"roster{ending}"
        if given.roster is not None:
            roster.write_bytes(given.roster)

        def own(problems: Iterable[Problem]) -> tuple[Problem, ...]:
            return tuple(named_as_given(one, folder, name, given.roster_name) for one in problems)

        try:
            job = load_job(folder / "sheet.toml", today, roster=roster)
        except ConfigError as error:
            raise ConfigError(own(error.problems)) from None
        return Job(job.sheet, job.roster, own(job.doubts), job.lacking)


def spelled(problem: Problem, text: str) -> dict[str, Any]:
    """Return a problem for a page: its sentence, and the table that it is about, where it is in one."""
    said: dict[str, Any] = {"text": _sentence(problem)}
    found = fullmatch(r"line ([0-9]+)(?:, .*)?", problem.where)
    place = place_of(text, int(found[1])) if found else None
    return said | ({"part": place[0], "at": place[1]} if place else {})


def _sentence(problem: Problem) -> str:
    """Return the sentence of `check`, without the file's name and the line's number: neither is seen on a page."""
    where = problem.where.partition(", ")[2] if problem.where.startswith("line ") else problem.where
    stop = "" if problem.what.endswith((".", "?")) else "."
    hint = f"  {problem.hint}" if problem.hint else ""
    return f"{f'{where}: ' if where and where not in {'file', 'sheet'} else ''}{problem.what}{stop}{hint}"
