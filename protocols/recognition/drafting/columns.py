"""A layout drafted by comparing frames of one length column by column, for a field keeps its place in them.

    columns of digits, points, signs and blanks    a number, if it parses
    a column of blanks and minuses behind digits   the number's sign
    columns that never change                      literal text, or the unit
    the others                                     a status; each of its texts is held against the weights

Frames without end marks are found by a character that comes back at one distance.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from neckyoke.protocols.recognition.doubts import Doubt
from neckyoke.protocols.recognition.drafting.sketch import (
    ALIKE,
    LEAST_FRAMES,
    RARE,
    Draft,
    Sketch,
    is_status,
    parse,
    usual_texts,
)
from neckyoke.protocols.recognition.drafting.weight_choice import Roles, find_roles

LONGEST: Final = 128

_DIGITS: Final = frozenset(b"0123456789")
_BLANK: Final = frozenset(b" ")
_MARKS: Final = frozenset(b"\r\n\x02\x03")
_COMMA: Final = frozenset(b",")
_NUMERIC: Final = frozenset(b"0123456789.,+- ")
_FIGURES: Final = b"0123456789.,"
_FRACTION: Final = re.compile(rb"[0-9][.,][0-9]|[0-9]{4}")
_SIGNS: Final = (frozenset(b" -"), frozenset(b"+-"))


@dataclass(frozen=True, slots=True)
class _Field:
    """Neighbouring columns of one nature.  `start` to before `end`."""

    kind: str  # number, sign, still, status
    start: int
    end: int

    def texts(self, frames: Sequence[bytes]) -> list[bytes]:
        return [frame[self.start : self.end] for frame in frames]


def induce_columns(frames: Sequence[bytes]) -> Draft | None:
    """Draft a layout from frames in the order they came; None when they do not show which number is the weight."""
    if len(frames) < LEAST_FRAMES:
        return None
    alike = _alike(frames)
    if len(alike) < ALIKE * len(frames):
        return None
    usual = _usual(alike)
    clean = [frame for frame in alike if all(byte in column for byte, column in zip(frame, usual, strict=True))]
    fields = _fields(usual)
    numbers = [part for part in fields if part.kind == "number" and _parses(part.texts(clean))]
    if any(_hides_number(part.texts(clean)) for part in fields if part not in numbers):
        return None
    if any(_reaches_into(part, clean) for part in fields if part.kind == "status"):
        return None
    choice = find_roles([[parse(text) for text in part.texts(clean)] for part in numbers])
    return _draft(fields, numbers, choice, clean) if choice else None


def induce_unmarked(sample: bytes) -> Draft | None:
    """Draft a layout for frames of one length without end marks: a character begins each of them."""
    starts = Counter(byte for byte in sample if 0x20 < byte < 0x7F and byte not in _NUMERIC)
    for start, _ in starts.most_common(3):
        pieces = [bytes([start]) + piece for piece in sample.split(bytes([start]))[1:]]
        alike = _alike(pieces)
        if len(alike) < ALIKE * len(pieces) or _MARKS & {*alike[0]}:
            continue
        draft = induce_columns(alike)
        if draft is not None:
            return replace(draft, table={**draft.table, "framing": f"fixed:{len(alike[0])}"})
    return None


def _alike(frames: Sequence[bytes]) -> list[bytes]:
    """Keep the frames of the commonest length; there may be none, where they are too long."""
    length = max(Counter(map(len, frames)).items(), key=lambda one: one[1], default=(0, 0))[0]
    return [frame for frame in frames if len(frame) == length <= LONGEST]


def _usual(frames: Sequence[bytes]) -> list[frozenset[int]]:
    """Find each column's usual characters: those seen more than rarely, and all digits where any is."""
    least = max(2, RARE * len(frames))
    columns = [Counter(column) for column in zip(*frames, strict=True)]
    usual = [frozenset(byte for byte, times in column.items() if times >= least) for column in columns]
    return [
        some | (_DIGITS & column.keys() if some & _DIGITS else frozenset())
        for some, column in zip(usual, columns, strict=True)
    ]


def _fields(usual: Sequence[frozenset[int]]) -> list[_Field]:
    """Join neighbouring columns of one nature into fields; blanks and signs belong to the number right of them."""
    fields: list[_Field] = []
    has_digits = False
    for at, column in enumerate(usual):
        inside_number = has_digits and bool(_DIGITS & frozenset().union(*usual[at + 1 : at + 2]))
        kind = "number" if inside_number and column == _COMMA else _kind(column)
        if has_digits and column in _SIGNS and _stands_behind(usual[at + 1 :]):
            kind = "sign"
        ends_number = has_digits and column == _BLANK
        if fields and fields[-1].kind == kind and not ends_number:
            fields[-1] = _Field(kind, fields[-1].start, at + 1)
        else:
            fields.append(_Field(kind, at, at + 1))
            has_digits = False
        has_digits = has_digits or bool(column & _DIGITS)
    return fields


def _stands_behind(rest: Sequence[frozenset[int]]) -> bool:
    """Return whether a sign belongs to the number before it, since none comes behind."""
    after = next((column for column in rest if column != _BLANK), frozenset())
    return not after & (_DIGITS | frozenset(b".+-"))


def _kind(column: frozenset[int]) -> str:
    if len(column) == 1 and not column <= _DIGITS | frozenset(b".+- "):
        return "still"
    return "number" if column <= _NUMERIC else "status"


def _parses(texts: Sequence[bytes]) -> bool:
    return sum(parse(text) is not None for text in texts) > len(texts) / 2


def _hides_number(texts: Sequence[bytes]) -> bool:
    """Return whether a field that is no number has one within it: then its columns were parted wrongly."""
    return sum(bool(_FRACTION.search(text)) for text in texts) > len(texts) / 2


def _reaches_into(status: _Field, frames: Sequence[bytes]) -> bool:
    """Return whether numbers at times reach into a status: their place is not fixed, and the columns cut them.

    Either the status then is another of its texts with digits before or behind it, or a number goes right through.
    """
    texts = usual_texts(status.texts(frames))
    width = status.end - status.start
    reached = 0
    for frame in frames:
        text = frame[status.start : status.end].strip()
        around = frame[max(0, status.start - 1) : status.end + 1]
        bare = {text.lstrip(_FIGURES).strip(), text.rstrip(_FIGURES).strip()} - {text, b""}
        reached += bool(bare & texts.keys()) or (len(around) == width + 2 and not around.strip(_FIGURES))
    return reached > RARE * len(frames)


def _draft(fields: Sequence[_Field], numbers: Sequence[_Field], choice: Roles, frames: Sequence[bytes]) -> Draft:
    sketch = Sketch()
    sketch.doubts += choice.doubts
    roles = {numbers[at]: role for at, role in choice.roles.items()}
    weight = numbers[choice.main]
    weights = [parse(text) for text in weight.texts(frames)]
    for at, part in enumerate(fields):
        texts = part.texts(frames)
        text = texts[0].decode("latin-1")
        width = f"{{{part.end - part.start}}}" if part.end - part.start > 1 else ""
        if part in roles:
            sketch.pattern += f"(?P<{roles[part]}>[-+ 0-9.,]{width})"
        elif part.kind == "sign":
            of_weight = fields[at - 1] == weight
            sketch.pattern += ("(?P<sign>[-+ ]" if of_weight else "(?:[-+ ]") + width + ")"
        elif part.kind == "still":
            sketch.pattern += re.escape(text)
            sketch.see_unit(text)
        elif len(usual_texts(texts)) == 1:
            sketch.pattern += ("." if text.strip() else " ") + width
            if text.strip():
                sketch.doubts.append(Doubt(f"{text!r} stood still; whatever stands there is not looked at."))
        elif is_status(texts) and not (part in numbers and _is_fraction(texts)):
            group = sketch.next_group()
            sketch.pattern += f"(?P<{group}>.{width})"
            sketch.status(group, texts, weights)
        else:
            sketch.pattern += "." + width
            sketch.doubts.append(Doubt(f"{text!r} and what else stands there is taken for no weight and passed over."))
    return sketch.done()


def _is_fraction(texts: Sequence[bytes]) -> bool:
    return any(b"." in text or b"," in text for text in texts)
