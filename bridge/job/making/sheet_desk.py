"""The desk for sheets: what is asked of the shelf, answered; what was written can be taken back for a while.

Files are read and written in a thread, one request after the other: of two that change one sheet, the second finds it
changed.
"""

import asyncio
import secrets
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeAlias

from neckyoke.bridge.asking.requests import Answer
from neckyoke.bridge.asking.sheet_requests import DropSheet, OpenSheet, SaveSheet, SheetsRequest, ShelfRequest, TrySheet
from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.kept import Given, summary
from neckyoke.bridge.job.load import Job
from neckyoke.bridge.job.making.foreseen import Beast, doses, foreseen
from neckyoke.bridge.job.making.form import form_of
from neckyoke.bridge.job.making.mending import Tried, check, spelled, tried
from neckyoke.bridge.job.making.offered import offered
from neckyoke.bridge.job.making.shelf import Lying, Shelf
from neckyoke.bridge.job.sheet import Sheet, SheetError, load_sheet

Expected: TypeAlias = Callable[[Job], Awaitable[Sequence[Beast] | None]]
"""Who is expected under a sheet, with last weights; None when nobody knows."""
LastUsed: TypeAlias = Callable[[], Mapping[str, datetime]]
"""When a job last began under a sheet, by its title."""
TAKEN_BACK_MOST = 40


@dataclass(frozen=True, slots=True)
class _Written:
    """Something done on the shelf: the sheet before, None for a new one, and after, None for one dropped."""

    file: str
    before: Given | None
    after: Given | None


@dataclass(slots=True)
class SheetDesk:
    """Answers requests about sheets.  `today` is the farm's date."""

    shelf: Shelf
    today: Callable[[], date]
    last_used: LastUsed
    expected: Expected
    _written: OrderedDict[str, _Written] = field(default_factory=OrderedDict)
    _one: asyncio.Lock = field(default_factory=asyncio.Lock)

    async def answer(self, request: ShelfRequest) -> Answer:
        """Answer one request."""
        async with self._one:
            try:
                return await self._answer(request)
            except ConfigError as error:
                told = [spelled(problem, "") for problem in error.problems]
                return Answer(id=request.id, done=False, text=_text(told), sheet={"problems": told})

    def wrote(self, asked: str | None) -> bool:
        """Return whether something that was asked was done here, and can be taken back."""
        return asked in self._written

    async def undo(self, asked: str) -> Answer:
        """Put a sheet back as it was before something asked."""
        async with self._one:
            done = self._written[asked]
            try:
                await asyncio.to_thread(self._put_back, done)
            except ConfigError as error:
                return Answer(done=False, text=_text([spelled(problem, "") for problem in error.problems]))
            del self._written[asked]
            return Answer(done=True, text="Taken back: the sheet is as it was before.")

    def _put_back(self, done: _Written) -> None:
        if done.before is None:
            assert done.after is not None
            self.shelf.drop(done.file, done.after.digest)
        else:
            self.shelf.write(done.file, done.before, done.after.digest if done.after else None)

    async def _answer(self, request: ShelfRequest) -> Answer:
        if isinstance(request, SheetsRequest):
            found = await asyncio.to_thread(self._list, self.last_used())
            return Answer(id=request.id, done=True, text=f"{len(found['sheets'])} sheets.", sheet=found)
        if isinstance(request, OpenSheet):
            opened = await asyncio.to_thread(self._open, request.file)
            return Answer(id=request.id, done=True, text="", sheet=opened)
        if isinstance(request, DropSheet):
            gone = await asyncio.to_thread(self.shelf.drop, request.file, request.was)
            asked = self._done(request.id, _Written(request.file, gone.given, None))
            return Answer(id=request.id, done=True, text="Taken off the list.", asked=asked)
        made = await asyncio.to_thread(tried, self.shelf, request, self.today())
        told = await self._told(made)
        if made.job is None:
            return Answer(id=request.id, done=False, text=_text(told["problems"]), sheet=told)
        text = f"{made.job.sheet.title!r}: {summary(made.job.sheet, made.job.roster)}.  Good to use."
        if not isinstance(request, SaveSheet):
            return Answer(id=request.id, done=True, text=text, sheet=told)
        return await self._save(request, made, told)

    async def _save(self, request: TrySheet, made: Tried, told: dict[str, Any]) -> Answer:
        before = self.shelf.read(made.file).given if request.file is not None else None
        written = await asyncio.to_thread(self.shelf.write, made.file, made.given, made.was)
        asked = self._done(request.id, _Written(made.file, before, made.given)) if written else None
        text = f"Saved.  It has {told['summary']}." if written else "Saved already: it is as you see it."
        return Answer(id=request.id, done=True, text=text, asked=asked, sheet=told)

    def _done(self, name: str | None, what: _Written) -> str:
        asked = f"sheet-{name or secrets.token_hex(8)}"[:64]
        self._written[asked] = what
        while len(self._written) > TAKEN_BACK_MOST:
            self._written.popitem(last=False)
        return asked

    async def _told(self, made: Tried) -> dict[str, Any]:
        """Say of a sheet that was tried what is wrong, or what it would do."""
        text = made.given.sheet.decode()
        told: dict[str, Any] = {
            "file": made.file,
            "digest": made.given.digest,
            "form": form_of(text),
            "problems": [spelled(problem, text) for problem in made.problems],
            "doubts": [],
        }
        if made.job is not None:
            told["doubts"] = [spelled(problem, text) for problem in made.job.doubts]
            told["summary"] = summary(made.job.sheet, made.job.roster)
            told["foreseen"] = foreseen(made.job.sheet, await self.expected(made.job))
            if made.job.roster is not None:
                told["foreseen"]["expected"] = len(made.job.roster)
            told["caution"] = cautions.DOSES
        return told

    def _open(self, file: str) -> dict[str, Any]:
        there = self.shelf.read(file)
        try:
            form = form_of(there.text)
        except ValueError as error:
            form, wrong = {}, [{"text": f"It is no TOML: {error}"}]
        else:
            wrong = []
        opened = {"file": file, "digest": there.given.digest, "form": form, "problems": wrong, "doubts": []}
        return opened | self._checked(there)

    def _checked(self, there: Lying) -> dict[str, Any]:
        """Say what is wrong with a sheet as it lies."""
        try:
            job = check(there.given, self.today(), Path(there.file).name)
        except ConfigError as error:
            return {"problems": [spelled(problem, there.text) for problem in error.problems]}
        animals = None if job.roster is None else len(job.roster)
        return {"animals": animals, "doubts": [spelled(problem, there.text) for problem in job.doubts]}

    def _list(self, used: Mapping[str, datetime]) -> dict[str, Any]:
        found = [self._listed(file, used) for file in self.shelf.files()]
        found.sort(key=lambda one: (one["used"] or "", one["changed"]), reverse=True)
        return {"sheets": found, "offered": offered(self._all_files())}

    def _all_files(self) -> Iterable[Path]:
        """Return all sheets that treatments may be taken from: those of the list, and those that jobs began with."""
        return [*(self.shelf.read(file).path for file in self.shelf.files()), *self.shelf.own.glob("*/sheet.toml")]

    def _listed(self, file: str, used: Mapping[str, datetime]) -> dict[str, Any]:
        there = self.shelf.read(file)
        changed = there.path.stat().st_mtime_ns
        sheet, problem = _read(there.path, changed)
        title = sheet.title if sheet else str(there.text.partition("\n")[0][:80])
        begun = used.get(title)
        return {
            "file": file,
            "title": title,
            "mob": sheet.mob if sheet else None,
            "treatments": [doses(one)["name"] for one in sheet.treatments] if sheet else [],
            "pens": len({one.pen for one in sheet.draft}) if sheet else 0,
            "findings": len(sheet.findings) if sheet else 0,
            "roster": there.roster,
            "digest": there.given.digest,
            "used": begun.isoformat(timespec="seconds") if begun else None,
            "changed": f"{changed:020d}",
            "problem": problem,
        }


@lru_cache(maxsize=200)
def _read(path: Path, _changed: int) -> tuple[Sheet | None, str | None]:
    """Read a sheet once for each time it was changed; what is wrong with it instead."""
    try:
        return load_sheet(path), None
    except SheetError as error:
        return None, _text([spelled(problem, "") for problem in error.problems])


def _text(told: Iterable[Mapping[str, Any]]) -> str:
    return "\n".join(one["text"] for one in told)
