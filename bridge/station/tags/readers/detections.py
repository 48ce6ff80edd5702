"""What was heard of each tag, kept within bounds.

A reader says a tag many times over; a *heard* is a quarter of a second of that.  A *pass* is one animal's way through
the yard as its tag tells it: heard after heard, until the tag has been silent, for a minute or for another animal's
whole stay, after a stay that it may well have stood in.  An animal going round again makes a second pass.  Passes, not
tags, are dealt to stays, so that no read can ever speak for two.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from operator import attrgetter

from neckyoke.bridge.events import Position
from neckyoke.protocols.tagcode import TagCode

HEARD_S = 0.25
"""Reads of one tag by one reader this close together are kept as one, with their count."""
PASS_GAP_S = 60.0
"""A tag unheard for so long may be on another way through."""
PASS_STAYS = 12
"""A tag heard only ahead is on another way through when it was unheard for so many stays: one that backs out of the
race comes again sooner."""
BEFORE_S, AFTER_S = 1.0, 0.5
"""A head may be in front of the panel so long before the feet weigh, and after they have left."""
KEPT_TAGS = 200
KEPT_HEARD = 1200
"""Bounds, whatever a reader babbles: tags kept, and detections kept of each."""


@dataclass(slots=True)
class Detection:
    """A tag heard by a reader: from `t` for at most `HEARD_S`, `reads` times."""

    t: float
    link: str
    position: Position
    reads: int = 1


@dataclass(frozen=True, slots=True)
class Span:
    """A stay as pairing sees it.  `off` is now while it is open; `turn` counts stays since the last long pause."""

    number: int
    on: float
    off: float
    turn: int = 1

    @property
    def length_s(self) -> float:
        """How long it lasted, never nothing."""
        return max(self.off - self.on, 0.5)


@dataclass(slots=True)
class Pass:
    """One way of one tag through the yard."""

    code: TagCode
    heard: list[Detection] = field(default_factory=list)

    @property
    def first(self) -> float:
        """When it was first heard."""
        return self.heard[0].t

    @property
    def last(self) -> float:
        """When it was last heard."""
        return self.heard[-1].t

    @property
    def near(self) -> list[Detection]:
        """What was heard of it at the platform or by hand, not ahead."""
        return [heard for heard in self.heard if heard.position != "ahead"]


_when, _on = attrgetter("t"), attrgetter("on")  # in C: they are asked for each comparison of each search


def during(detections: Sequence[Detection], span: Span, *, slack: bool = True) -> Sequence[Detection]:
    """Return what was heard during a stay; `slack` adds a moment at either end, when the head is there but no foot."""
    start = bisect_left(detections, span.on - BEFORE_S * slack, key=_when)
    end = bisect_right(detections, span.off + AFTER_S * slack, key=_when)
    return detections[start:end]


class Detections:
    """Remembers, within bounds, what was heard."""

    def __init__(self) -> None:
        self._tags: dict[TagCode, list[Detection]] = {}

    def hear(self, t: float, link: str, position: Position, code: TagCode) -> None:
        """Take one read."""
        detections = self._tags.pop(code, [])
        self._tags[code] = detections  # the latest heard stands last
        for one in reversed(detections[-4:]):
            if one.link == link and t - one.t < HEARD_S:
                one.reads += 1
                return
        detections.append(Detection(t, link, position))
        if len(detections) > KEPT_HEARD:
            del detections[: KEPT_HEARD // 4]
        if len(self._tags) > KEPT_TAGS:
            del self._tags[next(iter(self._tags))]

    def forget(self, before: float) -> None:
        """Drop what was heard before a time."""
        for code, detections in list(self._tags.items()):
            if detections[-1].t < before:
                del self._tags[code]
            elif detections[0].t < before:
                self._tags[code] = detections[bisect_left(detections, before, key=_when) :]

    def passes(self, spans: Sequence[Span]) -> list[Pass]:
        """Return every pass, in order of first being heard."""
        found: list[Pass] = []
        for code, detections in self._tags.items():
            current = Pass(code)
            last = inf
            for one in detections:
                if one.t > last + AFTER_S and _is_another(current, one.t, spans):
                    found.append(current)
                    current = Pass(code)
                current.heard.append(one)
                last = one.t
            found.append(current)
        return sorted(found, key=lambda one: (one.first, str(one.code)))


def stays_between(start: float, end: float, spans: Sequence[Span]) -> bool:
    """Return whether a whole stay lies between two moments; stays are in order, and none begins within another."""
    after = bisect_right(spans, start, key=_on)
    return after < len(spans) and spans[after].off < end


def _is_another(one: Pass, t: float, spans: Sequence[Span]) -> bool:
    """Return whether a tag heard again at `t` is on another way through.

    It is after a minute's silence, or after it was silent for another animal's whole stay: either way only when it may
    have stood before.  Weighed twice, it is flagged as such, so that an animal that merely lingered goes by no stay
    unseen.
    """
    long = t - one.last >= PASS_GAP_S
    return (long or (one.heard[-1].position == "platform" and stays_between(one.last + AFTER_S, t, spans))) and (
        _is_over(one, t, spans)
    )


def _is_over(one: Pass, t: float, spans: Sequence[Span]) -> bool:
    """Return whether a pass can have ended before the tag was heard again at `t`."""
    near = one.near
    if not near:
        return sum(1 for span in spans if one.last < span.on and span.off < t) >= PASS_STAYS
    for span in spans:
        detections = during(near, span, slack=False)
        if detections and (len(detections) == len(near) or detections[-1].t - detections[0].t >= 0.4 * span.length_s):
            return True
    return False
