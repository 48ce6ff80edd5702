"""A layout from a table of the configuration: the way to teach a device that no built-in layout fits.

    [layouts.old-indicator]
    pattern = '(?P<status>[SD]) +(?P<sign>[-+ ])(?P<value>[0-9]{6}) *(?P<unit>kg|lb)'
    tokens  = { stable = ["S"], moving = ["D"] }
    decimals = 1

Keys (all but `pattern` or `like` may be left out):

    pattern   regular expression for one whole frame; groups as in `layout`: value, sign, unit, check, covered,
              gross, net, tare, and any further one for a status
    like      name of a built-in layout to start from, instead of a pattern; the other keys then replace its own
    framing   auto, line, stx-etx, stx-etx:N, fixed:N, block, block:WORD (see `framing`)
    unit      kg, g, t or lb: what a frame without a unit means
    decimals  digits behind a decimal point that is not sent
    tokens    { stable = […], moving = […], overload, underload, error, gross, net, tare, zero, not-zero, ignored }, for
              every status group; or one such table for a group by its name: [layouts.NAME.tokens.status]
    bits      [layouts.NAME.bits.GROUP] with moving = 3 and the like: bit number of each meaning (bit 0 is the lowest),
              and spelled = "byte" (the character's own bits) or "hex" (hexadecimal digits)
    blank_unit  moving: the unit is left blank while the weight moves
    take      gross, net or tare: the number taken from a frame of several
    checksum  { kind = "xor", spelled = "hex" or "byte", low_first, stx, etx }; kinds as in `checks`
    parity    even, odd, mark or space: seven data bits and parity, seen through a port set to eight
"""

import difflib
import re
from collections.abc import Mapping
from typing import Any, Final

from protocols.layout import Layout

KEYS: Final = (
    "pattern", "like", "framing", "unit", "decimals", "tokens", "bits", "blank_unit", "take", "checksum", "parity",
)  # fmt: skip


class LayoutError(ValueError):
    """A layout of the configuration cannot be used.  The message names the key and what would be right."""


def layout_from_table(name: str, table: Mapping[str, object]) -> Layout:
    """Make a layout from its table.  Raises LayoutError."""
    for key in table:
        if key not in KEYS:
            near = difflib.get_close_matches(key, KEYS, 1)
            raise LayoutError(
                f"layouts.{name}.{key}: not known; " + (f"did you mean {near[0]}?" if near else _list(KEYS))
            )
    return Layout(name, re.compile(str(table["pattern"]).encode()))


def _list(names: Any) -> str:
    return "write one of " + ", ".join(names)
