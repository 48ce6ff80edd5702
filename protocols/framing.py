"""A byte stream cut into frames.

How a frame ends is told by `framing`:

    auto        CR, LF, form feed or ETX end a frame, STX begins one; CRLF, LFCR and repeats of them are one end
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

import re
from collections.abc import Callable
from typing import Final, Protocol, TypeAlias

from protocols.rejects import Reject, RejectReason

CAP: Final = 512
"""Most bytes an unfinished frame may have.  The longest real ones are prints of several lines and 128 spelled bits."""

STX: Final = b"\x02"
ETX: Final = b"\x03"
JUNK: Final = b"\x00\xff"
"""What is dropped between frames."""
BLANK: Final = JUNK + b" \t\r\n\x03"
"""What may stand outside frames without anything being lost."""

_SPACE: Final = b" \t"

FRAMINGS: Final = "auto, line, stx-etx, stx-etx:N, fixed:N, block or block:WORD"

Piece: TypeAlias = bytes | Reject


class PartialFrame(bytes):
    """The first frame of a stream joined in its middle: its beginning may be missing."""

    __slots__ = ()


class LayoutError(ValueError):
    """A layout or framing of the configuration cannot be used.  The message names the key and what would be right."""


class Framing(Protocol):
    """What every framer does."""

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; give the frames they end and the rejects they prove, in order."""

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""


class Framer:
    """Cuts at marks: the `auto` framing, and `line`.  A fresh one trusts its first frame."""

    def __init__(
        self,
        ends: bytes = b"\r\n\x0c\x03",
        start: bytes = STX,
        trim: bytes = b"",
        *,
        keep_blank: bool = False,
        cap: int = CAP,
    ) -> None:
        self._start_mark = start
        self._trim = JUNK + trim
        self._keep_blank = keep_blank
        self._cap = cap
        self._pending = b""
        self._skipping = False
        self._partial = False
        self._table = bytes(0x0A if byte in ends else byte for byte in range(256))

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        self._pending = b""
        self._skipping = False
        self._partial = True

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; give the frames they end and the rejects they prove, in order."""
        if not (self._skipping or self._partial or self._keep_blank):
            head, end, rest = (self._pending + data.translate(self._table)).rpartition(b"\n")
            frames = self._plain(head) if end else None
            if frames is not None:
                self._pending = b""
                self._wait(rest, frames)
                return frames
        *parts, rest = data.translate(self._table).split(b"\n")
        out: list[Piece] = []
        if parts:
            parts[0] = self._pending + parts[0]
            self._pending = b""
            for part in parts:
                self._end(part, out)
        self._wait(rest, out)
        return out

    def _plain(self, head: bytes) -> list[Piece] | None:
        """Cut bytes all at once in which nothing needs a second look: no junk, nothing outside frames, none too long.

        What `_end` does frame by frame, done by a few passes of the C library over the whole; None when it cannot.
        """
        if len(head.translate(None, self._trim)) != len(head):
            return None
        mark = self._start_mark
        if mark and mark in head:
            if head.count(mark) != head.count(b"\n" + mark) + head.startswith(mark):
                return None
            head = head.translate(None, mark)
        frames: list[Piece] = list(filter(None, head.replace(b"\n\n", b"\n").split(b"\n")))
        if max(map(len, frames), default=0) > self._cap:  # type: ignore[arg-type]  # all bytes here
            return None
        blank_is_possible = b" \n" in head or b"\t\n" in head or head.endswith((b" ", b"\t"))
        return [frame for frame in frames if frame.strip(_SPACE)] if blank_is_possible else frames  # type: ignore[union-attr]

    def _end(self, part: bytes, out: list[Piece]) -> None:
        """Deal with a frame whose end was seen."""
        if self._start_mark and self._start_mark in part:
            part = self._start(part, out)
        part = part.lstrip(self._trim)
        if self._skipping:
            self._skipping = False
        elif len(part) > self._cap:
            out.append(Reject.of(RejectReason.TOO_LONG, part))
        elif ((part := part.rstrip(self._trim)) and part.strip(_SPACE)) or self._keep_blank:
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
            outside(piece, out, cap=self._cap, silent=self._skipping, partial=self._partial)
            self._skipping = self._partial = False
        return part


class EnclosedFramer:
    """Cuts out what stands between STX and ETX, with `tail` check bytes of any value behind the ETX."""

    def __init__(self, tail: int = 0, cap: int = CAP) -> None:
        self._tail = tail
        self._cap = cap
        self._pending = b""  # before STX: what stands outside; then the frame; then the frame, ETX and the tail so far
        self._state = self._outside
        self._skipping = False
        self._partial = False

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        self._pending = b""
        self._state = self._outside
        self._skipping = False
        self._partial = True

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; give the frames they end and the rejects they prove, in order."""
        out: list[Piece] = []
        if not (self._tail or self._skipping or self._partial):
            data = self._plain(data, out)
        while data:
            data = self._state(data, out)
        return out

    def _plain(self, data: bytes, out: list[Piece]) -> bytes:
        """Cut all at once what is nothing but whole frames; give what is left to be cut with care."""
        inside = self._state == self._inside
        head, mark, rest = ((STX if inside else b"") + self._pending + data).rpartition(ETX)
        count = head.count(STX)
        if not mark or not head.startswith(STX) or count != head.count(ETX + STX) + 1 or count != head.count(ETX) + 1:
            return data
        frames = head.translate(None, STX).split(ETX)
        if max(map(len, frames)) > self._cap:
            return data
        out += filter(None, frames)
        self._pending = b""
        self._state = self._outside
        return rest

    def _outside(self, data: bytes, out: list[Piece]) -> bytes:
        text, mark, rest = data.partition(STX)
        if not self._skipping:
            self._pending = (self._pending + text).lstrip(JUNK)
        if mark:
            outside(self._pending, out, cap=self._cap, silent=self._skipping, partial=self._partial)
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
            outside(self._pending, out, cap=self._cap)
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
        self._state = self._outside

    def _check(self, out: list[Piece]) -> bool:
        """Say whether the pending bytes went over the cap, and if so give them up."""
        if len(self._pending) <= self._cap:
            return False
        out.append(Reject.of(RejectReason.TOO_LONG, self._pending))
        self._pending = b""
        self._skipping = True
        self._state = self._outside
        return True


_MARK: Final = re.compile(rb"[\x02\x03]")


class FixedFramer:
    """Cuts frames of one length, found by what they are: slips byte by byte until `accept` knows one.

    A frame without marks cannot be told from the middle of two others unless its first byte is found nowhere else in
    it.  Whoever makes this framer has seen to that (`layout_table.check_fixed`).
    """

    def __init__(self, size: int, accept: Callable[[bytes], bool], cap: int = CAP) -> None:
        self._size = size
        self._accept = accept
        self._cap = cap
        self._pending = b""
        self._slipped = b""
        self._skipping = False
        self._partial = False

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        self._pending = self._slipped = b""
        self._skipping = False
        self._partial = True

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; give the frames they end and the rejects they prove, in order."""
        data = self._pending + data
        out: list[Piece] = []
        at = 0
        while len(data) - at >= self._size:
            frame = data[at : at + self._size]
            if self._accept(frame):
                outside(self._slipped, out, cap=self._cap, silent=self._skipping, partial=self._partial)
                self._slipped = b""
                self._skipping = self._partial = False
                out.append(frame)
                at += self._size
                continue
            at += 1
            if not self._skipping:
                self._slipped += frame[:1]
                if len(self._slipped) > self._cap:
                    out.append(Reject.of(RejectReason.TOO_LONG, self._slipped))
                    self._slipped = b""
                    self._skipping = True
        self._pending = data[at:]
        return out


class BlockFramer:
    """Gathers lines (LF or CRLF) into one frame, joined by LF.

    A frame ends with an empty line, a form feed, or the line that begins with `last`.
    """

    def __init__(self, last: bytes = b"", cap: int = CAP) -> None:
        self._lines = Framer(ends=b"\n", start=b"", trim=b"\r" + STX + ETX, keep_blank=True, cap=cap)
        self._last = last
        self._cap = cap
        self._block: list[bytes] = []
        self._size = 0
        self._skipping = False
        self._partial = False

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        self._lines.reset()
        self._block.clear()
        self._size = 0
        self._skipping = False
        self._partial = True

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; give the frames they end and the rejects they prove, in order."""
        out: list[Piece] = []
        for line in self._lines.feed(data.replace(b"\x0c", b"\n\n")):
            self._line(line, out)
        return out

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


def outside(text: bytes, out: list[Piece], *, cap: int = CAP, silent: bool = False, partial: bool = False) -> None:
    """Account for bytes that a start mark found outside any frame: too long, cut, or nothing at all."""
    lost = text.lstrip(JUNK)
    if silent:
        return
    if len(lost) > cap:
        out.append(Reject.of(RejectReason.TOO_LONG, lost))
    elif not partial and (lost := lost.strip(BLANK)):
        out.append(Reject.of(RejectReason.CUT, lost))


def make_framer(framing: str, accept: Callable[[bytes], bool] = lambda _: False, cap: int = CAP) -> Framing:
    """Make the framer the configuration names.  Raises LayoutError that says what there is."""
    kind, _, argument = framing.partition(":")
    size = int(argument) if argument.isdecimal() else 0
    if framing == "auto":
        return Framer(cap=cap)
    if framing == "line":
        return Framer(ends=b"\r\n\x0c", start=b"", trim=STX + ETX, cap=cap)
    if framing == "stx-etx" or (kind == "stx-etx" and 1 <= size <= 8):
        return EnclosedFramer(size, cap=cap)
    if kind == "fixed" and 2 <= size <= CAP:
        return FixedFramer(size, accept, cap=cap)
    if framing == "block" or (kind == "block" and argument):
        return BlockFramer(argument.encode(), cap=cap)
    raise LayoutError(f"framing {framing!r} is not known; write one of {FRAMINGS}")
