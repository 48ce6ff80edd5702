"""Where the commands that look back find weighings: an events file, or the journal of a configuration."""

import argparse
import sqlite3
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.commands.daemon import add_config
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.config.zone import machine_zone, zone_asked
from neckyoke.bridge.events import read_event
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.reports.reading import Data, EventsFile, read_line
from neckyoke.bridge.telling.progress import Progress


def add_source(parser: argparse.ArgumentParser) -> None:
    """Add the argument and option that say where the weighings are."""
    parser.add_argument("events", nargs="?", type=Path, help="an events file (.gz allowed); without it, the journal")
    add_config(parser)
    parser.add_argument(
        "--timezone", metavar="ZONE", help="for an events file that names none, such as Pacific/Auckland"
    )


def events_file(args: argparse.Namespace) -> EventsFile:
    """Return the events file that a person named: the same one to all who ask, so that it is read once."""
    if getattr(args, "events_file", None) is None:
        args.events_file = EventsFile(args.events)
    file: EventsFile = args.events_file
    return file


@contextmanager
def weighing_lines(args: argparse.Namespace, *, every: bool = False) -> Iterator[Iterator[str]]:
    """Yield the weighing events as lines of JSON, one at a time however many there are.

    Of each weighing the newest revision at least; with `every`, all of them.
    """
    if args.events is not None:
        yield Progress("reading weighings").along(_events(events_file(args)))
        return
    from neckyoke.bridge.journal.reading import StoreError, read_only

    config = load_config(args.config)
    path = config.state_path(config.journal.path)
    try:
        with read_only(path) as journal:
            yield Progress("reading weighings").along(journal.revisions() if every else journal.latest())
    except (StoreError, sqlite3.Error) as error:
        hint = "Name an events file, or the configuration of the daemon (--config)."
        raise ConfigError([Problem(file=str(path), where="journal", what=_spelled(error), hint=hint)]) from None


def _spelled(error: Exception) -> str:
    if isinstance(error, sqlite3.Error):
        return f"is no journal, or was copied while the daemon wrote it ({error})"
    return str(error)


def _events(file: EventsFile) -> Iterator[str]:
    """Return a file's lines.  Raises ConfigError when it is plainly none of events."""
    lines = file.lines()
    first = next(lines, None)
    if first is None and file.unread:
        what, hint = "holds no events", "Give an events file, as a file outlet writes it: one JSON object a line."
        raise ConfigError([Problem(file=str(file.path), where="file", what=what, hint=hint)])
    return _to_the_end(file, lines if first is None else chain([first], lines))


def _to_the_end(file: EventsFile, lines: Iterator[str]) -> Iterator[str]:
    """Yield the lines, and say when there should have been more."""
    yield from lines
    if file.broken:
        print(f"{file.path}: {file.broken}.  What stands before is counted.", file=sys.stderr)


def zone_of(args: argparse.Namespace) -> ZoneInfo:
    """Return the farm's zone: the configuration's; of an events file that of its jobs, else the one asked for."""
    if args.events is None:
        return load_config(args.config).zone
    named = events_file(args).timezone()
    if named is not None:
        return zone_asked(named)
    return zone_asked(args.timezone) if args.timezone else machine_zone()


def animal_bodies(args: argparse.Namespace) -> Iterable[str]:
    """Return what is said of animals, by the journal or the events file, as lines of JSON."""
    if args.events is not None:
        return events_file(args).animals()
    from neckyoke.bridge.journal.reading import StoreError, read_only

    config = load_config(args.config)
    try:
        with read_only(config.state_path(config.journal.path)) as journal:
            return journal.herd.animals()
    except (StoreError, sqlite3.Error):
        return ()  # said where the weighings are read


def book_of(args: argparse.Namespace) -> Book:
    """Return the herd book of the journal, or of the events file."""
    book = Book()
    for body in animal_bodies(args):
        event = read_event(body)
        if isinstance(event.data, Animal):
            book.fold(event.data)
    return book


@contextmanager
def opened(path: Path | None) -> Iterator[TextIO]:
    """Open the file to write to; standard output where none is named."""
    if path is None:
        yield sys.stdout
    else:
        with path.open("w", encoding="utf-8", newline="") as out:
            yield out


def parsed(lines: Iterator[str]) -> Iterator[Data]:
    """Read the lines; what is no weighing is passed over."""
    return (data for line in lines if (data := read_line(line)) is not None)
