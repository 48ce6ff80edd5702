"""A layout drafted from frames that no built-in layout reads: what stands still, what changes, and what with it.

Frames of one length are compared column by column, for a field keeps its place in them:

    columns of digits, points, signs and blanks    a number, if it parses; the one with the most values is the weight
    columns that never change                      literal text, or the unit
    the others                                     a status; each of its texts is held against the numbers

Frames whose length varies with the number's are first aligned at the end of their first number.  Frames without end
marks are found by a character that comes back at one distance.

A status text is called moving when the weight usually changes more under it, from frame to frame, than under the
steadiest text.  Words that the trade knows keep their meaning.  A draft is a proposal: it is never sure.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Any, Final

from protocols.freeform import KNOWN_WORDS
from protocols.meaning import UNIT_WORDS, Meaning

ALIKE: Final = 0.6
"""Share of frames that must have the commonest length."""
RARE: Final = 0.03
"""Share of frames below which a character in a column is taken for damage."""
TELLING: Final = 2.0
MOST_TEXTS: Final = 8
LONGEST: Final = 128
WIDEST: Final = 12
LEAST_FRAMES: Final = 20

_DIGITS: Final = frozenset(b"0123456789")
_BLANK: Final = frozenset(b" ")
_COMMA: Final = frozenset(b",")
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
    """Draft a layout from frames in the order they came; None when they show no one number that changes."""
    if len(frames) < LEAST_FRAMES:
        return None
    alike = _alike(frames)
    aligned = len(alike) < ALIKE * len(frames)
    if aligned:
        alike = _alike(_align(frames))
        if len(alike) < ALIKE * len(frames):
            return None
    usual = _usual(alike)
    clean = [frame for frame in alike if all(byte in column for byte, column in zip(frame, usual, strict=True))]
    fields = _fields(usual)
    weight = _weight(fields, clean)
    return _draft(fields, weight, clean, aligned=aligned) if weight is not None else None


def induce_unmarked(sample: bytes) -> Draft | None:
    """Draft a layout for frames of one length without end marks: a character begins each of them."""
    starts = Counter(byte for byte in sample if 0x20 < byte < 0x7F and byte not in _NUMERIC)
    for start, _ in starts.most_common(3):
        pieces = [bytes([start]) + piece for piece in sample.split(bytes([start]))[1:]]
        alike = _alike(pieces)
        if len(alike) < ALIKE * len(pieces) or b"\n" in alike[0] or b"\r" in alike[0]:
            continue
        draft = induce(alike)
        if draft is not None:
            return Draft({**draft.table, "framing": f"fixed:{len(alike[0])}"}, draft.doubts)
    return None


def _alike(frames: Sequence[bytes]) -> list[bytes]:
    """Keep the frames of the commonest length; there may be none, as where no frame had a number to align."""
    length = max(Counter(map(len, frames)).items(), key=lambda one: one[1], default=(0, 0))[0]
    return [frame for frame in frames if len(frame) == length <= LONGEST]


def _align(frames: Sequence[bytes]) -> list[bytes]:
    """Pad each frame's first number on the left, and what follows it on the right, to one width."""
    parts = [
        (frame[: match.start()], match[0], frame[match.end() :]) for frame in frames if (match := _NUMBER.search(frame))
    ]
    behind = max((len(rest) for _, _, rest in parts), default=0)
    return [before + number.rjust(WIDEST) + rest.ljust(min(behind, WIDEST)) for before, number, rest in parts]


def _usual(frames: Sequence[bytes]) -> list[frozenset[int]]:
    """Find each column's usual characters: those seen more than rarely, and all digits."""
    least = max(2, RARE * len(frames))
    columns = [Counter(column) for column in zip(*frames, strict=True)]
    return [
        frozenset(byte for byte, times in column.items() if times >= least or byte in _DIGITS) for column in columns
    ]


def _fields(usual: Sequence[frozenset[int]]) -> list[_Field]:
    """Join neighbouring columns of one nature into fields; blanks and signs belong to the number right of them."""
    fields: list[_Field] = []
    has_digits = False
    for at, column in enumerate(usual):
        inside_number = has_digits and bool(_DIGITS & frozenset().union(*usual[at + 1 : at + 2]))
        kind = "number" if inside_number and column == _COMMA else _kind(column)
        ends_number = has_digits and column == _BLANK
        if fields and fields[-1].kind == kind and not ends_number:
            fields[-1] = _Field(kind, fields[-1].start, at + 1)
        else:
            fields.append(_Field(kind, at, at + 1))
            has_digits = False
        has_digits = has_digits or bool(column & _DIGITS)
    return fields


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


def _draft(fields: Sequence[_Field], weight: _Field, frames: Sequence[bytes], *, aligned: bool) -> Draft:
    pattern = ""
    unit: str | None = None
    tokens: dict[str, dict[str, list[str]]] = {}
    doubts = ["The layout was drafted from what changed while listening: compare its weights with the display."]
    numbers = [parse(text) for text in weight.texts(frames)]
    for part in fields:
        texts = part.texts(frames)
        text = texts[0].decode("latin-1")
        width = _width(part, loose=aligned and part.start >= weight.start)
        if part is weight:
            pattern += "(?P<value>[-+ 0-9.,]" + width + ")"
        elif part.kind == "still":
            pattern += re.escape(text)
            unit = unit or UNIT_WORDS.get(text.strip().lower())
        elif len(set(texts)) == 1:
            pattern += ("." if text.strip() else " ") + width
            if text.strip():
                doubts.append(f"{text!r} stood still; whatever stands there is not looked at.")
        elif part.kind == "status" or len(set(texts)) <= MOST_TEXTS:
            group = f"status{len(tokens) or ''}"
            pattern += f"(?P<{group}>." + width + ")"
            tokens[group], told = _tokens([text.strip() for text in texts], numbers)
            doubts += told
        else:
            pattern += "." + width
    table: dict[str, Any] = {"pattern": pattern, "unit": unit or "kg"}
    if tokens:
        table["tokens"] = tokens
    if unit is None:
        doubts.append("No unit was seen: kilograms are assumed.")
    return Draft(table, tuple(doubts))


def _width(part: _Field, *, loose: bool) -> str:
    """Spell how many characters a field has; in aligned frames it may have fewer."""
    columns = part.end - part.start
    if loose:
        return f"{{0,{columns}}}"
    return f"{{{columns}}}" if columns > 1 else ""


def _tokens(texts: Sequence[bytes], numbers: Sequence[float | None]) -> tuple[dict[str, list[str]], list[str]]:
    """Say what each text of a status means: by the word it is, or by how much the weight changes under it."""
    changes: dict[bytes, list[float]] = defaultdict(list)
    for (_, before), (text, now) in pairwise(zip(texts, numbers, strict=True)):
        if before is not None and now is not None:
            changes[text].append(abs(now - before))
    known = {text: KNOWN_WORDS.get(text.decode("latin-1").upper()) for text in set(texts)}
    told = {text: median(steps) for text, steps in changes.items() if len(steps) >= 5}
    calmest = min(told.values(), default=0.0)
    restless = [text for text, step in told.items() if step > TELLING * calmest]
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
