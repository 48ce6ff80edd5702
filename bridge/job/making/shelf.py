"""The shelf: the job sheets that a person can pick, each a TOML file with the roster that it names beside it.

Two places: the box's own folder for sheets (`sheets/weaning.toml`), and beside the configuration (`weaning.toml`).  A
sheet is written together with its roster, and only by who has seen it as it is: its digest must be the one that was
read.  Roster and sheet are each written under another name and renamed, the sheet last, and a roster never takes the
place of the one that the sheet names still; so a power cut leaves the one pair or the other.
"""

import os
import re
import tomllib
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.find import KEPT, sheet_path, sheets_beside
from neckyoke.bridge.job.kept import LARGEST, Given

MOST_SHEETS = 500
CHANGED = "was changed meanwhile, by hand or from another phone"
OPEN_AGAIN = "Open it again: what you changed is still on this page until then."
READ_ONLY = "Make a copy of it: that is kept in the box's own folder, where it can be changed."


@dataclass(frozen=True, slots=True)
class Lying:
    """A sheet as it lies there: its text, and its roster's content where it names one that is there."""

    file: str
    path: Path
    given: Given
    roster: str | None = None

    @property
    def text(self) -> str:
        """The sheet's text."""
        return self.given.sheet.decode("utf-8-sig", "replace")


class Shelf:
    """The sheets of one configuration."""

    def __init__(self, config: Config) -> None:
        self._config = config
        self.own = config.state_path(KEPT)

    def files(self) -> list[str]:
        """List the sheets by the names that requests use, the box's own first."""
        own = (f"{KEPT}/{path}" for path in sheets_beside(self.own))
        beside = sheets_beside(self._config.folder)
        return [*own, *beside][:MOST_SHEETS]

    def read(self, file: str) -> Lying:
        """Read a sheet of the list.  Raises ConfigError when it is not there."""
        path = sheet_path(self._config, file)
        content = _read(path) if file in self.files() else None
        if content is None:
            raise _wrong(file, "there is no such sheet any more", "Look at the list again.")
        roster = roster_named(content)
        lies = _read(path.parent / roster) if roster and _is_below(path.parent / roster, path.parent) else None
        return Lying(file, path, Given(content, lies, roster or "roster.csv"), roster)

    def place_for(self, title: str) -> str:
        """Return a name that no sheet has, for a new one of this title."""
        stem = slug(title)
        names = (stem if turn == 1 else f"{stem}-{turn}" for turn in range(1, 2 * MOST_SHEETS))
        found = next(name for name in names if not any((self.own / f"{name}{end}").exists() for end in ENDINGS))
        return f"{KEPT}/{found}.toml"

    def roster_for(self, file: str, given: Given) -> str:
        """Return the name under which a sheet's roster is to lie: one that is free, or has this content."""
        path = sheet_path(self._config, file, there=False)
        ending = ".xlsx" if given.roster_name.casefold().endswith(".xlsx") else ".csv"
        for name in _turns(path.stem, ending):
            found = _read(path.parent / name)
            if found is None or found == given.roster:
                return name
        raise _wrong(file, "its roster has no place to lie", "Give the sheet another title.")

    def write(self, file: str, given: Given, was: str | None) -> bool:
        """Write a sheet and its roster; False when it is there as it is to be.  Raises ConfigError when it is not done.

        `was` is the digest that it had when it was opened, None for a new one.
        """
        if len(given.sheet) + len(given.roster or b"") > LARGEST:
            raise _wrong(file, f"a sheet and its roster have at most {LARGEST >> 20} MiB")
        path = sheet_path(self._config, file, there=False)
        there = self.read(file) if file in self.files() else None
        if there is None and path.exists():
            raise _wrong(file, "is there, and no sheet", "Give the sheet another title.")
        if there is not None and there.given.digest == given.digest:
            return False
        if (there.given.digest if there else None) != was:
            raise _wrong(file, CHANGED if there else "is gone meanwhile", OPEN_AGAIN)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            roster = roster_named(given.sheet)
            if given.roster is not None and roster is not None and _read(path.parent / roster) != given.roster:
                _put(path.parent / roster, given.roster)
            _put(path, given.sheet)
        except OSError as error:
            raise _wrong(file, f"cannot be written: {error.strerror}", READ_ONLY) from None
        if there is not None and there.roster != roster:
            self._sweep(there)
        return True

    def drop(self, file: str, was: str) -> Lying:
        """Take a sheet of the box's own off the shelf, and give it.  Raises ConfigError when it is not done."""
        there = self.read(file)
        if there.path.parent != self.own:
            raise _wrong(file, "lies beside the configuration", "Delete it there.")
        if there.given.digest != was:
            raise _wrong(file, CHANGED, OPEN_AGAIN)
        there.path.unlink()
        self._sweep(there)
        return there

    def _sweep(self, gone: Lying) -> None:
        """Delete a roster of the box's own that no sheet names any more."""
        if gone.roster is None or gone.path.parent != self.own or Path(gone.roster).name != gone.roster:
            return
        named = {roster_named(content) for name in sheets_beside(self.own) if (content := _read(self.own / name))}
        if gone.roster not in named:
            (self.own / gone.roster).unlink(missing_ok=True)


ENDINGS = (".toml", ".csv", ".xlsx")


def slug(title: str) -> str:
    """Spell a title as a file's name: small letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.casefold()).strip("-")[:40].strip("-") or "sheet"


def roster_named(sheet: bytes) -> str | None:
    """Return the roster that a sheet names; None too for what is no sheet."""
    try:
        named = tomllib.loads(sheet.decode("utf-8-sig")).get("roster")
    except (ValueError, RecursionError):
        return None
    return named if isinstance(named, str) and named else None


def _is_below(path: Path, folder: Path) -> bool:
    return Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder))


def _turns(stem: str, ending: str) -> Iterator[str]:
    yield f"{stem}{ending}"
    yield from (f"{stem}-{turn}{ending}" for turn in range(2, MOST_SHEETS))


def _read(path: Path) -> bytes | None:
    """Read an ordinary file of a size that a sheet has; None when there is none."""
    try:
        if not path.is_file() or path.stat().st_size > 2 * LARGEST:
            return None
        return path.read_bytes()
    except (OSError, ValueError):
        return None


def _put(path: Path, content: bytes) -> None:
    """Write a file whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.new")
    with part.open("wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    part.replace(path)
    folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _wrong(file: str, what: str, hint: str = "") -> ConfigError:
    return ConfigError([Problem(file=file, where="sheet", what=what, hint=hint)])
