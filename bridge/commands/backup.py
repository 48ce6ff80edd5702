"""`neckyoke backup`: all that a box remembers, in one file, also while it weighs."""

import argparse
import json
import sys
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

from neckyoke.bridge.commands.daemon import add_config
from neckyoke.bridge.config.model import load_config, usual_config
from neckyoke.bridge.many import many
from neckyoke.bridge.moving.archive import Backup


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", type=Path, help="where it goes, such as /media/stick/larkmoor.backup")
    add_config(parser)
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--secrets", action="store_true", help="passwords, keys and the page's code too: keep it safe")
    parser.add_argument("--replace", action="store_true", help="in the place of an earlier one")


def run(args: argparse.Namespace) -> int:
    """Make it, read it back, and say what it holds."""
    from neckyoke.bridge.journal.reading import StoreError
    from neckyoke.bridge.moving.archive import BackupError, make, read
    from neckyoke.bridge.telling.progress import Progress

    file: Path = args.file
    path = args.config or usual_config()
    config = load_config(path)
    if file.exists() and not args.replace:
        print(f"{file} is there already; name another file, or say --replace", file=sys.stderr)
        return 1
    progress = Progress("copying")
    try:
        if file.exists():
            read(file)  # whatever else it is, it is not written over
        made = make(
            *(file, config, path),
            now=datetime.now(UTC),
            version=version("neckyoke"),
            with_secrets=args.secrets,
            progress=progress,
        )
    except (StoreError, BackupError) as error:
        progress.end()
        print(error, file=sys.stderr)
        return 1
    progress.end()
    if args.json:
        print(json.dumps(told_of(made), indent=2))
        return 0
    others = len(made.digests) - 1
    held = f"{many(made.weighings, 'weighing')} of {made.site} up to {made.made}, and {many(others, 'file')}"
    print(f"{file}: {held}.  Read back: whole.")
    if not args.secrets:
        print("Passwords, keys and the page's code are not in it (--secrets).")
    return 0


def told_of(backup: Backup) -> dict[str, object]:
    """Return what a backup holds, for a program."""
    holds = {"weighings": backup.weighings, "events": backup.events, "files": sorted(backup.digests)}
    return {"file": str(backup.path), "site": backup.site, "made": str(backup.made), **holds}
