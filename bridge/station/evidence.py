"""What was heard of each tag, and the points it gives a tag for a stay.

A reader says a tag many times over; a *heard* is a quarter of a second of that.  A *pass* is one animal's way through
the yard as its tag tells it: heard after heard, until the tag has been silent for a minute after a stay in which it was
heard well.  An animal going round again makes a second pass.  Passes, not tags, are dealt to stays, so that no read can
ever speak for two.

Points (a table below each reader's position) are about natural logarithms of odds: three points are odds of twenty to
one, seven of a thousand to one.
"""

from dataclasses import dataclass, field

from bridge.events import Position
from protocols.tagcode import TagCode

HEARD_S = 0.25
"""Reads of one tag by one reader this close together are kept as one, with their count."""
PASS_GAP_S = 60.0
"""A tag unheard for so long may be on another way through."""
WELL_SHARE = 0.3
"""A tag was heard well in a stay when it was heard in this share of it, or in its middle and nowhere else."""
KEPT_TAGS = 200
KEPT_HEARD = 1200
"""Bounds, whatever a reader babbles: tags kept, and heards kept of each."""


@dataclass(slots=True)
class Heard:
    """A tag heard by a reader: from `t` for at most `HEARD_S`, `reads` times."""

    t: float
    link: str
    position: Position
    reads: int = 1


@dataclass(frozen=True, slots=True)
class Span:
    """A stay as pairing sees it.  `off` is now while it is open; `came` and `went` are its neighbours' off and on."""

    number: int
    on: float
    off: float
    before_on: float | None = None  # when the stay before began
    before_off: float | None = None
    after_on: float | None = None

    @property
    def length_s(self) -> float:
        """How long it lasted, never nothing."""
        return max(self.off - self.on, 0.5)


@dataclass(slots=True)
class Pass:
    """One way of one tag through the yard."""

    code: TagCode
    heard: list[Heard] = field(default_factory=list)

    @property
    def first(self) -> float:
        """When it was first heard."""
        return self.heard[0].t

    @property
    def last(self) -> float:
        """When it was last heard."""
        return self.heard[-1].t


class Ears:
    """Remembers, within bounds, what was heard."""

    def __init__(self) -> None:
        self._tags: dict[TagCode, list[Heard]] = {}

    def hear(self, t: float, link: str, position: Position, code: TagCode) -> None:
        """Take one read."""
        heards = self._tags.pop(code, [])
        self._tags[code] = heards  # the latest heard stands last
        for one in reversed(heards[-4:]):
            if one.link == link and t - one.t < HEARD_S:
                one.reads += 1
                return
        heards.append(Heard(t, link, position))
        if len(heards) > KEPT_HEARD:
            del heards[: KEPT_HEARD // 4]
        if len(self._tags) > KEPT_TAGS:
            del self._tags[next(iter(self._tags))]

    def forget(self, before: float) -> None:
        """Drop what was heard before a time."""
        for code, heards in list(self._tags.items()):
            if heards[-1].t < before:
                del self._tags[code]
            elif heards[0].t < before:
                self._tags[code] = [one for one in heards if one.t >= before]

    def passes(self, spans: list[Span]) -> list[Pass]:
        """Give every pass, in order of first being heard."""
        found: list[Pass] = []
        for code, heards in self._tags.items():
            current = Pass(code)
            for one in heards:
                if current.heard and one.t - current.last >= PASS_GAP_S and _heard_well(current, spans):
                    found.append(current)
                    current = Pass(code)
                current.heard.append(one)
            found.append(current)
        return sorted(found, key=lambda one: (one.first, str(one.code)))


def inside(one: Pass, span: Span) -> list[Heard]:
    """Give what was heard of a pass during a stay, by readers at the platform or in the hand."""
    return [heard for heard in one.heard if heard.position != "ahead" and span.on <= heard.t <= span.off]


def slices(span: Span) -> int:
    """Into how many equal slices a stay is cut to see how much of it a tag was heard in."""
    return max(1, min(12, round(span.length_s)))


def share(heards: list[Heard], span: Span) -> float:
    """Give the share of a stay's slices in which a tag was heard; a slice at either end counts half."""
    count = slices(span)
    ends = max(1, round(count * 0.15)) if count >= 3 else 0
    weights = [0.5 if at < ends or at >= count - ends else 1.0 for at in range(count)]
    where = {min(count - 1, int((heard.t - span.on) / span.length_s * count)) for heard in heards}
    return sum(weights[at] for at in where) / sum(weights)


def _heard_well(one: Pass, spans: list[Span]) -> bool:
    for span in spans:
        heards = inside(one, span)
        if heards and (share(heards, span) >= WELL_SHARE or len(heards) == len(one.heard)):
            return True
    return False


def points(one: Pass, span: Span, usual: dict[str, float]) -> float:
    """Give the points of a pass for a stay.  `usual`: the share in which each reader hears the animal that stands."""
    total = _platform([heard for heard in one.heard if heard.position == "platform"], span, usual)
    total += _hand([heard for heard in one.heard if heard.position == "hand"], span)
    return total + _ahead([heard for heard in one.heard if heard.position == "ahead"], span)


def _platform(heards: list[Heard], span: Span, usual: dict[str, float]) -> float:
    if not heards:
        return 0.0
    within = [heard for heard in heards if span.on <= heard.t <= span.off]
    waiting_from = span.before_on if span.before_on is not None else span.on - PASS_GAP_S
    waiting = [heard for heard in heards if waiting_from <= heard.t < span.on]
    leaving = [heard for heard in heards if span.off < heard.t <= span.off + 10.0]
    far = len(heards) - len(within) - len(waiting) - len(leaving)
    total = 0.0
    if within:
        expected = max(0.1, min(usual.get(heard.link, 0.3) for heard in within))
        total += 2.0 + 8.0 * min(1.0, share(within, span) / expected)
        if len(within) == len(heards) and share(within, span) * slices(span) >= 1.0:
            total += 1.5
    else:
        total -= 2.0
    total += 2.0 if waiting else 0.0
    total += 1.0 if any(heard.t >= span.on - 3.0 for heard in waiting) else 0.0
    total += 1.0 if leaving else 0.0
    return total - min(6.0, 0.5 * far)


def _hand(heards: list[Heard], span: Span) -> float:
    best = 0.0
    for heard in heards:
        if span.on <= heard.t <= span.off:
            best = max(best, 8.0)
        elif span.off < heard.t <= span.off + 20.0:
            best = max(best, 5.0 * (1 - (heard.t - span.off) / 20.0))
        elif span.on - 20.0 <= heard.t < span.on:
            best = max(best, 5.0 * (1 - (span.on - heard.t) / 20.0))
    return best


def _ahead(heards: list[Heard], span: Span) -> float:
    before = [heard for heard in heards if heard.t < span.on + 1.0]
    if not before:
        return 0.0
    if any(span.on + 2.0 < heard.t < span.off for heard in heards):
        return -8.0
    delay = span.on - before[-1].t
    return max(0.5, 6.0 - delay / 20.0)
