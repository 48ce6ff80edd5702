"""`neckyoke help`: pages to look something up, made from the code itself."""

import argparse
import importlib
import json
from importlib.metadata import version

from neckyoke.bridge.reference.shell import EXIT_CODES, Command

TOPICS = {
    "keys": "every key of the configuration, what it takes, and what holds without it",
    "sheet": "every key of a job sheet",
    "flags": "what each flag of a weighing means",
    "requests": "what can be asked of the daemon: by neckyoke tell, the page, MQTT or the socket",
    "exit-codes": "what a command's exit code says",
    "man": "the manual page, for man -l",
    "completion": "for bash: put it into /etc/bash_completion.d/neckyoke",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "topic", nargs="?", choices=TOPICS, metavar="TOPIC", help="which page; without it, which there are"
    )
    parser.add_argument("--json", action="store_true", help="for a program")


def run(args: argparse.Namespace) -> int:
    """Print a page."""
    if args.topic is None:
        page = dict(TOPICS)
        text = "\n".join(f"neckyoke help {name:12} {about}" for name, about in TOPICS.items())
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
            return shell.completion(commands())
    width = max(map(len, table))
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
