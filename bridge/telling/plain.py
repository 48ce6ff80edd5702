r"""Text that came from a file, a device or a person must not work the terminal it is shown on.

A title, a note or a frame may hold escape sequences that clear lines, move the cursor, set the window's name or ask the
terminal to answer (ECMA-48; xterm's control sequences), and marks that turn the direction of writing around (UAX #9).
While a command runs, whatever it prints to a terminal has them spelled out, as in Python: `\x1b`.  What we ourselves
draw with goes by `drawing`.
"""

import contextlib
import sys
from collections.abc import Iterable, Iterator
from typing import Any, TextIO, cast

_CONTROLS = [*range(0x20), *range(0x7F, 0xA0)]
_TURNS = [0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)]
_SPELLED = {
    code: chr(code).encode("unicode_escape").decode() for code in (*_CONTROLS, *_TURNS) if chr(code) not in "\n\t"
}


def plain(text: str) -> str:
    """Spell out the control characters of a text, but for line ends and tabs."""
    return text.translate(_SPELLED)


class PlainTerminal:
    """A stream to a terminal that takes plain text only."""

    def __init__(self, out: TextIO) -> None:
        self.out = out

    def write(self, text: str) -> int:
        """Write a text, spelled out."""
        self.out.write(plain(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write several."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        """Be the stream otherwise."""
        return getattr(self.out, name)


def drawing(out: TextIO) -> TextIO:
    """Return the stream that takes our own control characters; what is not ours must be `plain` before."""
    return out.out if isinstance(out, PlainTerminal) else out


@contextlib.contextmanager
def plain_terminals() -> Iterator[None]:
    """Let standard output and standard error take plain text only, where they are terminals."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = map(_plain_if_terminal, before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def _plain_if_terminal(out: TextIO) -> TextIO:
    return cast("TextIO", PlainTerminal(out)) if out is not None and out.isatty() else out  # type: ignore[redundant-expr]
