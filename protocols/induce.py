"""A layout drafted from frames that no built-in layout reads: what stands still, what changes, and what with it.

Frames of one length are compared column by column, for a field keeps its place in them:

    columns of digits, points, signs and blanks    a number, if it parses; the one with the most values is the weight
    columns that never change                      literal text, or the unit
    the others                                     a status; each of its texts is held against the numbers

A status text is called moving when the weight changes at least `TELLING` times as much from frame to frame under it as
under the steadiest text.  Words that the trade knows keep their meaning.  A draft is a proposal: it is never sure.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Any, Final

from protocols.freeform import KNOWN_WORDS
from protocols.meaning import UNIT_WORDS, Meaning

ALIKE: Final = 0.4
"""Share of frames that must have the commonest length."""
RARE: Final = 0.03
"""Share of frames below which a character in a column is taken for damage."""
TELLING: Final = 3.0
MOST_TEXTS: Final = 8
LEAST_FRAMES: Final = 20

_DIGITS: Final = frozenset(b"0123456789")
_NUMERIC: Final = frozenset(b"0123456789.,+- ")
_NUMBER: Final = re.compile(rb"[+-]? *(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")


@dataclass(frozen=True, slots=True)
class Draft:
    """A drafted layout's table, and what should be checked about it."""

    table: Mapping[str, Any]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Field:
    """Neighbouring columns of one nature.  `start` to before `end`."""

    kind: str  # number, still, status
    start: int
    end: int

    def texts(self, frames: Sequence[bytes]) -> list[bytes]:
        return [frame[self.start : self.end] for frame in frames]


def induce(frames: Sequence[bytes]) -> Draft | None:
    """Draft a layout from frames in the order they came; None when they show no number that changes."""
    if len(frames) < LEAST_FRAMES:
        return None
    length, count = Counter(map(len, frames)).most_common(1)[0]
    alike = [frame for frame in frames if len(frame) == length]
    if count < ALIKE * len(frames) or length > 128:
        return None
    usual = _usual(alike, length)
    clean = [frame for frame in alike if all(byte in column for byte, column in zip(frame, usual, strict=True))]
    fields = list(_fields(usual))
    weight = _weight(fields, clean)
    return _draft(fields, weight, clean) if weight is not None else None


def _usual(frames: Sequence[bytes], length: int) -> list[frozenset[int]]:
    """Find each column's usual characters: those seen more than rarely."""
    least = max(2, RARE * len(frames))
    columns = [Counter(frame[at] for frame in frames) for at in range(length)]
    return [
        frozenset(byte for byte, times in column.items() if times >= least or byte in b"0123456789")
        for column in columns
    ]


def _fields(usual: Sequence[frozenset[int]]) -> Iterable[_Field]:
    """Join neighbouring columns of one nature into fields."""
    kinds = [_kind(column) for column in usual]
    start = 0
    for at in range(1, len(kinds) + 1):
        if at < len(kinds) and kinds[at] == kinds[start]:
            continue
        yield _Field(kinds[start], start, at)
        start = at


def _kind(column: frozenset[int]) -> str:
    if len(column) == 1 and not column <= _DIGITS | frozenset(b".+- "):
        return "still"
    return "number" if column <= _NUMERIC else "status"


def _weight(fields: Sequence[_Field], frames: Sequence[bytes]) -> _Field | None:
    """Choose the field that is the weight: the number with the most values, by a clear lead."""
    values: dict[_Field, int] = {}
    for candidate in fields:
        texts = candidate.texts(frames)
        if candidate.kind == "number" and sum(parse(text) is not None for text in texts) > len(texts) / 2:
            values[candidate] = len(set(texts))
    ranked = sorted(values, key=lambda candidate: -values[candidate])
    if not ranked or values[ranked[0]] < 4:
        return None
    if len(ranked) > 1 and values[ranked[1]] * 2 > values[ranked[0]]:
        return None
    return ranked[0]


def parse(text: bytes) -> float | None:
    """Read a number with its sign and blanks; None when the text is none."""
    text = text.strip()
    if not _NUMBER.fullmatch(text):
        return None
    return float(text.replace(b" ", b"").replace(b",", b"."))


def _draft(fields: Sequence[_Field], weight: _Field, frames: Sequence[bytes]) -> Draft:
    pattern = ""
    unit: str | None = None
    tokens: dict[str, dict[str, list[str]]] = {}
    doubts = ["The layout was drafted from what changed while listening: compare its weights with the display."]
    numbers = [parse(text) for text in weight.texts(frames)]
    for part in fields:
        width = part.end - part.start
        texts = part.texts(frames)
        if part is weight:
            pattern += f"(?P<value>[-+ 0-9.,]{{{width}}})"
        elif part.kind == "still":
            pattern += re.escape(texts[0].decode("latin-1"))
            if part.start >= weight.end:
                unit = unit or UNIT_WORDS.get(texts[0].decode("latin-1").strip().lower())
        elif part.kind == "number" and all(not text.strip() for text in texts):
            pattern += f" {{{width}}}" if width > 1 else " "
        elif part.kind == "status" or len(set(texts)) <= MOST_TEXTS:
            group = f"status{len(tokens) or ''}"
            pattern += f"(?P<{group}>.{{{width}}})"
            tokens[group], doubt = _tokens(texts, numbers)
            doubts += doubt
        else:
            pattern += f".{{{width}}}"
    table: dict[str, Any] = {"pattern": pattern, "unit": unit or "kg"}
    if tokens:
        table["tokens"] = tokens
    if unit is None:
        doubts.append("No unit was seen: kilograms are assumed.")
    return Draft(table, tuple(doubts))


def _tokens(texts: Sequence[bytes], numbers: Sequence[float | None]) -> tuple[dict[str, list[str]], list[str]]:
    """Say what each text of a status means: by the word it is, or by how much the weight changes under it."""
    changes: dict[bytes, list[float]] = defaultdict(list)
    for (_, before), (text, now) in pairwise(zip(texts, numbers, strict=True)):
        if before is not None and now is not None:
            changes[text].append(abs(now - before))
    known = {text: KNOWN_WORDS.get(text.decode("latin-1").strip().upper()) for text in set(texts)}
    told = {text: fmean(steps) for text, steps in changes.items() if len(steps) >= 5}
    calmest = min(told.values(), default=0.0)
    restless = [text for text, mean in told.items() if mean > max(TELLING * calmest, 0.0)]
    meanings: dict[str, list[str]] = {}
    doubts: list[str] = []
    for text in sorted(set(texts)):
        meaning = known[text]
        if meaning is None and restless and text in told:
            meaning = Meaning.MOVING if text in restless else Meaning.STABLE
            doubts.append(f"{text.decode('latin-1')!r} seems to mean {meaning.value}: the weight's steps say so.")
        elif meaning is None:
            meaning = Meaning.IGNORED
            doubts.append(f"What {text.decode('latin-1')!r} means did not show; it is ignored.")
        meanings.setdefault(meaning.value, []).append(text.decode("latin-1"))
    return meanings, doubts
