"""A sheet's text cut into blocks: what stands before all tables, then a block a table, its comments with it.

A comment right above a table's heading goes with that table.  Tables below a table (`[draft.match]`) go with it too.
So a block can be changed, moved or taken out, and every other stays as it was, to the byte.
"""

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

HEADING = re.compile(r"\s*\[{1,2}\s*([A-Za-z0-9_-]+)\s*([.\]])")


@dataclass(frozen=True, slots=True)
class Block:
    """One table's lines.  `key` is the name of its heading, empty for what stands before all tables."""

    key: str
    text: str

    @property
    def lines(self) -> int:
        """How many lines."""
        return self.text.count("\n")


def cut(text: str) -> list[Block]:
    """Cut a sheet's text into blocks; the first has no heading.  Raises ValueError for a text that cannot be cut so.

    The blocks joined are the text.  A text is not cut where a line only looks like a heading, within a value of several
    lines.
    """
    blocks = [Block("", "")]
    above: list[str] = []  # comments whose table is not known yet
    for line in text.splitlines(keepends=True):
        found = HEADING.match(line)
        if found and not (found[2] == "." and blocks[-1].key == found[1]):
            blocks.append(Block(found[1], "".join(above) + line))
        elif line.lstrip().startswith("#"):
            above.append(line)
            continue
        else:
            blocks[-1] = Block(blocks[-1].key, blocks[-1].text + "".join(above) + line)
        above = []
    blocks[-1] = Block(blocks[-1].key, blocks[-1].text + "".join(above))
    if _together(blocks) != tomllib.loads(text):
        raise ValueError("a value of several lines looks like tables")
    return blocks


def _together(blocks: Sequence[Block]) -> dict[str, Any]:
    """Read the blocks one by one."""
    found: dict[str, Any] = {}
    for block in blocks:
        try:
            table = tomllib.loads(block.text)
        except tomllib.TOMLDecodeError:
            return {}
        for key, value in table.items():
            if isinstance(value, list) and block.key == key:
                found[key] = [*found.get(key, []), *value]
            elif key in found:
                return {}
            else:
                found[key] = value
    return found


def place_of(text: str, line: int) -> tuple[str, int] | None:
    """Return the table a line stands in and which of its name that is, from 0; None for what stands before all."""
    try:
        blocks = cut(text)
    except (ValueError, RecursionError):
        return None
    seen: dict[str, int] = {}
    begins = 1
    for block in blocks:
        at = seen.get(block.key, 0)
        seen[block.key] = at + 1
        begins += block.lines
        if line < begins:
            return (block.key, at) if block.key else None
    return None
