"""`neckyoke check`: says whether a configuration or a job sheet is right."""

import argparse
from datetime import UTC, datetime
from pathlib import Path

from bridge.config import Config, load_config
from bridge.problems import read_toml


def arguments(parser: argparse.ArgumentParser) -> None:
    """Say what the command takes."""
    parser.add_argument("file", nargs="?", type=Path, help="a configuration or a job sheet (neckyoke.toml without it)")
    parser.add_argument("--config", "-c", type=Path, help="the same, as the other commands spell it")


def run(args: argparse.Namespace) -> int:
    """Check the file; what is wrong is raised as ConfigError, what is only doubtful is printed."""
    path: Path = args.file or args.config or Path("neckyoke.toml")
    if "site" not in (table := read_toml(path)) and "links" not in table:
        return _check_job(path)
    config = load_config(path)
    for name, station in config.stations.items():
        if station.sheet is not None:
            print(f"station {name}:")
            _check_job(config.path(station.sheet))
    print(f"{path}: {_summary(config)}")
    return 0


def _check_job(path: Path) -> int:
    from bridge.job import cautions
    from bridge.job.load import load_job

    job = load_job(path, datetime.now(UTC).date())
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
    return (
        f"good to use.  Stations: {', '.join(config.stations)}.  Links: {links}.  Outlets: {', '.join(config.outlets)}."
    )
