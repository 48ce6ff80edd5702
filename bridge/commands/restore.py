"""`neckyoke restore`: a backup laid down on this box, which goes on where the other stopped."""

import argparse
import json
import sys
from pathlib import Path

from neckyoke.bridge.commands.backup import told_of
from neckyoke.bridge.config.model import INSTALLED, USUAL
from neckyoke.bridge.many import many


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", type=Path, help="what neckyoke backup made")
    parser.add_argument("--config", "-c", type=Path, default=INSTALLED / USUAL, help="where the configuration is to be")
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--look", action="store_true", help="only say what is in it, and whether it is whole")


def run(args: argparse.Namespace) -> int:
    """Lay it down, and say what was done and what is still to do."""
    from neckyoke.bridge.journal.reading import StoreError
    from neckyoke.bridge.moving.archive import BackupError, check, read
    from neckyoke.bridge.moving.restore import restore
    from neckyoke.bridge.telling.progress import Progress

    say = (lambda *_: None) if args.json else print
    progress, done = Progress("laying down"), list[str]()
    try:
        backup = read(args.file)
        say(f"{args.file}: {many(backup.weighings, 'weighing')} of {backup.site}, made {backup.made}")
        if args.look:
            check(backup, progress)
            progress.end()
            say("It is whole.")
        else:
            for told in restore(backup, args.config, progress):
                progress.end()
                done.append(told)
                say(told)
    except (StoreError, BackupError) as error:
        progress.end()
        print(error, file=sys.stderr)
        return 1
    if args.json:
        print(json.dumps({**told_of(backup), "whole": True, "done": done}, indent=2))
    if args.json or args.look:
        return 0
    print(
        f"Now: neckyoke check --devices --config {args.config}, and when the other box is off, start the daemon here."
    )
    return 0
