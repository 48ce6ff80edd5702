"""Pages of reference written by hand, beside those made from the code: Markdown files that ship with the package.

A page is kept in Markdown so that a test finds its blocks and runs them; on a terminal a block is set in instead.
"""

import re
from pathlib import Path

FOLDER = Path(__file__).parent / "pages"
BLOCK = re.compile(r"(?:<!--[^\n]*-->\n)?```[a-z]*\n(?P<text>.*?)```\n", re.DOTALL)


def text_of(page: str) -> str:
    """Return a page as it is kept; empty when there is none of that name."""
    path = FOLDER / f"{page}.md"
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def for_reading(markdown: str) -> str:
    """Return a page as a terminal shows it: blocks set in by two, no fences, no marks of a test."""
    return BLOCK.sub(lambda found: re.sub(r"^(?=.)", "  ", found["text"], flags=re.MULTILINE), markdown)


def example_of(page: str) -> str:
    """Return the TOML of a page; empty when it has none."""
    found = re.search(r"```toml\n(.*?)```", text_of(page), re.DOTALL)
    return found[1] if found else ""
