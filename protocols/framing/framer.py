"""A byte stream cut into frames.

How a frame ends is told by `framing`:

    auto        CR, LF, form feed or ETX end a frame, STX begins one; CRLF, LFCR and repeats of them are one end;
                what stands directly behind the ETX of a frame that STX began is its check, and passed over
    line        CR, LF or form feed ends a frame; STX before and ETX after it are dropped, within it they stay
    stx-etx     a frame stands between STX and ETX; `stx-etx:2` keeps two check bytes behind the ETX (frame + ETX + 2)
    fixed:N     N bytes each, no marks: only for layouts whose first byte is found nowhere else in them
    block       several lines, ended by an empty line or a form feed; `block:WORD` ends with the line that begins so

NUL and 0xFF between frames are dropped: idle lines, line breaks and adapters being plugged in make them.

Three promises hold for each of them.  Every byte is looked at once.  A frame longer than the cap costs one TOO_LONG and
no more memory than the cap; what follows is skipped up to the next end.  And a stream joined in its middle is told
apart: after `reset()` the first frame comes as `PartialFrame` unless its start was seen, since `00.0kg` cut from
`+00500.0kg` is a whole frame to every later stage.
"""

from collections.abc import Callable
from typing import Final

from neckyoke.protocols.framing.auto import AutoFramer
from neckyoke.protocols.framing.base import CAP, ETX, JUNK, STX, Framing, PartialFrame, Piece
from neckyoke.protocols.framing.block import BlockFramer
from neckyoke.protocols.framing.enclosed import EnclosedFramer
from neckyoke.protocols.framing.fixed import FixedFramer
from neckyoke.protocols.framing.marked import Framer

__all__ = [
    "CAP",
    "ETX",
    "JUNK",
    "STX",
    "BlockFramer",
    "EnclosedFramer",
    "FixedFramer",
    "Framer",
    "Framing",
    "LayoutError",
    "PartialFrame",
    "Piece",
    "make_framer",
]

FRAMINGS: Final = "auto, line, stx-etx, stx-etx:N, fixed:N, block or block:WORD"


class LayoutError(ValueError):
    """A layout or framing of the configuration cannot be used.  The message names the key and what would be right."""


def make_framer(framing: str, accept: Callable[[bytes], bool] = lambda _: False, cap: int = CAP) -> Framing:
    """Make the framer the configuration names.  Raises LayoutError that says what there is."""
    kind, _, argument = framing.partition(":")
    size = int(argument) if argument.isdecimal() else 0
    if framing == "auto":
        return AutoFramer(cap=cap)
    if framing == "line":
        return Framer(ends=b"\r\n\x0c", start=b"", trim=STX + ETX, cap=cap)
    if framing == "stx-etx" or (kind == "stx-etx" and 1 <= size <= 8):
        return EnclosedFramer(size, cap=cap)
    if kind == "fixed" and 2 <= size <= CAP:
        return FixedFramer(size, accept, cap=cap)
    if framing == "block" or (kind == "block" and argument):
        return BlockFramer(argument.encode(), cap=cap)
    raise LayoutError(f"framing {framing!r} is not known; write one of {FRAMINGS}")
