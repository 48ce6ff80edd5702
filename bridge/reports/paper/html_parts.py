"""What all pages of paper are made of.  Whatever is handed over as text is escaped."""

from collections.abc import Iterable, Sequence

from neckyoke.bridge.reports.paper.style import STYLE
from neckyoke.bridge.reports.pictures.svg import escape


def page(title: str, body: str) -> str:
    """Return a whole page that needs nothing beside it; `body` is HTML."""
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{STYLE}</style></head>\n'
        f"<body>\n{body}\n</body></html>\n"
    )


def section(title: str, inner: str, *, keep: bool = False) -> str:
    """Return a part with a heading; `keep` holds it on one page of paper."""
    return f"<section{' class=keep' if keep else ''}><h2>{escape(title)}</h2>{inner}</section>"


def wide(title: str, inner: str) -> str:
    """Let a table be moved on a screen that is too narrow for it, by touch and by keyboard."""
    return f'<div class="wide" role="group" tabindex="0" aria-label="{escape(title)}">{inner}</div>'


def grid(head: Sequence[str], cells: Iterable[Sequence[str]], kind: str = "") -> str:
    """Return a table; the first cell of a row names it."""
    top = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in head)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
        for first, *rest in cells
    )
    named = f' class="{kind}"' if kind else ""
    return f"<table{named}><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def one_place(number: float | None) -> str:
    """Spell kilograms; nothing where there is nothing."""
    return "" if number is None else f"{number:.1f}"


def two_places(number: float | None) -> str:
    """Spell kilograms a day; nothing where there is nothing."""
    return "" if number is None else f"{number:.2f}"
