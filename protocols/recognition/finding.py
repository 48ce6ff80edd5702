"""What a sample of a device turned out to be, and what to write into the configuration for it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from neckyoke.protocols.scale.layout import Parity
from neckyoke.protocols.tagcode import HexOrder


class Sure(StrEnum):
    """How far to trust a finding."""

    SURE = "sure"
    LIKELY = "likely"
    UNSURE = "unsure"


class Kind(StrEnum):
    """What speaks on the link."""

    SCALE = "scale"
    READER = "reader"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Part:
    """Where something stands in a frame: columns from `start` to before `end`, counted from 0."""

    name: str
    start: int
    end: int
    text: str


@dataclass(frozen=True, slots=True)
class Word:
    """A word beside the weight: where it stands, what it is taken to mean, and in how many frames it came.

    An empty text is a place left blank.
    """

    where: str
    text: str
    meaning: str
    frames: int


@dataclass(frozen=True, slots=True)
class Finding:
    """What a sample turned out to be.

    `layout` is a layout's name; `table` is set when it must first be written into the configuration, and `hints` are
    lines of it that stay commented out until the display has been looked at.  `frames` were
    seen, of which the share `fit` was read.  `why` holds a sentence for each ground, `doubts` one for each thing to
    check.
    """

    kind: Kind
    sure: Sure
    why: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    layout: str | None = None
    table: Mapping[str, Any] | None = None
    hints: tuple[str, ...] = ()
    hex_order: HexOrder | None = None
    parity: Parity | None = None
    example: bytes = b""
    parts: tuple[Part, ...] = ()
    words: tuple[Word, ...] = ()
    frames: int = 0
    fit: float = 0.0

    def toml(self, link: str, url: str) -> str:
        """Spell what to paste into the configuration."""
        lines = [f"[links.{link}]", f"url = {_quote(url)}"]
        if self.kind is Kind.SCALE and self.layout:
            lines.append(f"layout = {_quote(self.layout)}")
        if self.hex_order:
            lines.append(f"hex_order = {_quote(self.hex_order)}")
        if self.table is not None:
            lines += ["", *_table_lines(f"layouts.{self.layout}", self.table, self.hints)]
        return "\n".join(lines) + "\n"


def _table_lines(name: str, table: Mapping[str, Any], hints: Sequence[str] = ()) -> list[str]:
    """Spell a table and those within it as TOML."""
    plain = [f"{key} = {_spell(value)}" for key, value in table.items() if not isinstance(value, Mapping)]
    plain += [f"# {hint}" for hint in hints]
    lines = [f"[{name}]", *plain] if plain else []
    for key, value in table.items():
        if isinstance(value, Mapping):
            lines += [*([""] if lines else []), *_table_lines(f"{name}.{key}", value)]
    return lines


def _spell(value: object) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(_spell(item) for item in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return _quote(value) if isinstance(value, str) else str(value)


def _quote(text: str) -> str:
    """Spell a TOML string: literal where it can be, so that regular expressions stay readable."""
    if text.isprintable() and "'" not in text and "\\" in text:
        return f"'{text}'"
    escaped = "".join(
        f"\\u{ord(character):04x}" if not character.isprintable() or character in '"\\' else character
        for character in text
    )
    return f'"{escaped}"'
