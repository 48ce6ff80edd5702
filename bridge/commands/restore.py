"""`neckyoke restore`: a backup laid down on this box, which goes on where the other stopped."""

import argparse
import sys
from pathlib import Path

from neckyoke.bridge.config.model import INSTALLED, USUAL


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", type=Path, help="what neckyoke backup made")
    parser.add_argument("--config", "-c", type=Path, default=INSTALLED / USUAL, help="where the configuration is to be")
    parser.add_argument("--look", action="store_true", help="only say what is in it, and whether it is whole")


def run(args: argparse.Namespace) -> int:
    """Lay it down, and say what was done and what is still to do."""
    from neckyoke.bridge.journal.reading import StoreError
    from neckyoke.bridge.moving.archive import BackupError, check, read
    from neckyoke.bridge.moving.restore import restore

    try:
        backup = read(args.file)
        print(f"{args.file}: {backup.weighings} weighings of {backup.site}, made {backup.made}")
        if args.look:
            check(backup)
            print("It is whole.")
            return 0
        for told in restore(backup, args.config):
            print(told)
    except (StoreError, BackupError) as error:
        print(error, file=sys.stderr)
        return 1
    print(
        f"Now: neckyoke check --devices --config {args.config}, and when the other box is off, start the daemon here."
    )
    return 0
