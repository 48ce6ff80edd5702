"""The frame of common reader modules: the code as hexadecimal digits, lowest digit first, with a check.

    STX  nnnnnnnnnn  cccc  d  a  rrrr  uuuuuu  check  ~check  ETX
         national    country  |  |  reserved   user
                     data block  animal

The digits of a number stand in reverse, so that 112233 = 1B669 hex is `966B100000`; `d` and `a` are 0 or 1; `check` is
the XOR of the 26 digits as characters and the byte behind it its complement.  Common practice, no source; `rrrr` and
`uuuuuu` are not looked at.

The two check bytes can have any value, also that of CR, LF, STX, ETX, NUL and 0xFF, so this frame must be known before
the stream is cut at marks: `ModuleFramer` does that, and leaves all else to the usual framer within it.
"""

import re
from typing import Final

from neckyoke.protocols.checksums import xor
from neckyoke.protocols.framing.framer import Framer, Framing, Piece
from neckyoke.protocols.readings import Reject, RejectReason, TagRead
from neckyoke.protocols.tagcode import COUNTRY_MAX, NATIONAL_MAX, TagCode

_FRAME: Final = re.compile(rb"\x02([0-9A-Fa-f]{26})(.)(.)\x03", re.DOTALL)
_BEGUN: Final = re.compile(rb"\x02(?:[0-9A-Fa-f]{0,26}|[0-9A-Fa-f]{26}.{1,2})\Z", re.DOTALL)


class ModuleFramer(Framing):
    """Takes module frames out of a stream whole, STX to ETX, and cuts the rest at marks."""

    def __init__(self) -> None:
        self._inner = Framer()
        super().__init__()

    def reset(self) -> None:
        """Forget what is pending: the link was opened anew, and the next bytes may begin in mid-frame."""
        super().reset()
        self._inner.reset()

    def feed(self, data: bytes) -> list[Piece]:
        """Take the next bytes; return the frames they end and the rejects they prove, in order."""
        if self._pending:
            data = self._pending + data
            self._pending = b""
        if b"\x02" not in data:
            return self._inner.feed(data)
        out: list[Piece] = []
        done = 0
        for match in _FRAME.finditer(data):
            if match[2][0] ^ match[3][0] == 0xFF:
                out += self._inner.feed(data[done : match.start()] + b"\x02\x03")
                out.append(match[0])
                done = match.end()
        begun = _BEGUN.search(data, done)
        if begun:
            self._pending = begun[0]
        out += self._inner.feed(data[done : begun.start() if begun else len(data)])
        return out


def decode_module(frame: bytes) -> TagRead | Reject | None:
    """Read one module frame, STX to ETX; None when it is none."""
    match = _FRAME.fullmatch(frame)
    if match is None or match[2][0] ^ match[3][0] != 0xFF:
        return None
    if xor(match[1]) != match[2][0]:
        return Reject.of(RejectReason.BAD_CHECKSUM, frame)
    digits = match[1].decode("ascii")
    national, country = int(digits[9::-1], 16), int(digits[13:9:-1], 16)
    block, animal = digits[14], digits[15]
    if national > NATIONAL_MAX or country > COUNTRY_MAX:
        return Reject.of(RejectReason.OUT_OF_RANGE, frame)
    if {block, animal} - {"0", "1"}:
        return Reject.of(RejectReason.WRONG_SHAPE, frame)
    return TagRead(TagCode(country, national, animal=animal == "1", data_block=block == "1"))
