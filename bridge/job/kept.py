"""Job sheets as the daemon keeps them: what a person gave, and what a job began with, whatever becomes of the files.

Each lies in a folder of its own, named by the digest of sheet and roster.  It is written under another name and then
renamed, so that a power cut leaves it whole or not at all.

Whoever names a sheet is told what is in it and what differs from the one before: half a file, or another than was
meant, shows at once.
"""

import contextlib
import hashlib
import os
import re
import shutil
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.load import Job, load_job
from neckyoke.bridge.job.roster.roster import Roster
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.many import many

SHEET, ROSTER = "sheet.toml", "roster"
DIGEST = re.compile("[0-9a-f]{12}")
LARGEST = 1 << 20
"""Bytes of a sheet and its roster together."""


@dataclass(frozen=True, slots=True)
class Given:
    """A sheet's content and its roster's; `roster_name` tells by its ending how to read it."""

    sheet: bytes
    roster: bytes | None = None
    roster_name: str = "roster.csv"

    @property
    def digest(self) -> str:
        """Twelve hex digits that differ when anything in either differs."""
        made = hashlib.sha256(len(self.sheet).to_bytes(8, "big") + self.sheet + (self.roster or b""))
        return made.hexdigest()[:12]

    @classmethod
    def of(cls, job: Job) -> "Given":
        """Read what a job was read from once more, as it is in the files now."""
        roster = job.sheet.roster_path
        found = roster if roster is not None and job.roster is not None else None
        content = found.read_bytes() if found else None
        return cls(job.sheet.path.read_bytes(), content, found.name if found else "roster.csv")


class KeptSheets:
    """The sheets below one folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, given: Given, today: date, name: str = SHEET) -> tuple[SheetRef, Job]:
        """Check a sheet and keep it.  Raises ConfigError when it is none; nothing is kept then."""
        if len(given.sheet) + len(given.roster or b"") > LARGEST:
            what = f"a sheet and its roster have at most {LARGEST >> 20} MiB"
            raise ConfigError([Problem(file=name, where="file", what=what)])
        place = self._folder / given.digest
        if not place.is_dir():
            self._write(place, given, today, name)
        with contextlib.suppress(OSError):
            os.utime(place)  # it was used
        job = self._load(place, today)
        return SheetRef(job.sheet.title, given.digest), job

    def load(self, digest: str, today: date) -> Job:
        """Read a kept sheet.  Raises ConfigError when it is not there any more."""
        return self._load(self._folder / digest, today)

    def sweep(self, needed: Collection[str], before_s: float) -> list[str]:
        """Delete what was last kept before a moment and is not needed; return the digests of what went."""
        gone = []
        for place in sorted(self._folder.glob("*")) if self._folder.is_dir() else ():
            ours = DIGEST.fullmatch(place.name) and place.is_dir() and not place.is_symlink()
            if ours and place.name not in needed and place.stat().st_mtime < before_s:
                shutil.rmtree(place, ignore_errors=True)
                gone.append(place.name)
        return gone

    def _write(self, place: Path, given: Given, today: date, name: str) -> None:
        new = place.with_suffix(f".{os.getpid()}.new")
        shutil.rmtree(new, ignore_errors=True)
        try:
            new.mkdir(parents=True)
            files = {SHEET: given.sheet}
            if given.roster is not None:
                files[ROSTER + Path(given.roster_name).suffix.lower()] = given.roster
            for file, content in files.items():
                _write(new / file, content)
            try:
                self._load(new, today)
            except ConfigError as error:
                raise ConfigError(
                    [named_as_given(problem, new, name, given.roster_name) for problem in error.problems]
                ) from None
            _sync(new)
            new.rename(place)
            _sync(self._folder)
        except OSError as error:
            what = f"cannot be kept in {self._folder}: {error.strerror}"
            raise ConfigError([Problem(file=name, where="file", what=what)]) from None
        finally:
            shutil.rmtree(new, ignore_errors=True)

    def _load(self, place: Path, today: date) -> Job:
        roster = next(iter(sorted(place.glob(f"{ROSTER}.*"))), None)
        return load_job(place / SHEET, today, roster=roster, without_roster=roster is None)


def named_as_given(problem: Problem, folder: Path, name: str, roster_name: str) -> Problem:
    """Name the person's own files in what is wrong with a kept one."""
    names = {str(folder / SHEET): name}
    file = names.get(problem.file, roster_name if problem.file.startswith(str(folder)) else problem.file)
    return Problem(file=file, where=problem.where, what=problem.what, hint=problem.hint)


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def check_whole(content: bytes, digest: str | None, file: str) -> None:
    """Compare a sheet with the digest that came with it, if one did.  Raises ConfigError."""
    found = hashlib.sha256(content).hexdigest()
    if digest is not None and not found.startswith(digest):
        what = f"has another digest, {found[:12]}: it is half written, or another than was meant"
        raise ConfigError([Problem(file=file, where="file", what=what, hint="Look at it, and send its digest again.")])


def summary(sheet: Sheet, roster: Roster | None) -> str:
    """Count what is in a sheet: 2 treatments, 3 pens, 40 animals."""
    parts = [many(len(sheet.treatments), "treatment"), many(len(sheet.draft), "pen")]
    return ", ".join([*parts, *([many(len(roster), "animal")] if roster is not None else [])])


def changed(old: Sheet, new: Sheet) -> str:
    """Name the keys of a sheet that differ from one before, with treatments and details by their own names."""
    before, after = (one.model_dump(mode="json", exclude={"path", "roster_path"}) for one in (old, new))
    keys = [key for key in after if before.get(key) != after[key] and key not in {"treatments", "details"}]
    names = [*_differing("treatment", _by_name(before), _by_name(after))]
    names += _differing("detail", _said(before["details"]), _said(after["details"]))
    return "Other than before: " + ", ".join([*keys, *names]) + "." if keys or names else "As before."


def _said(details: dict[str, object]) -> dict[str, object]:
    return {name: value for name, value in details.items() if value is not None}


def _by_name(dumped: dict[str, object]) -> dict[str, object]:
    treatments = dumped.get("treatments")
    assert isinstance(treatments, list | tuple)
    return {one["name"]: one for one in treatments}


def _differing(what: str, before: dict[str, object], after: dict[str, object]) -> Iterator[str]:
    for name in dict.fromkeys([*before, *after]):
        if name not in after:
            yield f"{what} {name!r} gone"
        elif name not in before:
            yield f"{what} {name!r} new"
        elif before[name] != after[name]:
            yield f"{what} {name!r}"
