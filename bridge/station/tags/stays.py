"""The stays whose tag may still change, and the state of the readers that could hear them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.tags.readers.detections import PASS_GAP_S, Pass, Span, stays_between
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

ASLEEP_S = 300.0
"""A reader that heard no tag at all for so long proves nothing by its silence,"""
AWAY = 0.3
"""nor does one that was gone for so much of a stay."""
REACH_S = 120.0
"""What was heard so long before a stay may still speak for it."""


@dataclass(slots=True)
class OpenStay:
    """One stay while its tag may still change, and for a few stays more as their neighbour."""

    number: int
    on: float
    turn: int  # position since the last long pause, from 1
    off: float | None = None
    word: bool = False  # a person has spoken
    said: TagCode | None = None
    had: TagCode | None = None  # its tag before they did
    withdrawn: tuple[TagCode, ...] = ()  # tags that they gave it, and then said otherwise
    unsaid: tuple[TagCode | None] | None = None  # the tag it would have, had nobody spoken of it or one beside it
    verdict: Verdict | None = None
    ended_after: int = 0  # later stays that have ended
    again: bool = False  # it follows the stay before it soon, and weighs the same
    apart: bool = False  # a person said that it is not that one's animal
    shared: bool = False  # the pass of its tag is that stay's, or the next one's (tags/shared.py)
    parted: tuple[Verdict, bool] | None = None  # its verdict before, where that was final, and whether it shared
    closed: bool = False  # nothing can change the verdict any more but a person
    reopened: bool = False  # a person did: `unsaid` is what it had been closed with
    heard: tuple[float, float] | None = None  # first and last of the pass that its verdict gives it
    gave: dict[TagCode, tuple[float, float]] = field(default_factory=dict)  # likewise, of each tag that one gave it
    lags: dict[str, int] = field(default_factory=dict)  # stays from coming past each reader ahead to this one
    turns: dict[str, list[tuple[float, float]]] = field(default_factory=dict)  # chance of each tag said once, and when
    slips: dict[str, float | None] = field(default_factory=dict)  # seconds read by hand before (-) or after; None: not
    counted: dict[TagCode, Verdict] = field(default_factory=dict)  # by tag the fullest count of what was heard of it
    taught: bool = False  # the readers have learned what its pair shows
    without: Verdict | None = None  # what it would have been closed with, had nobody spoken of it

    @property
    def code(self) -> TagCode | None:
        """The tag it has."""
        return self.said if self.word else self.verdict.code if self.verdict else None

    @property
    def dealt(self) -> TagCode | None:
        """The tag of its verdict, where it does not share that with a neighbour."""
        return self.verdict.code if self.verdict and not self.shared else None

    def hold(self, one: Pass | None) -> None:
        """Keep which pass its verdict gives it, and which it gave it ever: whose reads are counted here."""
        self.heard = (one.first, one.last) if one is not None else None
        if one is not None and self.heard is not None:
            self.gave[one.code] = self.heard

    def full(self, verdict: Verdict) -> Verdict:
        """Return a verdict with what was heard of its tag while that was still at hand: reads are forgotten in time."""
        if verdict.code is None:
            return verdict
        known = self.counted.setdefault(verdict.code, verdict)
        if known.reads <= verdict.reads:
            self.counted[verdict.code] = known = verdict
        return replace(verdict, link=known.link, reads=known.reads)

    def say(self, code: TagCode | None) -> None:
        """Take a person's word: it wears this tag, or none."""
        if not self.word:
            self.had = self.dealt
        elif self.said is not None and self.said != code:
            self.withdrawn += (self.said,)
        self.word, self.said, self.shared = True, code, False

    @property
    def moved(self) -> tuple[TagCode | None, ...]:
        """The tag it has, and those that a person gave it and said otherwise: none of them as if nobody had spoken."""
        return self.code, *self.withdrawn

    @property
    def words(self) -> tuple[bool, TagCode | None, TagCode | None]:
        """What people have said of its tag."""
        return self.word, self.said, self.had

    @property
    def settled(self) -> tuple[TagCode | None, tuple[Flag, ...]] | None:
        """What its verdict says of its tag."""
        return (self.verdict.code, self.verdict.flags) if self.verdict else None

    def span(self, now: float | None) -> Span:
        """Return it as scores see it; `now` ends one that is still open."""
        end = self.off if self.off is not None else max(self.on, now if now is not None else self.on)
        return Span(self.number, self.on, end, self.turn)


@dataclass(slots=True)
class ReaderLink:
    """Where a reader stands, when it last heard any tag, and when its link was down."""

    position: Position
    heard: float | None = None
    down_since: float | None = None
    downs: list[tuple[float, float]] = field(default_factory=list)

    def turned(self, t: float, *, up: bool) -> None:
        """Take the link going up or down; what it was already changes nothing."""
        if up and self.down_since is not None:
            self.downs = [*self.downs[-7:], (self.down_since, t)]
            self.down_since = None
        elif not up and self.down_since is None:
            self.down_since = t

    def gone(self, span: Span) -> float:
        """Return the seconds of a stay during which the link was down."""
        downs = [*self.downs, (self.down_since, span.off)] if self.down_since is not None else self.downs
        return sum(max(0.0, min(end, span.off) - max(start, span.on)) for start, end in downs)

    def is_deaf(self, span: Span) -> bool:
        """Return whether its silence in a stay proves nothing."""
        return self.gone(span) > AWAY * span.length_s or self.heard is None or self.heard < span.on - ASLEEP_S


def speak(stays: Iterable[OpenStay], stay: OpenStay, code: TagCode | None) -> None:
    """Take a person's word on one of the stays: it wears this tag, or none; whoever had the tag is open to another."""
    for other in [one for one in stays if code is not None and one is not stay]:
        if stay.again and other.number == stay.number - 1 and other.code == code:
            other.say(code)  # it is that animal, come on again: both stays are its
        elif other.word and other.said == code:
            other.say(None)
        elif other.closed and other.verdict is not None and other.verdict.code == code:
            if not other.reopened:
                other.unsaid, other.reopened = (other.dealt,), True
            other.closed = False
    if stay.unsaid is None and stay.verdict is not None:
        stay.unsaid = (stay.dealt,)
    stay.say(code)


def taken_from(stays: Iterable[OpenStay], verdicts: Mapping[int, Verdict], code: TagCode) -> dict[int, Verdict]:
    """Return by number the verdict of each stay that now loses a tag, and of each that loses what that one gets."""
    lost: dict[int, Verdict] = {}
    codes = [code]
    while codes:
        code = codes.pop()
        for stay in stays:
            now = verdicts.get(stay.number)
            if now is not None and stay.code == code != now.code and stay.number not in lost:
                lost[stay.number] = now
                codes += [now.code] if now.code is not None else []
    return lost


def is_its(one: Pass, stay: OpenStay, span: Span, spans: Sequence[Span]) -> bool:
    """Return whether a pass is the one that a stay's verdict gave it, or can have been the one that a person meant.

    Then no other stay lies between, unless it came by the race.
    """
    gave = stay.gave.get(one.code) if stay.word else None
    if any(heard and one.first <= heard[1] and one.last >= heard[0] for heard in (stay.heard, gave)):
        return True
    ahead = any(heard.position == "ahead" for heard in one.heard)
    if not ahead and (stays_between(span.off, one.first, spans) or stays_between(one.last, span.on, spans)):
        return False
    return one.first <= span.off + PASS_GAP_S and one.last >= span.on - (3 * REACH_S if ahead else PASS_GAP_S)
