"""A scale frame described declaratively: a regular expression and what its groups mean.

    value                 the number; or, for frames of several, the groups gross, net and tare
    sign                  a minus makes the number negative; it may stand apart from the digits
    unit                  the unit's name; blank while moving if the layout says so
    check, covered        the checksum, and what it covers (all before it, if there is no such group)
    any other name        a status: its text is looked up in the layout's tokens, or taken apart into bits

What the status, sign and unit texts mean is looked up in a memory keyed by these texts, since a device has few of them;
only the number is new in each frame.
"""

import re
from binascii import unhexlify
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final, Literal, NamedTuple, TypeAlias

from neckyoke.protocols.checksums import CHECKS
from neckyoke.protocols.readings import KG_PER, Reject, RejectReason, WeightReading
from neckyoke.protocols.scale.status import (
    UNIT_WORDS,
    Meaning,
    Said,
    combine,
    make_reading,
    numberless,
    why_not,
)

Parity: TypeAlias = Literal["even", "odd", "mark", "space"]

NUMBERS: Final = ("gross", "net", "tare")
Prove: TypeAlias = Callable[[bytes, bytes], bool]
"""Whether the bytes covered have this check, as spelled."""
SPECIAL: Final = frozenset({"value", "sign", "unit", "check", "covered", *NUMBERS})
COMMON: Final = "common practice, no source"
_REMEMBERED: Final = 512
_NUMBER: Final = re.compile(rb"([+-]?) *((?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)?)")
_THOUSANDS: Final = re.compile(rb"[+-]? *[1-9][0-9]{0,2}(?:,[0-9]{3})+(\.[0-9]*)?")
"""With a point behind it a comma can only part thousands; without, nobody guesses whether it is the decimal one."""


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

    def prover(self) -> Prove:
        """Make the function that says whether a check, as spelled, is that of the bytes covered."""
        width, compute = CHECKS[self.kind]
        order: Literal["little", "big"] = "little" if self.low_first else "big"
        before, behind = b"\x02" * self.stx, b"\x03" * self.etx
        length = 2 * width if self.spelled == "hex" else width

        def prove(covered: bytes, check: bytes) -> bool:
            if len(check) != length:
                return False
            try:
                given = unhexlify(check) if self.spelled == "hex" else check
            except ValueError:  # not hexadecimal
                return False
            return given == compute(before + covered + behind).to_bytes(width, order)

        return prove


@dataclass(frozen=True, slots=True)
class Bits:
    """A status group that is a set of bits: a byte's value, or hexadecimal digits.

    `meanings` maps what a bit says when set to its number, 0 the lowest.  What it says when clear follows: stable and
    moving, gross and net, zero and not zero, pounds and kilograms; other bits say nothing then.
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
    Meaning.LB: Meaning.KG,
    Meaning.KG: Meaning.LB,
}


@dataclass(frozen=True, slots=True)
class Layout:
    """How a scale frame spells weight, unit and status.

    `tokens` maps a group's name ("" for any group) and a text to its meaning.  `unit` is what a frame without one
    means; `decimals` is how many digits stand behind a point that is not sent; `blank_unit` is what a blank unit says;
    `thousands` is the mark that parts them; `take` is the number taken from a frame of several; `backwards` says that
    its last digit comes first.  `source` says how far the shape can be trusted.
    """

    name: str
    pattern: re.Pattern[bytes]
    tokens: Mapping[str, Mapping[bytes, Meaning]] = field(default_factory=dict)
    bits: Mapping[str, Bits] = field(default_factory=dict)
    framing: str = "auto"
    unit: str | None = None
    decimals: int = 0
    blank_unit: Meaning = Meaning.IGNORED
    thousands: str = ""
    take: str = "gross"
    backwards: bool = False
    checksum: Checksum | None = None
    parity: Parity | None = None
    source: str = COMMON


class _Known(NamedTuple):
    """What the texts beside the number were found to say.  `unit` is None when the frame names none."""

    said: Said = Said()
    unit: str | None = None
    minus: str = ""
    refused: RejectReason | None = None


class LayoutReader:
    """Reads frames by one layout, and remembers what the texts beside the number mean."""

    def __init__(self, layout: Layout) -> None:
        groups = layout.pattern.groupindex
        self.layout = layout
        self._beside = tuple(name for name in groups if name in {"sign", "unit"} or name not in SPECIAL)
        self._value = groups["value" if "value" in groups else layout.take]
        self._order = (self._value, *(groups[name] for name in self._beside), 0)  # two at least, so that a tuple comes
        self._mode = Meaning.IGNORED if "value" in groups else Meaning(layout.take)
        self._known = lru_cache(_REMEMBERED)(self._look_up)
        self._prove = layout.checksum.prover() if layout.checksum else None
        self._covered = groups.get("covered", 0)
        self._check = groups.get("check", 0)
        self._unspoken_unit = layout.unit or (None if self._names_units() else "kg")

    def _names_units(self) -> bool:
        """Return whether frames can name a unit; then a blank one means nothing until one was seen."""
        tables = [*self.layout.tokens.values()]
        said = {meaning for table in tables for meaning in table.values()}
        said.update(meaning for bits in self.layout.bits.values() for meaning in bits.meanings)
        return "unit" in self._beside or any(meaning.value in KG_PER for meaning in said)

    def decode(self, frame: bytes, unit: str | None = None) -> WeightReading | Reject:
        """Read one frame.  `unit` is the last one this device named, for frames that leave it blank."""
        match = self.layout.pattern.fullmatch(frame)
        if match is None:
            return Reject.of(why_not(frame), frame)
        if self._prove and not self._prove(*self._proof(match)):
            return Reject.of(RejectReason.BAD_CHECKSUM, frame)
        value, *beside, _ = match.group(*self._order)
        known = self._known(tuple(beside))
        if known.refused:
            return Reject.of(known.refused, frame)
        unit = known.unit or unit
        if unit is None:
            return Reject.of(RejectReason.UNKNOWN_UNIT, frame)
        return self._number((value or b"").strip(), known, unit, frame)

    def _number(self, value: bytes, known: _Known, unit: str, frame: bytes) -> WeightReading | Reject:
        """Read the number: one with its point, a decimal comma or a point not sent, its sign perhaps apart; or none."""
        if self.layout.thousands:
            value = value.replace(self.layout.thousands.encode(), b"")
        elif thousands := _THOUSANDS.fullmatch(value):
            if not thousands[1]:
                return Reject.of(RejectReason.TWO_NUMBERS, frame)
            value = value.replace(b",", b"")
        match = _NUMBER.fullmatch(value[::-1] if self.layout.backwards else value)
        if match is None or not match[2]:
            return numberless(unit, known.said, frame)
        compact = match[1] + match[2].replace(b",", b".")
        number = float(compact)
        if b"." not in compact:
            number /= 10.0**self.layout.decimals
        text = known.minus + compact.decode()
        return make_reading(-number if known.minus else number, text, unit, known.said, frame)

    def _look_up(self, texts: tuple[bytes | None, ...]) -> _Known:
        meanings = [self._mode]
        negative = False
        for name, text in zip(self._beside, texts, strict=True):
            if text is None:
                continue
            if name == "sign":
                negative = text.strip() == b"-"
                continue
            found = self._unit(text) if name == "unit" else self._status(name, text)
            if isinstance(found, RejectReason):
                return _Known(refused=found)
            meanings += found
        said = combine(meanings)
        return _Known(said, said.unit or self._unspoken_unit, "-" if negative else "")

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

    def _proof(self, match: re.Match[bytes]) -> tuple[bytes, bytes]:
        """Return what the check covers, and the check."""
        covered = match[self._covered] if self._covered else match.string[: match.start(self._check)]
        return covered or b"", match[self._check] or b""
