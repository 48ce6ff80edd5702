"""What changed in the files is taken over while weighing goes on (SIGHUP, `neckyoke tell reload`).

    a station's sheet     when it, its roster, or which one is meant has changed: as if a person had told it
    outlets               one that changed ends and begins again from its own position; new ones begin, others end
    stations, and links   once no animal stands on any: a station that changed begins anew with what it remembers, and
                          a link that changed is opened anew
    all else              holds from the next start on, and that is said; so do stations that come or go

Links that did not change are not touched: not a byte of theirs is lost.  A file that cannot be used changes nothing.
"""

import asyncio
import hashlib
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeAlias

from neckyoke.bridge.asking.requests import Answer
from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.load import load_job
from neckyoke.bridge.site.wires import rewired

AskDesk: TypeAlias = Callable[[dict[str, Any]], Awaitable[dict[str, Any]]]
Renew: TypeAlias = Callable[[str, Config], Awaitable[None]]
"""Ends an outlet, if it runs, and begins it again, if the configuration has it."""
Rewire: TypeAlias = Callable[[Config], Awaitable[bool]]
"""Goes on by the stations and links of a configuration; False, with nothing done, while an animal stands on one."""


class Reload:
    """Takes over what has changed since the start, or since the last time.  Called, it says in words what it did."""

    def __init__(self, config: Config, ask: AskDesk, renew: Renew, rewire: Rewire) -> None:
        self._config, self._ask, self._renew, self._rewire = config, ask, renew, rewire
        self._sheets = {station: _digests(config, station) for station in config.stations}
        self._one = asyncio.Lock()

    async def __call__(self) -> Answer:
        """Read the files again and take over what can be."""
        async with self._one:
            try:
                fresh = await asyncio.to_thread(_read, self._config.source)
            except ConfigError as error:
                return Answer(done=False, text=f"Nothing was changed.  {error}")
            done = [text async for text in self._take(fresh)]
            taken = {"outlets": fresh.outlets, "stations": _with_sheets(self._config, fresh)}
            self._config = self._config.model_copy(update=taken)
            wanted = _rewired(self._config, fresh)
            done += [text async for text in self._take_wires(wanted)]
            left = list(_left(wanted, fresh))
        told = "  ".join(done) or "Nothing that can be taken over has changed."
        if left:
            told += f"  From the next start on (sudo systemctl restart neckyoke): {', '.join(left)}."
        return Answer(done=True, text=told)

    async def _take(self, fresh: Config) -> AsyncIterator[str]:
        """Take over what differs; yield what was done, in words."""
        old = self._config
        for name in sorted({*old.outlets, *fresh.outlets}):
            if old.outlets.get(name) != fresh.outlets.get(name):
                await self._renew(name, fresh)
                how = "ended" if name not in fresh.outlets else "begins" if name not in old.outlets else "begins again"
                yield f"Outlet {name} {how}."
        for name, station in fresh.stations.items():
            if name not in old.stations or station.sheet is None:
                continue
            digests = await asyncio.to_thread(_digests, fresh, name)
            if digests != self._sheets[name] or station.sheet != old.stations[name].sheet:
                answer = await self._ask({"kind": "sheet", "station": name, "file": station.sheet})
                self._sheets[name] = digests
                yield f"Station {name}: {answer['text']}"

    async def _take_wires(self, wanted: Config) -> AsyncIterator[str]:
        """Take over stations and links; yield what was done, or why it was not."""
        old = self._config
        stations = [name for name, table in wanted.stations.items() if table != old.stations[name]]
        links = sorted(rewired(old, wanted))
        if not stations and not links:
            return
        if not await self._rewire(wanted):
            yield "Stations and links wait: an animal stands there.  Tell reload again when it has left."
            return
        self._config = wanted
        for name in stations:
            yield f"Station {name} goes on by its new table."
        for name in links:
            how = "closed" if name not in wanted.links else "opened" if name not in old.links else "opened anew"
            yield f"Link {name} is {how}."


def _read(path: Path) -> Config:
    """Read everything that would be used.  Raises ConfigError for whatever is wrong anywhere."""
    config = load_config(path)
    for station in config.stations.values():
        if station.sheet is not None:
            load_job(config.path(station.sheet), datetime.now(UTC).date())
    return config


def _digests(config: Config, station: str) -> tuple[str, ...]:
    """Return what tells whether a station's sheet or roster has changed."""
    sheet = config.stations[station].sheet
    if sheet is None:
        return ()
    files = [config.path(sheet)]
    try:
        job = load_job(files[0], datetime.now(UTC).date(), without_roster=True)
        files += [job.sheet.roster_path] if job.sheet.roster_path else []
    except ConfigError:
        pass
    return tuple(hashlib.sha256(file.read_bytes()).hexdigest() if file.is_file() else "" for file in files)


def _with_sheets(old: Config, fresh: Config) -> dict[str, Any]:
    """Return the stations as they run, but for the sheets that were taken over."""
    return {
        name: station.model_copy(update={"sheet": fresh.stations[name].sheet}) if name in fresh.stations else station
        for name, station in old.stations.items()
    }


def _rewired(old: Config, fresh: Config) -> Config:
    """Return what runs, with the tables that its stations, and the links they hear, have now."""
    stations = {
        name: fresh.stations[name].model_copy(update={"sheet": one.sheet}) if name in fresh.stations else one
        for name, one in old.stations.items()
    }
    heard = {link for one in stations.values() for link in (one.scale, *(reader.link for reader in one.readers))}
    known = {**old.links, **fresh.links}
    links = {name: table for name, table in known.items() if name in heard or name in old.links.keys() & fresh.links}
    return old.model_copy(update={"stations": stations, "links": links, "layouts": {**old.layouts, **fresh.layouts}})


def _left(old: Config, fresh: Config) -> Iterator[str]:
    """Name what has changed and cannot be changed while running."""
    for key in type(old).model_fields:
        was, now = getattr(old, key), getattr(fresh, key)
        if key == "stations":
            now = {name: station.model_copy(update={"sheet": None}) for name, station in now.items()}
            was = {name: station.model_copy(update={"sheet": None}) for name, station in was.items()}
        if key in {"outlets", "folder", "source"} or was == now:
            continue
        if isinstance(was, dict):
            yield from (f"[{key}.{name}]" for name in sorted({*was, *now}) if was.get(name) != now.get(name))
        else:
            yield key
