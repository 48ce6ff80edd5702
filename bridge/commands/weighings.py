"""Where the commands that look back find weighings: an events file, or the journal of a configuration."""

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from neckyoke.bridge.commands.daemon import add_config
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports.reading import Data, EventsFile, read_line


def add_source(parser: argparse.ArgumentParser) -> None:
    """Add the argument and option that say where the weighings are."""
    parser.add_argument("events", nargs="?", type=Path, help="an events file (.gz allowed); without it, the journal")
    add_config(parser)


@contextmanager
def weighing_lines(args: argparse.Namespace) -> Iterator[Iterator[str]]:
    """Yield the weighing events as lines of JSON, one at a time however many there are."""
    if args.events is not None:
        yield EventsFile(args.events).lines()
        return
    from neckyoke.bridge.journal.store import StoreError, read_only

    config = load_config(args.config)
    path = config.state_path(config.journal.path)
    try:
        with read_only(path) as journal:
            yield journal.latest()
    except StoreError as error:
        hint = "Name an events file, or the configuration of the daemon (--config)."
        raise ConfigError([Problem(file=str(path), where="journal", what=str(error), hint=hint)]) from None


def parsed(lines: Iterator[str]) -> Iterator[Data]:
    """Read the lines; what is no weighing is passed over."""
    return (data for line in lines if (data := read_line(line)) is not None)
