"""Where sheets come from: the one that a station's configuration names, one beside it, or what a person gave."""

import os
import shutil
import tempfile
import weakref
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path
from stat import S_ISREG

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import TOML_MAX, ConfigError, Problem, read_toml
from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.kept import Given, KeptSheets
from neckyoke.bridge.job.load import Job, load_job

KEPT = "sheets"
"""The folder for sheets, in the folder for what the daemon keeps."""


@dataclass(slots=True, weakref_slot=True)
class FoundSheets:
    """Finds the sheets of a configuration's stations and keeps what was found.  `today` is the farm's date.

    Without `lasting`, as in a replay, what is kept goes with this object; what the daemon kept is read all the same.
    """

    config: Config
    today: Callable[[], date]
    lasting: bool = True
    _temporary: Path | None = field(init=False, default=None)

    def find(self, station: str, file: str | None, *, without_roster: bool = False) -> tuple[SheetRef, Job]:
        """Read a file beside the configuration, the station's own without one, and keep it.  Raises ConfigError."""
        job = find_job(self.config, station, file, self.today(), without_roster=without_roster)
        ref, _ = self.take(station, Given.of(job), job.sheet.path.name)
        return ref, job

    def take(self, _station: str, given: Given, name: str) -> tuple[SheetRef, Job]:
        """Keep what a person gave.  Raises ConfigError."""
        return self.kept.keep(given, self.today(), name)

    def load(self, digest: str) -> Job:
        """Read one that is kept.  Raises ConfigError."""
        try:
            return self.kept.load(digest, self.today())
        except ConfigError:
            if self.lasting:
                raise
            return KeptSheets(self.config.state_path(KEPT)).load(digest, self.today())

    @property
    def kept(self) -> KeptSheets:
        """Where they are kept."""
        if self.lasting:
            return KeptSheets(self.config.state_path(KEPT))
        if self._temporary is None:
            self._temporary = Path(tempfile.mkdtemp(prefix="neckyoke-"))
            weakref.finalize(self, shutil.rmtree, self._temporary, ignore_errors=True)
        return KeptSheets(self._temporary)


def find_job(config: Config, station: str, file: str | None, today: date, *, without_roster: bool = False) -> Job:
    """Read a station's job.  Raises ConfigError when there is none, or when a request reaches outside the folder."""
    name = file or config.stations[station].sheet
    if name is None:
        hint = f'Name a file in the request, or set sheet = "sheet.toml" under [stations.{station}].'
        where, what = f"[stations.{station}]", "no job sheet is named"
        raise ConfigError([Problem(file="configuration", where=where, what=what, hint=hint)])
    path = config.path(name) if file is None else sheet_path(config, file)
    if path.exists() and not path.is_file() and not path.is_dir():  # a pipe would be waited for
        raise ConfigError(
            [Problem(file=str(path), where="sheet", what="is no ordinary file", hint="Name a TOML file.")]
        )
    return load_job(path, today, without_roster=without_roster)


def sheet_path(config: Config, file: str, *, there: bool = True) -> Path:
    """Return where the sheet lies that a request names: beside the configuration, or in the box's own folder.

    `sheets/weaning.toml` is one of the box's own, unless such a one lies beside the configuration.  Raises ConfigError
    when it leads elsewhere.  Without `there` it is one to be written.
    """
    beside, own = config.path(file), config.state_path(file)
    is_own = file.startswith(f"{KEPT}/") and (not there or own.exists() or not beside.exists())
    path, base = (own, config.state_path(KEPT)) if is_own else (beside, config.folder)
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(base)):
        hint = f"Copy it into {config.folder}."
        what = "is not beside the configuration, where the daemon looks"
        raise ConfigError([Problem(file=file, where="sheet", what=what, hint=hint)])
    return path


def sheets_beside(folder: Path) -> list[str]:
    """List the job sheets that lie beside the configuration, by file name: TOML files that have a title."""
    return [path.name for path in sorted(folder.glob("*.toml")) if _lies_there(path)]


def _lies_there(path: Path) -> bool:
    """Return whether a path is a sheet.  What else has such a name, as an editor's lock or a folder, is none."""
    try:
        found = path.stat()
    except OSError:
        return False
    return S_ISREG(found.st_mode) and found.st_size <= TOML_MAX and _is_sheet(path, found.st_mtime_ns)


@lru_cache(maxsize=1024)
def _is_sheet(path: Path, _changed: int) -> bool:
    """Look into a file once for each time it was changed."""
    try:
        return "title" in read_toml(path)
    except ConfigError:
        return False
