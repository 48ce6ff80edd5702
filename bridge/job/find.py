"""Which job a station has: the sheet that its configuration names, or one beside it that a request names."""

import tomllib
from datetime import date
from functools import lru_cache
from pathlib import Path

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.load import Job, load_job


def find_job(config: Config, station: str, file: str | None, today: date, *, without_roster: bool = False) -> Job:
    """Read a station's job.  Raises ConfigError when there is none, or when a request reaches outside the folder."""
    name = file or config.stations[station].sheet
    if name is None:
        hint = f'Name a file in the request, or set sheet = "sheet.toml" under [stations.{station}].'
        where, what = f"[stations.{station}]", "no job sheet is named"
        raise ConfigError([Problem(file="configuration", where=where, what=what, hint=hint)])
    path = config.path(name)
    if file is not None and not path.resolve().is_relative_to(config.folder):
        hint = f"Copy it into {config.folder}."
        what = "is not beside the configuration, where the daemon looks"
        raise ConfigError([Problem(file=file, where="sheet", what=what, hint=hint)])
    return load_job(path, today, without_roster=without_roster)


def sheets_beside(folder: Path) -> list[str]:
    """List the job sheets that lie beside the configuration, by file name: TOML files that have a title."""
    found = [(path.name, path.stat().st_mtime_ns) for path in sorted(folder.glob("*.toml"))]
    return [name for name, changed in found if _is_sheet(folder / name, changed)]


@lru_cache(maxsize=64)
def _is_sheet(path: Path, _changed: int) -> bool:
    """Look into a file once for each time it was changed."""
    try:
        return "title" in tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
