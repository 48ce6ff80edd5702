"""The `neckyoke` command.  Exit codes: 0 done, 1 failed, 2 wrong use or configuration.

Each command lives in a file of its own under bridge/commands and is imported only when it is asked for, so that a
command that needs little starts fast on a small machine.
"""

import argparse
import contextlib
import importlib
import os
import sys
from collections.abc import Sequence

from neckyoke.bridge.config.problems import ConfigError

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
    "tally": "count up the day",
    "export": "write the weighings as CSV, JSON Lines or ICAR resources",
    "schema": "print the JSON Schemas of the events",
    "service": "print or install the systemd unit",
    "page": "the page for the phone in the yard: its access code",
}


def _overview() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
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
    try:
        name = _overview().parse_args(words[:1] or ["--help"]).command
        command = importlib.import_module(f"neckyoke.bridge.commands.{name}")
        parser = argparse.ArgumentParser(prog=f"neckyoke {name}", description=COMMANDS[name])
        command.arguments(parser)
        code: int = command.run(parser.parse_intermixed_args(words[1:]))  # options may stand before the last words
    except ConfigError as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader of a pipe has seen enough
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 1
    return code


if __name__ == "__main__":
    sys.exit(main())
