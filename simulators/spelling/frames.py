"""How an indicator spells what it shows: one function a shape of frame, one `Style` for what varies within a shape.

    words    ST,GS,+00318.5kg CR LF            two-letter status and mode, sign, padded number, unit
    letter   STX sign weight(7) status ETX     one status letter: gross, net, under, over, motion, error
    letters  STX sign weight(7) G M Z - kg  ETX  four status letters, then the unit, blank while moving
    mark     "     318.5 kg ?" CR LF           right-justified number, `?` while moving
    nibbles  "  318.5 0103" CR LF              number, then four hex digits of status bits
    lines    "318.5" CR LF                     the number and nothing else
    united   "318.5 kg" CR LF                  the number and its unit

`letter` and `letters` follow a table in the open literature (Sensors 10, 2010, Table 1); the others are general
conventions seen only as excerpts.  A display over range sends dashes where the number was (`OL` where there is nothing
but a number); one that blanks its number while moving sends spaces.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Protocol

STX, ETX = b"\x02", b"\x03"

PER_KG = {"kg": 1.0, "g": 1000.0, "t": 0.001, "lb": 1 / 0.45359237}  # the pound is exact by definition


class Shown(Protocol):
    """What the display shows at one moment: all that a frame can tell.  See `indicator.Shown`."""

    @property
    def kg(self) -> float | None:
        """Shown weight, None when there is none to show."""

    @property
    def stable(self) -> bool:
        """Whether the indicator calls it stable."""

    @property
    def overload(self) -> bool:
        """Whether the load is more than the indicator shows."""


@dataclass(frozen=True, slots=True)
class Style:
    """What varies within a shape.

    `unit` as sent; `decimals` after the point; `comma` for the point; `implied` leaves the point out and the digits
    stand; `check` appends two hex digits over all bytes before them (`xor`, or `sum` modulo 256).
    """

    unit: str = "kg"
    decimals: int = 1
    comma: bool = False
    implied: bool = False
    check: str = ""
    end: bytes = b"\r\n"

    def number(self, kg: float) -> str:
        """Spell the size of a weight, without its sign."""
        text = f"{abs(kg) * PER_KG[self.unit]:.{self.decimals}f}"
        if self.implied:
            return text.replace(".", "")
        return text.replace(".", ",") if self.comma else text

    def blank(self, shown: Shown, width: int = 7) -> str:
        """Spell a display without a number."""
        return ("-" if shown.overload else " ") * width

    def minus(self, kg: float) -> bool:
        """Return whether the spelt number is below zero; a display shows no negative zero."""
        return round(kg * PER_KG[self.unit], self.decimals) < 0

    def sealed(self, body: bytes, end: bytes) -> bytes:
        """Append the check and the end."""
        if self.check == "xor":
            body += f"{reduce(xor, body):02X}".encode()
        elif self.check == "sum":
            body += f"{sum(body) & 0xFF:02X}".encode()
        return body + end


PLAIN = Style()


def words(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell a two-letter status and mode, then the number with its sign and unit."""
    status = "OL" if shown.overload else "ST" if shown.stable else "US"
    sign = "-" if shown.kg is not None and style.minus(shown.kg) else "+"
    number = style.blank(shown) if shown.kg is None else style.number(shown.kg).rjust(7, "0")
    return style.sealed(f"{status},GS,{sign}{number}{style.unit}".encode(), style.end)


def _signed(shown: Shown, style: Style) -> str:
    """Sign and seven places, leading zeros blank."""
    if shown.kg is None:
        return " " + style.blank(shown)
    return ("-" if style.minus(shown.kg) else " ") + style.number(shown.kg).rjust(7)


def letter(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell sign, seven places and one status letter between STX and ETX."""
    status = "O" if shown.overload else "G" if shown.stable else "M"
    return style.sealed(STX + (_signed(shown, style) + status).encode(), ETX)


def letters(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell sign, seven places, four status letters and the unit between STX and ETX; the unit is blank in motion."""
    at_zero = shown.kg is not None and float(f"{shown.kg:.{style.decimals}f}") == 0
    status = ("O" if shown.overload else "G") + (" " if shown.stable else "M") + ("Z" if at_zero else " ") + "-"
    unit = style.unit if shown.stable else ""
    return style.sealed(STX + f"{_signed(shown, style)}{status}{unit:>3}".encode(), ETX)


def mark(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell a right-justified number, its unit, and `?` while moving."""
    number = style.blank(shown) if shown.kg is None else _plain(shown.kg, style)
    return style.sealed(f"{number:>10} {style.unit} {' ' if shown.stable else '?'}".encode(), style.end)


def nibbles(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell the number and four hex digits: motion in bit 0 of the last, overload in bit 0 of the one before it."""
    sign = "-" if shown.kg is not None and style.minus(shown.kg) else " "
    number = style.blank(shown) if shown.kg is None else style.number(shown.kg).rjust(7)
    return style.sealed(f"{sign}{number} 00{shown.overload:d}{not shown.stable:d}".encode(), style.end)


def _plain(kg: float, style: Style) -> str:
    """Spell a number as short as it is."""
    return ("-" if style.minus(kg) else "") + style.number(kg)


def _number_alone(shown: Shown, style: Style) -> str:
    if shown.kg is None:
        return "OL" if shown.overload else style.blank(shown)
    return _plain(shown.kg, style)


def lines(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell the number alone."""
    return style.sealed(_number_alone(shown, style).encode(), style.end)


def united(shown: Shown, style: Style = PLAIN) -> bytes:
    """Spell the number and its unit."""
    return style.sealed(f"{_number_alone(shown, style)} {style.unit}".encode(), style.end)


SHAPES: dict[str, Callable[[Shown, Style], bytes]] = {
    "words": words,
    "letter": letter,
    "letters": letters,
    "mark": mark,
    "nibbles": nibbles,
    "lines": lines,
    "united": united,
}
"""Every shape by its name."""
