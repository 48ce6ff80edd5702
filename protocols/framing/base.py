"""What all framers share: the bytes that mean something to them, and what they must remember."""

from abc import ABC, abstractmethod
from typing import Final, TypeAlias

from neckyoke.protocols.rejects import Reject, RejectReason

CAP: Final = 512
"""Most bytes an unfinished frame may have.  The longest real ones are prints of several lines and 128 spelled bits."""

STX: Final = b"\x02"
ETX: Final = b"\x03"
JUNK: Final = b"\x00\xff"
"""What is dropped between frames."""
SPACE: Final = b" \t"
BLANK: Final = JUNK + SPACE + b"\r\n" + ETX
"""What may stand outside frames without anything being lost."""

Piece: TypeAlias = bytes | Reject


class PartialFrame(bytes):
    """The first frame of a stream joined in its middle: its beginning may be missing."""

    __slots__ = ()


class Framing(ABC):
    """Cuts a stream into frames.  A fresh one trusts its first frame; after `reset()` it is marked unless it began."""

    def __init__(self, cap: int = CAP) -> None:
        self._cap = cap
        self._clear(partial=False)

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        self._clear(partial=True)

    @abstractmethod
    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""

    def _clear(self, *, partial: bool) -> None:
        self._pending = b""
        self._skipping = False  # what comes up to the next end or start belongs to a frame that was given up
        self._partial = partial  # the start of the frame that is coming was not seen

    def _outside(self, text: bytes, out: list[Piece]) -> None:
        """Account for bytes that a start mark found outside any frame: too long, cut, or nothing at all."""
        lost = text.lstrip(JUNK)
        if self._skipping:
            return
        if len(lost) > self._cap:
            out.append(Reject.of(RejectReason.TOO_LONG, lost))
        elif not self._partial and (lost := lost.strip(BLANK)):
            out.append(Reject.of(RejectReason.CUT, lost))
