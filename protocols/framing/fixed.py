"""Frames of one length without marks."""

from collections.abc import Callable

from neckyoke.protocols.framing.base import CAP, Framing, Piece
from neckyoke.protocols.rejects import Reject, RejectReason


class FixedFramer(Framing):
    """Cuts frames of one length, found by what they are: slips byte by byte until `accept` knows one.

    A frame without marks cannot be told from the middle of two others unless its first byte is found nowhere else in
    it.  Whoever makes this framer has seen to that (`layout_table.check_fixed`).
    """

    def __init__(self, size: int, accept: Callable[[bytes], bool], cap: int = CAP) -> None:
        super().__init__(cap)
        self._size = size
        self._accept = accept

    def _clear(self, *, partial: bool) -> None:
        super()._clear(partial=partial)
        self._slipped = b""

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""
        data = self._pending + data
        out: list[Piece] = []
        at = slipped = 0  # no frame begins in data[slipped:at]
        while len(data) - at >= self._size:
            frame = data[at : at + self._size]
            if not self._accept(frame):
                at += 1
                continue
            self._slip(data[slipped:at], out)
            self._outside(self._slipped, out)
            self._slipped = b""
            self._skipping = self._partial = False
            out.append(frame)
            at += self._size
            slipped = at
        self._slip(data[slipped:at], out)
        self._pending = data[at:]
        return out

    def _slip(self, text: bytes, out: list[Piece]) -> None:
        """Account for bytes in which no frame begins."""
        if self._skipping:
            return
        self._slipped += text
        if len(self._slipped) > self._cap:
            out.append(Reject.of(RejectReason.TOO_LONG, self._slipped))
            self._slipped = b""
            self._skipping = True
