"""The built-in layouts, named by their shape.

Each carries in `source` how far it can be trusted.  Two come from open literature; the others are shapes of the trade,
and a user's own table (`layout_table`) describes any further one.

    sign-weight-status     STX [ -] ppppppp c ETX             c one of G N U O M E
    sign-weight-flags      STX [ -] ppppppp c c c c uuu ETX   the unit is blank while moving
    status-mode-weight     ST,GS,+00412.5kg
    weight-unit-mark       `   412.5 kg ?`                    ? while moving, blank when stable
    weight-nibbles         `+00412.5 kg 0004`                 four hexadecimal digits of status, not interpreted
    status-weight          `S   411.5 kg`
    weight-unit-letter     `  318.5 kg G`
    weight-unit            `  318.5 kg`
    weight                 `-0012.5`
    gross-tare-net         `G+00412.5kg,T+00010.0kg,N+00402.5kg`
    print-block            GROSS 412.5 kg / TARE 10.0 kg / NET 402.5 kg, on lines of their own, then an empty line
    weight-xor, weight-sum, weight-crc    `+00412.5kg*5A`, with the check of all before the star
"""

import re
from collections.abc import Mapping
from typing import Final

from neckyoke.protocols.framing.framer import LayoutError
from neckyoke.protocols.scale import table as layout_table
from neckyoke.protocols.scale.layout import COMMON, Checksum, Layout
from neckyoke.protocols.scale.status import Meaning

__all__ = ["BUILT_IN", "Layout", "LayoutError", "find_layout", "layout_from_table"]

_SENSORS: Final = "Sensors 10 (2010), table 1 (doi of PMC3230975); the table was read, the article was not"
_MANUALS: Final = "a shape shared by manuals of general indicators; seen in excerpts only"

_NUMBER: Final = rb"[0-9]{1,8}(?:,[0-9]{3})*(?:[.,][0-9]{1,6})?"
_UNIT: Final = rb"(?P<unit>kg|KG|Kg|lbs?|LBS?|g|t)"
_OWN: Final = rb"(?:[+-] *)?" + _NUMBER  # behind a name and its spaces; these are not counted twice
_SIGNED: Final = rb"(?P<sign>[+-]?) *(?P<value>" + _NUMBER + rb")"


def _layout(
    name: str,
    pattern: bytes,
    tokens: Mapping[str, Mapping[str, str]] | None = None,
    *,
    framing: str = "auto",
    blank_unit: Meaning = Meaning.IGNORED,
    checksum: Checksum | None = None,
    source: str = COMMON,
) -> Layout:
    """Make a built-in layout.  `tokens` maps group -> text -> meaning."""
    table = {
        group: {text.encode(): Meaning(meaning) for text, meaning in texts.items()}
        for group, texts in (tokens or {}).items()
    }
    return Layout(
        name,
        re.compile(pattern),
        table,
        framing=framing,
        blank_unit=blank_unit,
        checksum=checksum,
        source=source,
    )


_SEVEN: Final = rb"(?P<sign>[ -])(?P<value>[ 0-9.,]{7}|-{7})"
_LETTERS: Final = {"G": "gross", "N": "net", "U": "underload", "O": "overload", "E": "error"}
_MODES: Final = {"GS": "gross", "NT": "net", "TR": "tare"}
_WORDS: Final = {"ST": "stable", "US": "moving", "OL": "overload", "UL": "underload", "ER": "error"}
_CHECKED: Final = rb"(?P<covered>" + _SIGNED + rb" *" + _UNIT + rb")\*(?P<check>"


def _line_of(mode: bytes, words: bytes) -> bytes:
    """Spell one line of a print: a word, a number, a unit."""
    return rb"(?i:" + words + rb")[ :.=]*(?P<" + mode + rb">" + _OWN + rb") *"


BUILT_IN: Final[dict[str, Layout]] = {
    layout.name: layout
    for layout in (
        _layout(
            "sign-weight-status",
            _SEVEN + rb"(?P<status>[GNUOME])",
            {"status": {**_LETTERS, "M": "moving"}},
            framing="stx-etx",
            source=_SENSORS,
        ),
        _layout(
            "sign-weight-flags",
            _SEVEN + rb"(?P<kind>[GNUOE])(?P<motion>[M ])(?P<zero>[Z ])-(?P<unit>[a-zA-Z ]{3})",
            {
                "kind": _LETTERS,
                "motion": {"M": "moving", " ": "stable"},
                "zero": {"Z": "zero", " ": "not-zero"},
            },
            framing="stx-etx",
            source=_SENSORS,
        ),
        _layout(
            "status-mode-weight",
            rb"(?P<status>ST|US|OL|UL|ER),(?P<mode>GS|NT|TR),(?:" + _SIGNED + rb"|[+-]? *-{5,8}) *" + _UNIT,
            {"status": _WORDS, "mode": _MODES},
            source=_MANUALS,
        ),
        _layout(
            "weight-unit-mark",
            rb" *" + _SIGNED + rb" +" + _UNIT + rb" (?P<status>[ ?])",
            {"status": {"?": "moving", " ": "stable"}},
            source="one manual of general laboratory balances; seen in excerpts only",
        ),
        _layout(
            "weight-nibbles",
            rb" *" + _SIGNED + rb" *" + _UNIT + rb" *[ ,][0-9A-F]{4}",
            source="one manual of a general indicator; which bit says what differs, so none is read here",
        ),
        _layout(
            "status-weight",
            rb"(?P<status>[SUMDO]) +" + _SIGNED + rb" *" + _UNIT,
            {"status": {"S": "stable", "U": "moving", "M": "moving", "D": "moving", "O": "overload"}},
        ),
        _layout(
            "weight-unit-letter",
            rb" *" + _SIGNED + rb" *" + _UNIT + rb" +(?P<status>[GNMOUE])",
            {"status": {**_LETTERS, "M": "moving"}},
        ),
        _layout("weight-unit", rb" *" + _SIGNED + rb" *" + _UNIT),
        _layout("weight", rb" *" + _SIGNED),
        _layout(
            "gross-tare-net",
            rb"[ ,;]*".join(
                (
                    _line_of(b"gross", b"GROSS|GS|G") + _UNIT,
                    _line_of(b"tare", b"TARE|TR|T") + rb"(?i:kg|lb|g|t)",
                    _line_of(b"net", b"NET|NT|N") + rb"(?i:kg|lb|g|t) *",
                )
            ),
        ),
        _layout(
            "print-block",
            rb"(?s:.*?)"
            + _line_of(b"gross", b"GROSS|GS|G")
            + _UNIT
            + rb"\s*"
            + _line_of(b"tare", b"TARE|TR|T|PT")
            + rb"(?i:kg|lb|g|t)\s*"
            + _line_of(b"net", b"NET|NT|N")
            + rb"(?i:kg|lb|g|t)(?s:\s.*)?",
            framing="block",
        ),
        _layout("weight-xor", _CHECKED + rb"[0-9A-F]{2})", checksum=Checksum("xor")),
        _layout("weight-sum", _CHECKED + rb"[0-9A-F]{2})", checksum=Checksum("sum")),
        _layout("weight-crc", _CHECKED + rb"[0-9A-F]{4})", checksum=Checksum("crc16-kermit")),
    )
}


def layout_from_table(name: str, table: Mapping[str, object]) -> Layout:
    """Make a layout from its table of the configuration.  Raises LayoutError that names the key and the remedy."""
    return layout_table.layout_from_table(name, table, BUILT_IN)


def find_layout(name: str, own: Mapping[str, Layout]) -> Layout:
    """Find a layout among the user's own and the built-in ones.  Raises LayoutError that says which there are."""
    layout = own.get(name) or BUILT_IN.get(name)
    if layout is None:
        raise LayoutError(f"there is no layout {name!r}; there are auto, gatt-weight, {', '.join([*own, *BUILT_IN])}")
    return layout
