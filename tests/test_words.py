"""What a person reads is in a farmer's words: README, pages of reference, help of every command."""

import re

import pytest

from neckyoke.bridge.cli import COMMANDS, REMEDIES
from neckyoke.bridge.commands.help import TOPICS, commands
from neckyoke.bridge.events import FLAG_TEXT
from tests.support.readme import text

FOREIGN = (  # a programmer's word, or one whose place in the design another word has
    r"tuple|NoneType|pydantic\.|instance of|stack ?trace|traceback|regexp?\b|boolean|parse\b|deserializ|daemonis|"
    r"leverag|utiliz|seamless|robust|powerful"
)
READ = {
    "README and pages": text(),
    "commands": "\n".join([*COMMANDS.values(), *TOPICS.values(), *REMEDIES.values()]),
    "flags": "\n".join(FLAG_TEXT.values()),
    "help": "\n".join(parser.format_help() for _, _, parser in commands()),
}


@pytest.mark.parametrize("where", READ)
def test_no_foreign_word_is_read(where: str) -> None:
    assert re.findall(f"(?i).*(?:{FOREIGN}).*", READ[where]) == []
