"""A check that goes with each frame: found by computing the usual ones over frames whose last bytes look like one.

It stands behind the ETX, or at the end of the frame, perhaps behind a mark.  What it covers may begin with the STX and
end with the ETX.  Which of all that holds is tried out on the frames that came most often, since damage comes once.  A
check that none of the usual ones gives is still cut off, so that its digits are not taken for a status.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Final

from neckyoke.protocols.checksums import CHECKS
from neckyoke.protocols.recognition.doubts import Doubt
from neckyoke.protocols.recognition.drafting.sketch import ALIKE, LEAST_FRAMES, Draft
from neckyoke.protocols.scale.layout import Checksum

PAIRS: Final = 40
"""Frames that are tried, the commonest."""
LEAST_PAIRS: Final = 8
PROVEN: Final = 0.3
"""Share of them that a check must prove, and five at least; by chance it is one in 256."""
LEAST_PROVEN: Final = 5
MOST: Final = 8
"""Characters that a check has at most."""
CODES: Final = 12
"""Different texts from which on two hexadecimal digits are taken for a check."""

_ENCLOSED: Final = re.compile(rb"\x02([^\x02\x03]+)\x03([^\x02]*)(?=\x02)")
_HEX_ENDS: Final = (
    re.compile(rb"(?s)(.*[^0-9A-Fa-f])([0-9A-Fa-f]{4})"),
    re.compile(rb"(?s)(.*)([0-9A-Fa-f]{2})"),
)
_MARKED: Final = re.compile(rb"(?s)(.*[^ *:;,/|])([ *:;,/|])")

UNKNOWN: Final = "The last {0} characters look like a check that none of the usual ones gives: they are not looked at."
BEHIND: Final = "Behind the end of each frame stand {0} more, a check that none of the usual ones gives: not looked at."

UNREAD_BEHIND: Final = Doubt("Behind the end of each frame stands more, perhaps a check: it is not looked at.")


@dataclass(frozen=True, slots=True)
class Checked:
    """Frames without their checks.  `checksum` is the table for a layout, None when the check is of an unknown kind."""

    bodies: Sequence[bytes]
    width: int
    checksum: Mapping[str, Any] | None
    between: str = ""
    framing: str | None = None

    def covering(self, draft: Draft) -> Draft:
        """Make a draft for the bodies into one for the frames."""
        table = dict(draft.table)
        if self.framing:
            table["framing"] = self.framing
        if self.checksum is None:
            text = (BEHIND if self.framing else UNKNOWN).format(self.width)
            table["pattern"] = f"{table['pattern']}{self.between}[\\s\\S]{{{self.width}}}"
            return replace(draft, table=table, doubts=(*draft.doubts, Doubt(text)))
        byte = r"[\s\S]" if self.checksum["spelled"] == "byte" else "[0-9A-Fa-f]"
        table["pattern"] = f"(?P<covered>{table['pattern']}){self.between}(?P<check>{byte}{{{self.width}}})"
        return replace(draft, table={**table, "checksum": self.checksum})


def find_check_behind(sample: bytes) -> Checked | None:
    """Find checks behind the ETX of frames between STX and ETX; None when nothing of one length is there."""
    found = _ENCLOSED.findall(sample)
    if len(found) < LEAST_FRAMES:
        return None
    length, times = Counter(len(tail) for _, tail in found).most_common(1)[0]
    tails = [tail for _, tail in found if len(tail) == length]
    for end in (b"\r\n", b"\n\r", b"\r", b"\n"):
        if sum(tail.endswith(end) for tail in tails) > 0.9 * len(tails):
            length -= len(end)
            break
    if times < ALIKE * len(found) or not 1 <= length <= MOST:
        return None
    pairs = [(body, tail[:length]) for body, tail in found if len(tail) >= length]
    bodies = [body for body, _ in found]
    return Checked(bodies, length, find_checksum(pairs), r"\x03", f"stx-etx:{length}")


def find_check_within(frames: Sequence[bytes]) -> Checked | None:
    """Find checks of hexadecimal digits at the end of frames; None when there are none."""
    for shape in _HEX_ENDS:
        pairs = [(match[1], match[2]) for frame in frames if (match := shape.fullmatch(frame))]
        if len(pairs) < max(LEAST_FRAMES, ALIKE * len(frames)) or not _varies([check for _, check in pairs]):
            continue
        width = len(pairs[0][1])
        marked = [(match[1], check) for body, check in pairs if (match := _MARKED.fullmatch(body))]
        between = Counter(match[2] for body, _ in pairs if (match := _MARKED.fullmatch(body))).most_common(1)
        if marked and between[0][1] >= ALIKE * len(pairs) and (checksum := find_checksum(marked)):
            return Checked([body for body, _ in marked], width, checksum, re.escape(between[0][0].decode()))
        checksum = find_checksum(pairs)
        return Checked([body for body, _ in pairs], width, checksum)
    return None


def _varies(checks: Sequence[bytes]) -> bool:
    """Return whether these are a check's digits: many, and letters among them."""
    return len(set(checks)) >= CODES and sum(not check.isdigit() for check in checks) > len(checks) / 10


def find_checksum(pairs: Sequence[tuple[bytes, bytes]]) -> Mapping[str, Any] | None:
    """Find the check that makes most texts prove themselves, as a layout's table; None when there is none."""
    usual = [pair for pair, _ in Counter(pairs).most_common(PAIRS)]
    if len(usual) < LEAST_PAIRS:
        return None
    for check in _checks(len(usual[0][1])):
        prove = check.prover()
        if sum(prove(body, given) for body, given in usual) >= max(LEAST_PROVEN, PROVEN * len(usual)):
            flags = {name: True for name in ("low_first", "stx", "etx") if getattr(check, name)}
            return {"kind": check.kind, "spelled": check.spelled, **flags}
    return None


def _checks(length: int) -> Iterator[Checksum]:
    """Yield every way to spell a check in so many characters, the plainest first."""
    for (stx, etx), (kind, (width, _)), low_first in product(
        ((False, False), (False, True), (True, True), (True, False)), CHECKS.items(), (False, True)
    ):
        if low_first and width == 1:
            continue
        if length == 2 * width:
            yield Checksum(kind, "hex", low_first=low_first, stx=stx, etx=etx)
        if length == width:
            yield Checksum(kind, "byte", low_first=low_first, stx=stx, etx=etx)
