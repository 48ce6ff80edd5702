"""Frames told by marks: an end (CR, LF, form feed, ETX), and perhaps a start (STX)."""

from neckyoke.protocols.framing.base import CAP, JUNK, SPACE, STX, Framing, PartialFrame, Piece
from neckyoke.protocols.rejects import Reject, RejectReason


class Framer(Framing):
    """Cuts at marks: the `auto` framing, and `line`."""

    def __init__(
        self,
        ends: bytes = b"\r\n\x0c\x03",
        start: bytes = STX,
        trim: bytes = b"",
        *,
        keep_blank: bool = False,
        cap: int = CAP,
    ) -> None:
        super().__init__(cap)
        self._start_mark = start
        self._trim = JUNK + trim
        self._keep_blank = keep_blank
        self._table = bytes(0x0A if byte in ends else byte for byte in range(256))

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""
        head, end, rest = data.translate(self._table).rpartition(b"\n")
        out: list[Piece] = []
        if end:
            head = self._pending + head
            self._pending = b""
            for part in head.split(b"\n"):
                self._end(part, out)
        self._wait(rest, out)
        return out

    def _end(self, part: bytes, out: list[Piece]) -> None:
        """Deal with a frame whose end was seen."""
        if self._start_mark and self._start_mark in part:
            part = self._start(part, out)
        part = part.lstrip(self._trim)
        if self._skipping:
            self._skipping = False
        elif len(part) > self._cap:
            out.append(Reject.of(RejectReason.TOO_LONG, part))
        elif ((part := part.rstrip(self._trim)) and part.strip(SPACE)) or self._keep_blank:
            out.append(PartialFrame(part) if self._partial else part)
        self._partial = False

    def _wait(self, part: bytes, out: list[Piece]) -> None:
        """Deal with the bytes of a frame whose end is still to come."""
        if self._start_mark and self._start_mark in part:
            part = self._start(self._pending + part, out)
            self._pending = b""
        if self._skipping:
            return
        self._pending = (self._pending + part).lstrip(self._trim)
        if len(self._pending) > self._cap:
            out.append(Reject.of(RejectReason.TOO_LONG, self._pending))
            self._pending = b""
            self._skipping = True

    def _start(self, part: bytes, out: list[Piece]) -> bytes:
        """Deal with start marks: what stood before one was cut, unless it began before we listened."""
        *pieces, part = part.split(self._start_mark)
        for piece in pieces:
            self._outside(piece, out)
            self._skipping = self._partial = False
        return part
