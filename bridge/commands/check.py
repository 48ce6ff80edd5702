"""`neckyoke check`: says whether a configuration or a job sheet is right, and whether devices and outlets answer."""

import argparse
import asyncio
import sys
from datetime import UTC, datetime, tzinfo
from pathlib import Path

from neckyoke.bridge.commands.daemon import WHERE
from neckyoke.bridge.config.doubts import config_doubts
from neckyoke.bridge.config.model import Config, load_config, usual_config
from neckyoke.bridge.config.patterns import slow_layouts
from neckyoke.bridge.config.problems import ConfigError, Problem, read_toml
from neckyoke.bridge.config.zone import machine_zone, spell_zone
from neckyoke.bridge.moving.copy import foreign


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", nargs="?", type=Path, help=f"a configuration or a job sheet ({WHERE})")
    parser.add_argument("--config", "-c", type=Path, help="the same, as the other commands spell it")
    parser.add_argument("--devices", action="store_true", help="try every device and every outlet too")
    parser.add_argument("--seconds", type=float, default=15.0, help="how long to wait for each device (15)")


def run(args: argparse.Namespace) -> int:
    """Check the file; what is wrong is raised as ConfigError, what is only doubtful is printed."""
    path: Path = args.file or args.config or usual_config()
    if "site" not in (table := read_toml(path)) and "links" not in table:
        return _check_job(path, machine_zone())
    config = load_config(path)
    print(f"Dates are of {spell_zone(config.zone, datetime.now(UTC))}.")
    if config.timezone is None:
        print('That is this machine\'s own zone; timezone = "…" in the configuration names another.')
    for doubt in config_doubts(config):
        print(f"look again: {doubt}")
    _try_patterns(path, config)
    for name, station in config.stations.items():
        if station.sheet is not None:
            print(f"station {name}:")
            _check_job(config.path(station.sheet), config.zone)
    if (wrong := foreign(config.state_path(config.journal.path), config.site)) is not None:
        print(wrong, file=sys.stderr)
        return 1
    print(f"{path}: {_summary(config)}")
    return _check_devices(config, args.seconds) if args.devices else 0


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


def _check_devices(config: Config, seconds: float) -> int:
    from neckyoke.bridge.daemon.check_devices import check_devices

    readers = sorted({reader.link for station in config.stations.values() for reader in station.readers})
    if readers:
        print(f"Hold a tag to {' and to '.join(readers)} within {seconds:.0f} s.", flush=True)
    found = asyncio.run(check_devices(config, seconds))
    print(*found, sep="\n")
    wrong = sum(not one.good for one in found)
    print(f"{wrong} of {len(found)} to mend." if wrong else "Everything answers.")
    return 1 if wrong else 0


def _check_job(path: Path, zone: tzinfo) -> int:
    from neckyoke.bridge.job import cautions
    from neckyoke.bridge.job.load import load_job

    job = load_job(path, datetime.now(zone).date())
    for doubt in job.doubts:
        print(f"look again: {doubt}")
    roster = f", {len(job.roster)} animals on the roster" if job.roster is not None else ""
    sheet = job.sheet
    print(
        f"{path}: {sheet.title!r}: {len(sheet.treatments)} treatments, {len(sheet.draft)} pens{roster}.  Good to use."
    )
    if sheet.treatments:
        print(cautions.DOSES)
    return 0


def _summary(config: Config) -> str:
    links = ", ".join(f"{name} ({link.address.scheme})" for name, link in config.links.items())
    outlets = ", ".join(config.outlets) or "none"
    return f"good to use.  Stations: {', '.join(config.stations)}.  Links: {links}.  Outlets: {outlets}."
