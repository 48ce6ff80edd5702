"""A manual page, and what shells need to complete words, both made from the commands' own parsers."""

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TypeAlias

Command: TypeAlias = tuple[str, str, argparse.ArgumentParser]
"""Name, what it does, and its parser."""

EXIT_CODES = {
    0: "done; with status: all is well",
    1: "it could not be done; with status: something is wrong, or no daemon runs",
    2: "typed wrongly, or a file cannot be used: what, where, and what would be right is said",
}


def manual(version: str, commands: Sequence[Command]) -> str:
    """Return the manual page neckyoke(1), in man's own macros."""
    return "\n".join(_lines(version, commands)) + "\n"


def _lines(version: str, commands: Sequence[Command]) -> Iterator[str]:
    yield f'.TH NECKYOKE 1 "" "neckyoke {_plain(version)}"'
    yield ".SH NAME"
    yield r"neckyoke \- weigh animals: any scale indicator, any ISO tag reader, one clean weighing an animal"
    yield ".SH SYNOPSIS"
    yield ".B neckyoke\n.I COMMAND\n[\\fIoptions\\fR]"
    yield ".SH COMMANDS"
    for name, about, parser in commands:
        yield f".SS {name}"
        yield _plain(about[0].upper() + about[1:]) + "."
        for action in _actions(parser):
            names = ", ".join(action.option_strings) or str(action.metavar or action.dest)
            takes = f" {action.metavar or action.dest.upper()}" if action.option_strings and action.nargs != 0 else ""
            yield f".TP\n.B {_plain(names + takes)}"
            yield _plain(_help(action)) or "see above"
    yield ".SH EXIT STATUS"
    for code, meaning in EXIT_CODES.items():
        yield f".TP\n.B {code}\n{_plain(meaning)}"
    yield ".SH FILES"
    yield ".TP\n.I /etc/neckyoke/neckyoke.toml\nthe configuration of the installed daemon; one here comes first"
    yield ".TP\n.I /var/lib/neckyoke\nwhat it keeps: the journal, events, captures, troubles"
    yield ".SH SEE ALSO"
    yield _plain("neckyoke help: pages on keys, flags, topics and exit codes.")


def _plain(text: str) -> str:
    """Escape what roff would take for its own."""
    escaped = text.replace("\\", r"\e").replace("-", r"\-")
    escaped = "".join(sign if sign.isascii() else rf"\[u{ord(sign):04X}]" for sign in escaped)
    return rf"\&{escaped}" if escaped.startswith((".", "'")) else escaped


def _actions(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    return [action for action in parser._actions if action.dest != "help"]  # noqa: SLF001 -- argparse has no other door


def _help(action: argparse.Action) -> str:
    choices = f" ({', '.join(map(str, action.choices))})" if action.choices else ""
    return f"{action.help or ''}{choices}".replace("%%", "%")


def completion(parser: argparse.ArgumentParser, shell: str) -> str:
    """Return what a shell (bash, zsh or tcsh) reads to complete commands, options, choices and files."""
    import shtab

    for action in _nested(parser):
        if action.choices is not None:
            action.choices = tuple(map(str, action.choices))  # shtab takes a table for commands
        if action.type is Path:
            action.complete = shtab.FILE  # type: ignore[attr-defined]
    return shtab.complete(parser, shell=shell)


def _nested(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    for action in parser._actions:  # noqa: SLF001 -- argparse has no other door
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001 -- likewise
            for below in action.choices.values():
                yield from _nested(below)
        else:
            yield action
