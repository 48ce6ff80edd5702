"""Which job a station has: the sheet that its configuration names, or one beside it that a request names."""

import os
from datetime import date
from functools import lru_cache
from pathlib import Path
from stat import S_ISREG

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import TOML_MAX, ConfigError, Problem, read_toml
from neckyoke.bridge.job.load import Job, load_job


def find_job(config: Config, station: str, file: str | None, today: date, *, without_roster: bool = False) -> Job:
    """Read a station's job.  Raises ConfigError when there is none, or when a request reaches outside the folder."""
    name = file or config.stations[station].sheet
    if name is None:
        hint = f'Name a file in the request, or set sheet = "sheet.toml" under [stations.{station}].'
        where, what = f"[stations.{station}]", "no job sheet is named"
        raise ConfigError([Problem(file="configuration", where=where, what=what, hint=hint)])
    path = config.path(name)
    if file is not None and not Path(os.path.realpath(path)).is_relative_to(config.folder):
        hint = f"Copy it into {config.folder}."
        what = "is not beside the configuration, where the daemon looks"
        raise ConfigError([Problem(file=file, where="sheet", what=what, hint=hint)])
    if path.exists() and not path.is_file() and not path.is_dir():  # a pipe would be waited for
        raise ConfigError(
            [Problem(file=str(path), where="sheet", what="is no ordinary file", hint="Name a TOML file.")]
        )
    return load_job(path, today, without_roster=without_roster)


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


@lru_cache(maxsize=64)
def _is_sheet(path: Path, _changed: int) -> bool:
    """Look into a file once for each time it was changed."""
    try:
        return "title" in read_toml(path)
    except ConfigError:
        return False
