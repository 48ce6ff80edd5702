"""What was typed once is offered again: treatments, findings and mobs of all sheets at hand, the latest first."""

from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

from neckyoke.bridge.config.problems import ConfigError, read_toml
from neckyoke.bridge.config.words import spell_value

MOST_FILES, MOST_OFFERED = 100, 60
ALIKE = {"treatments": "name", "findings": "name"}


def offered(files: Iterable[Path]) -> dict[str, Any]:
    """Return treatments and findings as forms have them, one of each name, and the mobs."""
    found: dict[str, dict[str, Any]] = {key: {} for key in ALIKE}
    mobs: dict[str, None] = {}
    for path in sorted(_dated(files), reverse=True)[:MOST_FILES]:
        sheet = _sheet(path[1], path[0])
        if isinstance(mob := sheet.get("mob"), str):
            mobs.setdefault(mob)
        for key, name in ALIKE.items():
            for one in sheet.get(key, ()):
                if isinstance(one, dict) and isinstance(one.get(name), str):
                    found[key].setdefault(one[name].strip().casefold(), one)
    return {key: [*named.values()][:MOST_OFFERED] for key, named in found.items()} | {"mobs": [*mobs][:MOST_OFFERED]}


def _dated(files: Iterable[Path]) -> Iterator[tuple[int, Path]]:
    for path in files:
        try:
            yield path.stat().st_mtime_ns, path
        except OSError:
            continue


@lru_cache(maxsize=2 * MOST_FILES)
def _sheet(path: Path, _changed: int) -> dict[str, Any]:
    """Read a sheet once for each time it was changed, its dates spelled; nothing of one that cannot be read."""
    try:
        table = read_toml(path)
    except ConfigError:
        return {}
    sheet: dict[str, Any] = {"mob": table.get("mob")}
    for key in ALIKE:
        tables = table.get(key)
        sheet[key] = (
            [{name: spell_value(value) for name, value in one.items()} for one in tables if isinstance(one, dict)]
            if isinstance(tables, list)
            else []
        )
    return sheet
