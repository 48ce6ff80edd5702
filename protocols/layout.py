"""A scale frame described declaratively: a regular expression and what its groups mean.

    value                 the number; or, for frames of several, the groups gross, net and tare
    sign                  a minus makes the number negative; it may stand apart from the digits
    unit                  the unit's name; blank while moving if the layout says so
    check, covered        the checksum, and what it covers (all before it, if there is no such group)
    any other name        a status: its text is looked up in the layout's tokens, or taken apart into bits

A frame is matched once.  What its status, sign and unit texts mean is looked up in a memory keyed by these texts, since
a device has few of them; only the number is new in each frame.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple, TypeAlias

from protocols.checks import CHECKS
from protocols.meaning import UNIT_WORDS, Meaning, Said, combine, make_reading, numberless, why_not
from protocols.readings import Reject, RejectReason, WeightReading

Parity: TypeAlias = Literal["even", "odd", "mark", "space"]

NUMBERS: Final = ("gross", "net", "tare")
SPECIAL: Final = frozenset({"value", "sign", "unit", "check", "covered", *NUMBERS})
COMMON: Final = "common practice, no source"
_REMEMBERED: Final = 512
_NUMBER: Final = re.compile(rb"([+-]?) *((?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)?)")


@dataclass(frozen=True, slots=True)
class Checksum:
    """How a frame proves itself: `kind` of `CHECKS`, `spelled` in hexadecimal digits or raw bytes, high byte first.

    The start mark STX and the end mark ETX are not part of the frame any more; `stx` and `etx` say that they count.
    """

    kind: str
    spelled: Literal["hex", "byte"] = "hex"
    low_first: bool = False
    stx: bool = False
    etx: bool = False

    def holds(self, covered: bytes, check: bytes) -> bool:
        """Say whether the check is that of the covered bytes."""
        width, compute = CHECKS[self.kind]
        raw = check
        if self.spelled == "hex":
            try:
                raw = bytes.fromhex(check.decode("ascii"))
            except ValueError:
                return False
        order: Literal["little", "big"] = "little" if self.low_first else "big"
        bytes_covered = b"\x02" * self.stx + covered + b"\x03" * self.etx
        return len(raw) == width and int.from_bytes(raw, order) == compute(bytes_covered)


@dataclass(frozen=True, slots=True)
class Bits:
    """A status group that is a set of bits: a byte's value, or hexadecimal digits.

    `meanings` maps what a bit says when set to its number, 0 the lowest.  What it says when clear follows: stable and
    moving, gross and net, zero and not zero; other bits say nothing then.
    """

    meanings: Mapping[Meaning, int]
    spelled: Literal["hex", "byte"] = "byte"

    def read(self, text: bytes) -> list[Meaning] | None:
        """Take the text apart; None when it is no number."""
        try:
            number = int(text, 16) if self.spelled == "hex" else int.from_bytes(text, "big")
        except ValueError:
            return None
        found = [
            meaning if number >> bit & 1 else _WHEN_CLEAR.get(meaning, Meaning.IGNORED)
            for meaning, bit in self.meanings.items()
        ]
        return list(filter(None, found))


_WHEN_CLEAR: Final[dict[Meaning, Meaning]] = {
    Meaning.STABLE: Meaning.MOVING,
    Meaning.MOVING: Meaning.STABLE,
    Meaning.GROSS: Meaning.NET,
    Meaning.NET: Meaning.GROSS,
    Meaning.ZERO: Meaning.NOT_ZERO,
}


@dataclass(frozen=True, slots=True)
class Layout:
    """How a scale frame spells weight, unit and status.

    `tokens` maps a group's name ("" for any group) and a text to its meaning.  `unit` is what a frame without one
    means; `decimals` is how many digits stand behind a point that is not sent; `blank_unit` is what a blank unit says;
    `take` is the number taken from a frame of several.  `source` says how far the shape can be trusted.
    """

    name: str
    pattern: re.Pattern[bytes]
    tokens: Mapping[str, Mapping[bytes, Meaning]] = field(default_factory=dict)
    bits: Mapping[str, Bits] = field(default_factory=dict)
    framing: str = "auto"
    unit: str | None = None
    decimals: int = 0
    blank_unit: Meaning = Meaning.IGNORED
    take: str = "gross"
    checksum: Checksum | None = None
    parity: Parity | None = None
    source: str = COMMON


class _Known(NamedTuple):
    """What the texts beside the number were found to say."""

    said: Said
    negative: bool


class LayoutReader:
    """Reads frames by one layout, and remembers what the texts beside the number mean."""

    def __init__(self, layout: Layout) -> None:
        groups = layout.pattern.groupindex
        self.layout = layout
        self._beside = tuple(name for name in groups if name in {"sign", "unit"} or name not in SPECIAL)
        self._value = "value" if "value" in groups else layout.take
        self._mode = Meaning.IGNORED if "value" in groups else Meaning(layout.take)
        self._scale = 10.0**layout.decimals
        self._known: dict[tuple[bytes | None, ...], _Known | RejectReason] = {}
        # An empty last group, so that asking for the texts always gives a tuple.
        pattern = re.compile(layout.pattern.pattern + b"()", layout.pattern.flags)
        self._match = pattern.fullmatch
        self._order = (groups[self._value], *(groups[name] for name in self._beside), pattern.groups)

    def decode(self, frame: bytes, unit: str | None = None) -> WeightReading | Reject:
        """Read one frame.  `unit` is the last one this device named, for frames that leave it blank."""
        match = self._match(frame)
        if match is None:
            return Reject.of(why_not(frame), frame)
        if self.layout.checksum and not self._is_proven(match, self.layout.checksum):
            return Reject.of(RejectReason.BAD_CHECKSUM, frame)
        texts = match.group(*self._order)
        known = self._known.get(texts[1:]) or self._learn(texts[1:])
        if isinstance(known, RejectReason):
            return Reject.of(known, frame)
        said = known.said
        unit = said.unit or self.layout.unit or unit or self._unspoken_unit
        if unit is None:
            return Reject.of(RejectReason.UNKNOWN_UNIT, frame)
        value = texts[0]
        try:
            number = float(value)
        except (ValueError, TypeError):
            return self._odd_number(value or b"", unit, known, frame)
        return self._reading(number, value, unit, known, frame)

    @property
    def _unspoken_unit(self) -> str | None:
        """What a frame means that has no place for a unit; a blank place means nothing until one was seen."""
        return None if "unit" in self._beside else "kg"

    def _reading(self, number: float, text: bytes, unit: str, known: _Known, frame: bytes) -> WeightReading | Reject:
        if self._scale != 1 and b"." not in text:
            number /= self._scale
        sign = "-" if known.negative else ""
        if known.negative:
            number = -number
        return make_reading(number, sign + text.strip().decode("ascii"), unit, known.said, frame)

    def _odd_number(self, text: bytes, unit: str, known: _Known, frame: bytes) -> WeightReading | Reject:
        """Read what `float` does not: a decimal comma, a sign apart, or no number at all."""
        match = _NUMBER.fullmatch(text.strip())
        if match is None or not match[2]:
            return numberless(unit, known.said, frame)
        compact = match[1] + match[2].replace(b",", b".")
        return self._reading(float(compact), compact, unit, known, frame)

    def _learn(self, texts: tuple[bytes | None, ...]) -> _Known | RejectReason:
        known = self._look_up(texts)
        if len(self._known) >= _REMEMBERED:
            self._known.clear()
        self._known[texts] = known
        return known

    def _look_up(self, texts: tuple[bytes | None, ...]) -> _Known | RejectReason:
        meanings = [self._mode]
        negative = False
        for name, text in zip(self._beside, texts, strict=False):
            if text is None:
                continue
            if name == "sign":
                negative = text.strip() == b"-"
                continue
            found = self._unit(text) if name == "unit" else self._status(name, text)
            if isinstance(found, RejectReason):
                return found
            meanings += found
        return _Known(combine(meanings), negative)

    def _unit(self, text: bytes) -> list[Meaning] | RejectReason:
        word = text.strip().decode("latin-1").lower()
        if not word:
            return [self.layout.blank_unit]
        unit = UNIT_WORDS.get(word)
        return RejectReason.UNKNOWN_UNIT if unit is None else [Meaning(unit)]

    def _status(self, name: str, text: bytes) -> list[Meaning] | RejectReason:
        if bits := self.layout.bits.get(name):
            found = bits.read(text)
            return RejectReason.UNKNOWN_STATUS if found is None else found
        tokens = self.layout.tokens
        for table in (tokens.get(name), tokens.get("")):
            if table is None:
                continue
            meaning = table.get(text) or table.get(text.strip())
            if meaning is not None:
                return [meaning]
        return RejectReason.UNKNOWN_STATUS

    def _is_proven(self, match: re.Match[bytes], checksum: Checksum) -> bool:
        groups = match.re.groupindex
        covered = match["covered"] if "covered" in groups else match.string[: match.start("check")]
        return checksum.holds(covered or b"", match["check"] or b"")
