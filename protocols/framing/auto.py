"""The `auto` framing: frames told by marks, and no frame made of the check that some devices send behind them.

    STX 412.5kg ETX 5 3 CR LF        one frame, `412.5kg`; the `53` proves it to whoever knows how, and is no weight

What stands directly behind the ETX of a frame that STX began belongs to that frame, up to the next mark (common
practice, no source).
"""

import re
from typing import Final

from neckyoke.protocols.framing.base import ETX, STX, Piece
from neckyoke.protocols.framing.marked import Framer

_MARK: Final = re.compile(rb"([\x02\x03\r\n\x0c])")


class AutoFramer(Framer):
    """Cuts at marks, and passes over checks."""

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""
        if self._begun or self._behind or STX in data:
            data = self._without_checks(data)
        return super().feed(data)

    def _clear(self, *, partial: bool) -> None:
        super()._clear(partial=partial)
        self._begun = False  # by STX
        self._behind = False  # the ETX of a frame that STX began

    def _without_checks(self, data: bytes) -> bytes:
        pieces = _MARK.split(data)
        for at, piece in enumerate(pieces):
            if at % 2:
                self._behind = piece == ETX and self._begun
                self._begun = piece == STX
            elif self._behind:
                pieces[at] = b""
        return b"".join(pieces)
