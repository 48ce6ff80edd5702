"""The `neckyoke` command.  Exit codes: 0 done, 1 failed, 2 wrong use or configuration.

Each command lives in a file of its own under bridge/commands and is imported only when it is asked for, so that a
command that needs little starts fast on a small machine.
"""

import argparse
import contextlib
import errno
import importlib
import json
import os
import re
import sys
from collections.abc import Sequence
from typing import NoReturn

from neckyoke.bridge import imports
from neckyoke.bridge.config.problems import ConfigError, nearest
from neckyoke.bridge.telling.plain import plain, plain_terminals

COMMANDS = {
    "run": "run the daemon: listen, weigh, pair, publish",
    "demo": "a simulated yard, end to end, on this machine",
    "listen": "show what a device sends and find out how to read it",
    "ports": "show what is plugged in or in radio range",
    "check": "check a configuration or a job sheet",
    "replay": "give the events that a capture gives",
    "status": "say how the running daemon is",
    "watch": "follow the running daemon in this terminal",
    "tell": "tell the running daemon something: zero, note, identify, void, sheet, …",
    "jobs": "list the jobs: begun, ended, how many animals",
    "tally": "count up the day",
    "summary": "the day in a dozen plain lines, for a message to the office",
    "export": "write the weighings as CSV, spreadsheet, JSON Lines or ICAR resources",
    "register": "every dose given, a row each: CSV, spreadsheet, page or JSON",
    "cut": "at which weight so many heads would have gone",
    "withheld": "who may not go on a day, until when, and because of what",
    "backup": "put all that the box remembers into one file, also while it weighs",
    "restore": "lay a backup down on this box",
    "schema": "print the JSON Schemas of the events",
    "service": "print or install the systemd unit",
    "herd": "the animals that the box knows: list, show, export, import, rebuild",
    "page": "the page for the phone in the yard: its access code",
    "help": "pages to look something up: keys, flags, requests, exit codes, the manual",
}

REMEDIES = {
    errno.ENOENT: "there is no such file or folder; make the folder first, or name another",
    errno.EACCES: "this user may not; name another folder, or run it with sudo",
    errno.EPERM: "this user may not; name another folder, or run it with sudo",
    errno.EISDIR: "is a folder; name a file",
    errno.ENOTDIR: "a part of it is a file where a folder is needed; name another",
    errno.EEXIST: "is there already, and is no folder; name another",
    errno.ENOSPC: "the disk is full; make room, or name another disk",
    errno.EROFS: "the disk can only be read; name another",
}
"""The remedy for a file that a person named and that cannot be used, by the error's number."""


class Parser(argparse.ArgumentParser):
    """Reads a command's words; what it cannot take is said in a line, with what would be right."""

    def error(self, message: str) -> NoReturn:
        """End with what is wrong; exit code 2."""
        place, _, wrong = message.removeprefix("argument ").partition(": ")
        if message.startswith("the following arguments are required: "):
            said = f"{wrong} is missing"
        elif found := re.fullmatch(r"invalid choice: '(.*)' \(choose from (.*)\)", wrong):
            known = [word.strip("' ") for word in found[2].split(",")]
            said = f"there is no {found[1]!r}.  {nearest(found[1], known)}"
        elif found := re.fullmatch(r"invalid (int|float|\w+) value: '(.*)'", wrong):
            said = f"{place}: {found[2]!r} is no {'whole number' if found[1] == 'int' else 'number'}"
        else:
            said = message.removeprefix("argument ")
        more = "--help" if self.prog == "neckyoke" else f"{self.prog.removeprefix('neckyoke ')} --help"
        stop = "" if said.endswith((".", "?")) else "."
        self.exit(2, f"{self.prog}: {said}{stop}  neckyoke {more} says more.\n")


def _overview() -> argparse.ArgumentParser:
    parser = Parser(
        prog="neckyoke",
        description="Weigh animals: any scale indicator, any ISO tag reader, one clean weighing an animal.",
        epilog="commands:\n"
        + "\n".join(f"  {name:9} {text}" for name, text in COMMANDS.items())
        + "\n\nneckyoke COMMAND --help says what a command takes.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"neckyoke {_version()}")
    parser.add_argument("command", choices=COMMANDS, metavar="COMMAND", help="what to do; see below")
    return parser


def _version() -> str:
    from importlib.metadata import version

    return version("neckyoke")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    args = argparse.Namespace()
    try:
        name = _overview().parse_args(words[:1] or ["--help"]).command
        with imports.kept() if argv is None else contextlib.nullcontext():
            command = importlib.import_module(f"neckyoke.bridge.commands.{name}")
        parser = Parser(prog=f"neckyoke {name}", description=COMMANDS[name])
        command.arguments(parser)
        args = parser.parse_intermixed_args(words[1:])  # options may stand before the last words
        with plain_terminals():
            code: int = command.run(args)
    except ConfigError as error:
        if getattr(args, "json", False):
            print(json.dumps({"problems": [problem.model_dump() for problem in error.problems]}, indent=2))
        for problem in error.problems:
            print(plain(str(problem)), file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader of a pipe has seen enough
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        if error.filename is None:
            raise
        print(f"{error.filename}: {REMEDIES.get(error.errno or 0, error.strerror)}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 1
    return code


if __name__ == "__main__":
    sys.exit(main())
