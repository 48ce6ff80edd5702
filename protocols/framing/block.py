"""Frames of several lines, such as prints."""

from typing import Final

from neckyoke.protocols.framing.base import CAP, ETX, STX, Framing, PartialFrame, Piece
from neckyoke.protocols.framing.marked import Framer
from neckyoke.protocols.rejects import Reject, RejectReason

_TRIMMED: Final = b"\r" + STX + ETX


class BlockFramer(Framing):
    """Gathers lines (LF or CRLF) into one frame, joined by LF.

    A frame ends with an empty line, a form feed, or the line that begins with `last`.
    """

    def __init__(self, last: bytes = b"", cap: int = CAP) -> None:
        self._lines = Framer(ends=b"\n", start=b"", trim=_TRIMMED, keep_blank=True, cap=cap)
        self._last = last
        super().__init__(cap)

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        super().reset()
        self._lines.reset()

    def _clear(self, *, partial: bool) -> None:
        super()._clear(partial=partial)
        self._block: list[bytes] = []
        self._size = 0

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""
        out: list[Piece] = []
        self._lines_of(data.replace(b"\x0c", b"\n\n"), out)
        return out

    def _lines_of(self, data: bytes, out: list[Piece]) -> None:
        for line in self._lines.feed(data):
            self._line(line, out)

    def _line(self, line: Piece, out: list[Piece]) -> None:
        if isinstance(line, PartialFrame):
            return  # what is left of it may be blank without having been a blank line
        if isinstance(line, Reject):
            self._give_up(line, out)
        elif not line.strip():
            self._close(out)
        elif not self._skipping:
            self._block.append(line)
            self._size += len(line) + 1
            if self._size > self._cap:
                self._give_up(Reject.of(RejectReason.TOO_LONG, b"\n".join(self._block)), out)
        if self._last and isinstance(line, bytes) and line.lstrip().startswith(self._last):
            self._close(out)

    def _give_up(self, reject: Reject, out: list[Piece]) -> None:
        """Reject the block, once, and skip to its end."""
        if not self._skipping:
            out.append(reject)
        self._skipping = True
        self._block.clear()

    def _close(self, out: list[Piece]) -> None:
        if self._block:
            block = b"\n".join(self._block)
            out.append(PartialFrame(block) if self._partial else block)
        self._partial = self._skipping = False
        self._block.clear()
        self._size = 0
