"""What a decoder leaves unread again and again: no damage, but something on the line that it does not know.

Damage makes each unread frame another one; a second device, an alarm text or a shape of the same device that the layout
lacks comes back alike.  So unread frames are held against each other by their outline, the frame with every number and
every gap drawn as one.  Damage too can come back alike, where it takes a byte off a frame that would be read, cuts it
in two, or spoils a number without changing the outline; of those it takes many more to tell.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from typing import Final

from neckyoke.protocols.readings import Reject
from neckyoke.protocols.recognition.candidates import Trial
from neckyoke.protocols.recognition.doubts import Doubt
from neckyoke.protocols.recognition.finding import Sure

AGAIN: Final = 3
"""Frames alike, or tag codes, that are no coincidence."""
STRANGE: Final = 0.01
"""Share of the frames that unread ones of one outline must make up: one device's damage does not get there."""
LIKE_DAMAGE: Final = 0.1
"""The same where a byte lost from a good frame would do it: a line on which two bytes in a hundred are hurt."""

_NUMBER: Final = re.compile(rb"[0-9]+")
_GAP: Final = re.compile(rb"[ \t]+")


def outline(frame: bytes) -> bytes:
    """Draw a frame with every run of digits, and every gap, as one."""
    return _GAP.sub(b" ", _NUMBER.sub(b"9", frame)).strip()


def find_tags_beside(best: Trial, tags: Trial) -> list[Doubt]:
    """Return a doubt when a tag reader speaks on a scale's line.  Codes prove themselves, so few are enough."""
    read = {frame for frame, outcome in best.frames if not isinstance(outcome, Reject)}
    beside = [outcome for frame, outcome in tags.frames if not isinstance(outcome, Reject) and frame not in read]
    if len(beside) < AGAIN:
        return []
    what = f"{len(beside)} frames are tag codes, the first {getattr(beside[0], 'code', '')}"
    return [Doubt(f"{what}: two devices speak on this line; give each a wire of its own.", Sure.UNSURE)]


def find_strangers(best: Trial) -> list[Doubt]:
    """Quote what comes again and again and is not read."""
    read: set[bytes] = set()
    unread: dict[bytes, Counter[bytes]] = defaultdict(Counter)
    for frame, outcome in best.frames:
        if not isinstance(outcome, Reject):
            read.add(outline(frame))
        elif text := (frame or outcome.frame).strip():
            unread[outline(text)][text] += 1
    hurt = {part for drawn in read for part in _hurt(drawn)}
    strange = [
        texts
        for drawn, texts in unread.items()
        if texts.total() >= max(AGAIN, (LIKE_DAMAGE if drawn in hurt else STRANGE) * len(best.frames))
    ]
    if not strange:
        return []
    most = max(strange, key=Counter.total)
    quoted = most.most_common(1)[0][0].decode("latin-1")
    return [
        Doubt(f"{most.total()} of {len(best.frames)} frames are like {quoted!r} and are not read: see what that is.")
    ]


def _hurt(drawn: bytes) -> Iterator[bytes]:
    """Yield what a lost byte, or a mark within it, makes of an outline; and itself."""
    yield drawn
    for at in range(len(drawn)):
        yield drawn[:at] + drawn[at + 1 :]
        yield drawn[:at].strip()
        yield drawn[at:].strip()
