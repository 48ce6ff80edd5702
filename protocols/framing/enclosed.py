"""Frames between STX and ETX."""

import re
from typing import Final

from neckyoke.protocols.framing.base import CAP, ETX, JUNK, STX, Framing, Piece
from neckyoke.protocols.rejects import Reject, RejectReason

_MARK: Final = re.compile(rb"[\x02\x03]")


class EnclosedFramer(Framing):
    """Cuts out what stands between STX and ETX, with `tail` check bytes of any value behind the ETX."""

    def __init__(self, tail: int = 0, cap: int = CAP) -> None:
        self._tail = tail
        super().__init__(cap)

    def _clear(self, *, partial: bool) -> None:
        super()._clear(partial=partial)
        # Pending is what stands outside; then the frame so far; then the frame, its ETX and its tail so far.
        self._state = self._between
        self._missing = 0

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""
        out: list[Piece] = []
        while data:
            data = self._state(data, out)
        return out

    def _between(self, data: bytes, out: list[Piece]) -> bytes:
        text, mark, rest = data.partition(STX)
        if not self._skipping:
            self._pending = (self._pending + text).lstrip(JUNK)
        if mark:
            self._outside(self._pending, out)
            self._begin()
        else:
            self._check(out)
        return rest

    def _inside(self, data: bytes, out: list[Piece]) -> bytes:
        match = _MARK.search(data)
        end = match.start() if match else len(data)
        self._pending += data[:end]
        if self._check(out) or match is None:
            return data[end:]
        if match[0] == STX:
            self._outside(self._pending, out)
            self._begin()
        elif self._tail:
            self._pending += ETX
            self._missing = self._tail
            self._state = self._behind
        else:
            self._emit(out)
        return data[end + 1 :]

    def _behind(self, data: bytes, out: list[Piece]) -> bytes:
        taken = data[: self._missing]
        self._pending += taken
        self._missing -= len(taken)
        if not self._missing:
            self._emit(out)
        return data[len(taken) :]

    def _begin(self) -> None:
        self._pending = b""
        self._skipping = self._partial = False
        self._state = self._inside

    def _emit(self, out: list[Piece]) -> None:
        if self._pending:
            out.append(self._pending)
        self._pending = b""
        self._state = self._between

    def _check(self, out: list[Piece]) -> bool:
        """Return whether the pending bytes went over the cap, and if so give them up."""
        if len(self._pending) <= self._cap:
            return False
        out.append(Reject.of(RejectReason.TOO_LONG, self._pending))
        self._pending = b""
        self._skipping = True
        self._state = self._between
        return True
