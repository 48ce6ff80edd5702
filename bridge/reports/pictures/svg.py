"""What all pictures are made of: SVG by hand, so that the smallest box can draw and no reader needs anything.

A picture is made for the width of a phone, or of half a printed page: 340 units, text of 12.  Colours only help: what
they say, a filled or a hollow shape says too.  Everything hangs in one group that names its own fill and stroke, so
that no style of the page around it reaches in.  `<title>` and `<desc>` are what a screen reader says.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor, log10
from textwrap import wrap

WIDTH, FONT = 340, 12
LEFT, RIGHT, TOP = 40, 10, 18
INK, QUIET, RULE, PAPER, FILL = "#222", "#555", "#bbb", "#fff", "#4a6f8a"
CHAR = 7.2
"""Width of a character as a rule, to keep texts from running into each other."""


NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""What may stand in no XML document (XML 1.0, section 2.2)."""


def escape(text: str) -> str:
    """Make text safe inside XML and HTML, attributes too."""
    text = NO_XML.sub("\N{REPLACEMENT CHARACTER}", text)
    for char, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;"), ("'", "&#39;")):
        text = text.replace(char, name)
    return text


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: the numbers from `low` to `high` lie from `start` to `end`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, number: float) -> float:
        """Return where a number lies; in the middle where the scale has no length."""
        if self.high == self.low:
            return (self.start + self.end) / 2
        return self.start + (number - self.low) / (self.high - self.low) * (self.end - self.start)


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Return round numbers, at most so many, that lie from the last before `low` to the first after `high`."""
    if high <= low:
        low, high = low - 1, high + 1
    step = 10 ** floor(log10((high - low) / most))
    while ceil(high / step) - floor(low / step) + 1 > most:
        step *= 2.5 if f"{step:e}".startswith("2") else 2
    return [round(place * step, 9) for place in range(floor(low / step), ceil(high / step) + 1)]


def picture(title: str, said: str, parts: Iterable[str], height: float) -> str:
    """Put a picture together: `title` names it, `said` tells in words what it shows."""
    inner = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:g}" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(said)}</desc>\n"
        f'<g fill="{INK}" stroke="none" stroke-width="1" font-family="Liberation Sans, Arial, sans-serif"'
        f' font-size="{FONT}" stroke-linecap="butt">\n'
        f'<rect width="{WIDTH}" height="{height:g}" fill="{PAPER}"/>\n{inner}\n</g></svg>\n'
    )


def nothing(title: str, text: str) -> str:
    """Draw that there is nothing to draw."""
    return picture(title, text, [label(WIDTH / 2, 40, text)], 70)


def label(x: float, y: float, text: str, anchor: str = "middle", fill: str = INK, *, bold: bool = False) -> str:
    """Write a text; `anchor` is start, middle or end."""
    look = f'fill="{fill}" stroke="{PAPER}" stroke-width="3" paint-order="stroke"'  # legible on lines too
    look += ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {look}>{escape(text)}</text>'


def under(y: float, text: str) -> tuple[list[str], float]:
    """Write what stands under a picture; return it and how tall the picture is with it."""
    lines = wrap(text, int((WIDTH - 8) / CHAR))
    return [label(WIDTH / 2, y + 15 * at, one, fill=QUIET) for at, one in enumerate(lines)], y + 15 * len(lines) - 6


def bar(x: float, y: float, wide: float, tall: float, *, hollow: bool = False) -> str:
    """Draw a bar; a hollow one has an outline only, inside its bounds."""
    if hollow:
        x, y, wide, tall = x + 0.75, y + 0.75, wide - 1.5, max(tall - 1.5, 0.5)
    paint = f'fill="{PAPER}" stroke="{INK}" stroke-width="1.5"' if hollow else f'fill="{FILL}"'
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}" {paint}/>'


def line(x1: float, y1: float, x2: float, y2: float, colour: str = RULE, width: float = 1, dash: str = "") -> str:
    """Draw a line; `dash` is as SVG spells it."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width:g}"{dashed}/>'


def dot(x: float, y: float, radius: float = 3, *, hollow: bool = False) -> str:
    """Draw a dot, filled or hollow."""
    paint = f'fill="{PAPER}" stroke="{INK}" stroke-width="1.5"' if hollow else f'fill="{FILL}"'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" {paint}/>'


def joined(points: Iterable[tuple[float, float]], width: float = 2) -> str:
    """Draw a line through points."""
    along = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{along}" fill="none" stroke="{FILL}" stroke-width="{width:g}"/>'


def upright(scale: Scale, marks: Iterable[float], right: float = WIDTH - RIGHT) -> Iterator[str]:
    """Draw the scale at the left: a thin line across and a number at each mark."""
    for mark in marks:
        y = scale.at(mark)
        yield line(LEFT, y, right, y)
        yield label(LEFT - 5, y + 4, f"{mark:g}", "end")


def paragraph(y: float, text: str, x: float = LEFT - 30) -> tuple[list[str], float]:
    """Write a text over as many lines as it needs; return them and where the next one stands."""
    lines = wrap(text, int((WIDTH - x - RIGHT) / CHAR)) or [""]
    return [label(x, y + 16 * at, one, "start") for at, one in enumerate(lines)], y + 16 * len(lines)


def spell_many(count: int, word: str = "animal") -> str:
    """Spell a count: 1 animal, 2 animals."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
