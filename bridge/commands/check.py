"""`neckyoke check`: says whether a configuration or a job sheet is right, and whether devices and outlets answer."""

import argparse
import asyncio
import json
import sys
from dataclasses import asdict
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any

from neckyoke.bridge.commands.daemon import WHERE
from neckyoke.bridge.config.doubts import config_doubts
from neckyoke.bridge.config.model import Config, load_config, usual_config
from neckyoke.bridge.config.patterns import slow_layouts
from neckyoke.bridge.config.problems import ConfigError, Problem, read_toml
from neckyoke.bridge.config.zone import machine_zone, spell_zone
from neckyoke.bridge.many import many
from neckyoke.bridge.moving.copy import foreign


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", nargs="?", type=Path, help=f"a configuration or a job sheet ({WHERE})")
    parser.add_argument("--config", "-c", type=Path, help="the same, as the other commands spell it")
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--devices", action="store_true", help="try every device and every outlet too")
    parser.add_argument("--seconds", type=float, default=15.0, help="how long to wait for each device (15)")


def run(args: argparse.Namespace) -> int:
    """Check the file; what is wrong is raised as ConfigError, what is only doubtful is printed."""
    path: Path = args.file or args.config or usual_config()
    told = _Told(as_json=args.json)
    if "site" not in (table := read_toml(path)) and "links" not in table:
        told.facts = _check_job(path, machine_zone(), told)
        return told.end(0)
    config = load_config(path)
    told.say(f"Dates are of {spell_zone(config.zone, datetime.now(UTC))}.")
    if config.timezone is None:
        told.say('That is this machine\'s own zone; timezone = "…" in the configuration names another.')
    for doubt in config_doubts(config):
        told.doubt(str(doubt))
    _try_patterns(path, config)
    told.facts = {"file": str(path), "site": config.site, "timezone": str(config.zone), "sheets": {}}
    for name, station in config.stations.items():
        if station.sheet is not None:
            told.say(f"station {name}:")
            told.facts["sheets"][name] = _check_job(
                config.path(station.sheet), config.zone, told, (name, station.smallest_kg)
            )
    if (wrong := foreign(config.state_path(config.journal.path), config.site)) is not None:
        print(wrong, file=sys.stderr)
        told.facts["journal"] = wrong
        return told.end(1)
    told.say(f"{path}: {_summary(config)}")
    return told.end(_check_devices(config, args.seconds, told) if args.devices else 0)


class _Told:
    """Says what was found, a line at a time to a person, at the end to a program."""

    def __init__(self, *, as_json: bool) -> None:
        self._json = as_json
        self._doubts: list[str] = []
        self.facts: dict[str, Any] = {}

    def say(self, text: object) -> None:
        """Say it to a person."""
        if not self._json:
            print(text, flush=True)

    def doubt(self, text: str) -> None:
        """Say what may not be meant."""
        self._doubts.append(text)
        self.say(f"look again: {text}")

    def end(self, code: int) -> int:
        """Say it to a program; return the exit code."""
        if self._json:
            print(json.dumps({**self.facts, "good": code == 0, "doubts": self._doubts}, indent=2))
        return code


def _try_patterns(path: Path, config: Config) -> None:
    """Refuse layouts whose patterns take long on lines that a device may send.  Raises ConfigError."""
    tables = ((name, table.model_dump()) for name, table in config.layouts.items())
    patterns = {name: str(table["pattern"]) for name, table in tables if "pattern" in table}
    hint = "Let no two repetitions that take the same stand side by side; ++ in place of + often mends it."
    problems = [
        Problem(file=str(path), where=f"[layouts.{name}] pattern", what=f"is slow: {what} of damaged bytes", hint=hint)
        for name, what in slow_layouts(patterns)
    ]
    if problems:
        raise ConfigError(problems)


def _check_devices(config: Config, seconds: float, told: _Told) -> int:
    from neckyoke.bridge.daemon.check_devices import check_devices
    from neckyoke.bridge.telling.progress import Progress

    readers = sorted({reader.link for station in config.stations.values() for reader in station.readers})
    if readers:
        told.say(f"Hold a tag to {' and to '.join(readers)} within {seconds:.0f} s.")
    trying = Progress("trying").while_waiting(check_devices(config, seconds), seconds)
    found = asyncio.run(trying)
    told.facts["devices"] = [asdict(one) for one in found]
    told.say("\n".join(map(str, found)))
    wrong = sum(not one.good for one in found)
    told.say(f"{wrong} of {len(found)} to mend." if wrong else "Everything answers.")
    return 1 if wrong else 0


def _check_job(path: Path, zone: tzinfo, told: _Told, station: tuple[str, float] = ("", 0.0)) -> dict[str, Any]:
    """Say what is to be said of a sheet, and of its roster at a station of this name and smallest animal, kilograms."""
    from neckyoke.bridge.job import cautions
    from neckyoke.bridge.job.load import load_job

    job = load_job(path, datetime.now(zone).date())
    for doubt in job.doubts:
        told.doubt(str(doubt))
    weighed = [one.last_kg for one in job.roster.animals if one.last_kg is not None] if job.roster else []
    name, smallest_kg = station
    if lighter := [kg for kg in weighed if kg < smallest_kg]:
        told.doubt(
            f"[stations.{name}] smallest_kg: what is lighter than {smallest_kg:g} kg is no animal there, and "
            f"{len(lighter)} of the roster of {path.name} weighed less, the lightest {min(lighter):g} kg.  "
            f"smallest_kg = {0.8 * min(lighter):.2g} would be below them all."
        )
    animals = len(job.roster) if job.roster is not None else None
    roster = f", {many(animals, 'animal')} on the roster" if animals is not None else ""
    sheet = job.sheet
    counts = f"{many(len(sheet.treatments), 'treatment')}, {many(len(sheet.draft), 'pen')}{roster}"
    told.say(f"{path}: {sheet.title!r}: {counts}.  Good to use.")
    if sheet.treatments:
        told.say(cautions.DOSES)
    found = {"treatments": len(sheet.treatments), "pens": len(sheet.draft), "animals": animals}
    return {"file": str(path), "title": sheet.title, **found}


def _summary(config: Config) -> str:
    links = ", ".join(f"{name} ({link.address.scheme})" for name, link in config.links.items())
    outlets = ", ".join(config.outlets) or "none"
    return f"good to use.  Stations: {', '.join(config.stations)}.  Links: {links}.  Outlets: {outlets}."
