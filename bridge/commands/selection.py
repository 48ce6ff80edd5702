"""Which weighings a command that looks back is about: the last job, unless a person says otherwise."""

import argparse
import json
import sqlite3
from collections.abc import Iterable, Iterator
from datetime import date, tzinfo

from neckyoke.bridge.commands.weighings import events_file
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports.reading import read_line
from neckyoke.bridge.reports.selection.works import Selection


def add_selection(parser: argparse.ArgumentParser) -> None:
    """Declare the options that select."""
    group = parser.add_argument_group("which weighings (the last job's, when nothing is said)")
    group.add_argument("--job", metavar="J", help="one job, by its number or id: see neckyoke jobs")
    group.add_argument("--day", metavar="DATE", help="one day: 2026-11-24")
    group.add_argument("--from", dest="first", metavar="DATE", help="from this day on")
    group.add_argument("--to", dest="last", metavar="DATE", help="up to this day, and on it")
    group.add_argument("--title", help="under the job sheet of this title")
    group.add_argument("--station", help="only this station's")
    group.add_argument("--all", action="store_true", help="everything")


def selection_of(args: argparse.Namespace) -> Selection:
    """Read what a person selected.  Raises ConfigError when a date is none."""
    return Selection(
        job=args.job,
        day=_date(args.day, "--day"),
        first=_date(args.first, "--from"),
        last=_date(args.last, "--to"),
        title=args.title,
        station=args.station,
        everything=args.all,
    )


def _date(text: str | None, option: str) -> date | None:
    try:
        return None if text is None else date.fromisoformat(text)
    except ValueError:
        what, hint = f"{text!r} is no date", "Write 2026-11-24."
        raise ConfigError([Problem(file="selection", where=option, what=what, hint=hint)]) from None


def turns_of(args: argparse.Namespace) -> dict[str, int]:
    """Return each job's position among those of its station, from 1, by its id."""
    found: dict[str, int] = {}
    for body in job_events(args):
        data = json.loads(body).get("data", {})
        if "job" in data and "turn" in data:
            found[data["job"]] = data["turn"]
    return found


def job_events(args: argparse.Namespace) -> Iterable[str]:
    """Return the events of jobs as JSON, of the journal or of the events file."""
    if args.events is not None:
        return list(events_file(args).jobs())
    from neckyoke.bridge.journal.reading import StoreError, read_only

    config = load_config(args.config)
    try:
        with read_only(config.state_path(config.journal.path)) as journal:
            return list(journal.jobs())
    except (StoreError, sqlite3.Error):
        return ()  # said where the weighings are read


def selected(lines: Iterator[str], args: argparse.Namespace, zone: tzinfo) -> list[str]:
    """Return the lines of the weighings that are meant."""
    from neckyoke.bridge.reports.rows import row_of
    from neckyoke.bridge.reports.selection.works import picker

    texts = list(lines)
    found = [(text, data, row_of(data)) for text in texts if (data := read_line(text)) is not None]
    newest = {data["weighing"]: row for _, data, row in found}
    if not newest:
        return []
    pick = picker(newest.items(), selection_of(args), zone, turns_of(args))
    return [text for text, data, _ in found if pick(newest[data["weighing"]])]
