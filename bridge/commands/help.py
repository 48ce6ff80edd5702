"""`neckyoke help`: pages to look something up, made from the code itself."""

import argparse
import importlib
import json
import sys
from importlib.metadata import version

from neckyoke.bridge.reference.shell import EXIT_CODES, Command

TOPICS = {
    "devices": "find your devices; how a link is written; where a reader may stand",
    "keys": "the configuration: an example, and every key with what holds without it",
    "sheet": "a job sheet: what it may ask for and say, and every key",
    "tell": "jobs, and what can be told the daemon while it weighs or later",
    "herd": "how an animal outlives its tag, and what the box asks",
    "flags": "what each flag of a weighing means",
    "reports": "which weighings a report is about, and what it has",
    "install": "what to buy, what is kept where, without internet, 32 bits, what it costs",
    "trouble": "what the box says, and what to do about it",
    "events": "for recorders: what is published, the topics, who may ask",
    "requests": "what can be asked of the daemon: by neckyoke tell, the page, MQTT or the socket",
    "recipes": "a recorder and a lamp",
    "outlets": "where events go: files, brokers, HTTP, databases, monitors",
    "sheds": "many sheds: a bridged broker, and what holds where",
    "exit-codes": "what a command's exit code says",
    "man": "the manual page, for man -l",
    "completion": "for bash: put it into /etc/bash_completion.d/neckyoke",
    "zsh": "the same for zsh: put it into a folder of its fpath, as _neckyoke",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "topic", nargs="?", choices=TOPICS, metavar="TOPIC", help="which page; without it, which there are"
    )
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--example", action="store_true", help="of a file's keys, only the example, to begin one with")


def run(args: argparse.Namespace) -> int:
    """Print a page."""
    if args.topic is None:
        page = dict(TOPICS)
        text = "\n".join(f"neckyoke help {name:12} {about}" for name, about in TOPICS.items())
    elif args.example:
        from neckyoke.bridge.reference.written import example_of

        page, text = {}, example_of(args.topic)
        if not text:
            print("Only keys and sheet have an example.", file=sys.stderr)
            return 2
    else:
        page = _table(args.topic)
        text = _text(args.topic, page)
    print(json.dumps(page or text.splitlines(), indent=2) if args.json else text.rstrip("\n"))
    return 0


def _table(topic: str) -> dict[str, str]:
    """Return a topic that is a table of words and meanings; empty for one that is a text."""
    match topic:
        case "flags":
            from neckyoke.bridge.events import FLAG_TEXT

            return {flag.value: text for flag, text in FLAG_TEXT.items()}
        case "exit-codes":
            return {str(code): meaning for code, meaning in EXIT_CODES.items()}
        case "requests":
            from neckyoke.bridge.asking.requests import KINDS

            return {kind: " ".join((model.__doc__ or "").split()) for kind, model in KINDS.items()}
    return {}


def _text(topic: str, table: dict[str, str]) -> str:
    from neckyoke.bridge.reference import written

    parts = (written.for_reading(written.text_of(topic)), _made(topic, table))
    return "\n".join(part for part in parts if part)


def _made(topic: str, table: dict[str, str]) -> str:
    """Return what a page has from the code."""
    from neckyoke.bridge.reference import keys, shell

    match topic:
        case "keys":
            from neckyoke.bridge.config.model import Config

            return "\n".join(keys.keys_of(Config))
        case "sheet":
            from neckyoke.bridge.job.sheet import Sheet

            return "\n".join(keys.keys_of(Sheet))
        case "man":
            return shell.manual(version("neckyoke"), commands())
        case "completion":
            return shell.completion(whole(), "bash")
        case "zsh":
            return shell.completion(whole(), "zsh")
    width = max(map(len, table), default=0)
    return "\n".join(f"{word:{width}}  {meaning}" for word, meaning in table.items())


def commands() -> list[Command]:
    """Return every command with its parser."""
    from neckyoke.bridge.cli import COMMANDS

    made = []
    for name, about in COMMANDS.items():
        parser = argparse.ArgumentParser(prog=f"neckyoke {name}", description=about)
        importlib.import_module(f"neckyoke.bridge.commands.{name}").arguments(parser)
        made.append((name, about, parser))
    return made


def whole() -> argparse.ArgumentParser:
    """Return one parser with every command below it, as shells complete words."""
    from neckyoke.bridge.cli import COMMANDS

    parser = argparse.ArgumentParser(prog="neckyoke")
    below = parser.add_subparsers(dest="command")
    for name, about in COMMANDS.items():
        importlib.import_module(f"neckyoke.bridge.commands.{name}").arguments(below.add_parser(name, help=about))
    return parser
