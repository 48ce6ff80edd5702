"""The layout `auto`: any frame with exactly one number, an optional unit and optional known words.

A frame is taken as words, a number, words:

    ST,GS,  +00412.5  kg          before = b"ST,GS,"  sign = b"+"  number = b"00412.5"  after = b"kg"

What stands around the number is looked up word by word (and remembered, since a device has few such surroundings); one
word that is not known rejects the frame, for it may be a date, a serial number or a fault.  The words are the trade's
common abbreviations (common practice, no source; ST, US, OL, GS and NT as in two general indicator manuals).

Where spellings are ambiguous the frame is rejected rather than guessed:

* a comma between digits is a decimal comma when it is the frame's only comma, or a sign begins its number and one or
  two digits end it; and never before three digits that could be thousands: `12,5` and `ST,GS,+0412,5kg` read,
  `412,500` and `S,1,12` do not;
* a lower-case g right behind the number is grams, an upper-case G gross; likewise t for tonnes and T for tare;
* U before the number is unstable, U or O behind it underload or overload;
* a number in brackets may be below nothing;
* a frame that is an equals sign and a number may have its digits in reverse, as some devices send them (common
  practice, no source): it needs a layout of its own.
"""

import re
from functools import lru_cache
from typing import Final

from neckyoke.protocols.readings import Reject, RejectReason, WeightReading
from neckyoke.protocols.scale.status import (
    UNIT_WORDS,
    Meaning,
    Said,
    combine,
    is_printable,
    make_reading,
    numberless,
)

_FRAME: Final = re.compile(rb"([^0-9]*?)([+-]?)[ ]*([0-9]+(?:[.,][0-9]+)?|\.[0-9]+)(?![0-9])\.?([^0-9]*)")
_TOKEN: Final = re.compile(r"[A-Za-z]+|[^A-Za-z]")
_DIGIT: Final = re.compile(rb"[0-9]")
_GLUED_UNIT: Final = re.compile(r"(?:(kgs?|KGS?|Kg|lbs?|LBS?|Lb|g|t)(?![a-z]))?([A-Za-z]*)")
_GLUED_LETTERS: Final = re.compile(r"[GN]M?Z?|M?Z")
_SEPARATORS: Final = frozenset(" \t,;:=|/()[]_")
_FILLERS: Final = frozenset("-+._*^=")
"""What indicators show in place of digits when there are none."""
_THOUSANDS: Final = re.compile(rb"[1-9][0-9]{0,2},[0-9]{3}")
_MOST_DIGITS: Final = 9
_REMEMBERED: Final = 256

_ANYWHERE: Final[dict[str, Meaning]] = {
    word: meaning
    for meaning, words in {
        Meaning.STABLE: "ST S STABLE STB",
        Meaning.MOVING: "US M D UNSTABLE MOTION MOVING DYNAMIC ?",
        Meaning.OVERLOAD: "OL OVER OVERLOAD",
        Meaning.UNDERLOAD: "UL UNDER UNDERLOAD",
        Meaning.ERROR: "E ERR ERROR",
        Meaning.GROSS: "GS G GR GROSS BRUTTO BRUTO",
        Meaning.NET: "NT N NET NETTO NETO",
        Meaning.TARE: "TR T PT TARE TARA",
        Meaning.ZERO: "Z ZERO",
        Meaning.IGNORED: "WT WEIGHT W",
    }.items()
    for word in words.split()
}
_UNITS: Final = {"KG": Meaning.KG, "LB": Meaning.LB, "LBS": Meaning.LB}
_BEFORE: Final = _ANYWHERE | _UNITS | {"U": Meaning.MOVING}
_AFTER: Final = _ANYWHERE | _UNITS | {"U": Meaning.UNDERLOAD, "O": Meaning.OVERLOAD}
KNOWN_WORDS: Final = _ANYWHERE
"""Words, letters and marks whose meaning does not depend on where they stand."""


class FreeForm:
    """Reads frames by the rules above.  Holds nothing but what it remembers of surroundings."""

    def __init__(self) -> None:
        self._known = lru_cache(_REMEMBERED)(_surroundings)

    def decode(self, frame: bytes, unit: str | None = None) -> WeightReading | Reject:
        """Read one frame.  `unit` is taken when the frame names none; kilograms when there is none either."""
        match = _FRAME.fullmatch(frame)
        if match is None:
            return _no_single_number(frame, unit or "kg")
        before, sign, digits, after = match.groups()
        said = self._known(before, after)
        if isinstance(said, RejectReason):
            return Reject.of(said, frame)
        if len(digits) > _MOST_DIGITS:
            return Reject.of(RejectReason.OUT_OF_RANGE, frame)
        if b"," in digits and _is_list(sign, digits, before, after):
            return Reject.of(RejectReason.TWO_NUMBERS, frame)
        text = (sign + digits).decode()
        return make_reading(float(text.replace(",", ".")), text, said.unit or unit or "kg", said, frame)


def _is_list(sign: bytes, digits: bytes, before: bytes, after: bytes) -> bool:
    """Return whether the comma within the digits may part two numbers or thousands, rather than be a decimal comma."""
    fraction = len(digits) - digits.index(b",") - 1
    among_others = b"," in before + after and not (sign and fraction < 3)
    return among_others or fraction > 3 or _THOUSANDS.fullmatch(digits) is not None


def _surroundings(before: bytes, after: bytes) -> Said | RejectReason:
    """Read the words around the number."""
    if not is_printable(before + after):
        return RejectReason.BAD_BYTES
    bracketed = before.rstrip().endswith((b"(", b"[")) or after.lstrip().startswith((b")", b"]"))
    if before.endswith(b".") or after.startswith((b"-", b"+")) or before == b"=" or bracketed:
        return RejectReason.UNKNOWN_STATUS  # they belong to the number in a way we do not know
    meanings = _meanings(_words(before), _BEFORE)
    unit, words = _behind_number(_words(after.replace(b"-", b" ")))
    rest = _meanings(words, _AFTER)
    if meanings is None or rest is None:
        return RejectReason.UNKNOWN_STATUS
    return combine([*meanings, *rest, *unit])


def _words(text: bytes) -> list[str]:
    """Take text apart into runs of letters and single marks, without separators."""
    return [token for token in _TOKEN.findall(text.decode("ascii")) if token not in _SEPARATORS]


def _meanings(words: list[str], known: dict[str, Meaning]) -> list[Meaning] | None:
    """Look every word up; None when one is not known."""
    found = [known.get(word.upper()) for word in words]
    return None if None in found else [meaning for meaning in found if meaning is not None]


def _behind_number(words: list[str]) -> tuple[list[Meaning], list[str]]:
    """Part the unit, and letters written as one word, from the words behind the number."""
    if not words:
        return [], []
    match = _GLUED_UNIT.fullmatch(words[0])
    if match and match[1]:
        return [Meaning(UNIT_WORDS[match[1].lower()])], [*filter(None, [match[2]]), *words[1:]]
    letters = [*words[0]] if _GLUED_LETTERS.fullmatch(words[0]) else [words[0]]
    return [], letters + words[1:]


def _no_single_number(frame: bytes, unit: str) -> WeightReading | Reject:
    """Deal with a frame that has no number or several."""
    if not is_printable(frame):
        return Reject.of(RejectReason.BAD_BYTES, frame)
    if _DIGIT.search(frame):
        return Reject.of(RejectReason.TWO_NUMBERS, frame)
    words = [word for word in _words(frame) if word not in _FILLERS]
    meanings = _meanings(words, _AFTER)
    if meanings is None:
        return Reject.of(RejectReason.NO_NUMBER, frame)
    said = combine(meanings)
    return numberless(said.unit or unit, said, frame)
