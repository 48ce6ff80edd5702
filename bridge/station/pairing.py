"""Which tag belongs to which stay.

Reads come in, stays come in, a person may have a word; out come verdicts.  A verdict is given at once when a stay ends
and may change while its window is open, because the stays after it show what its reads were worth: the tag heard twice
in this stay and ten times in the next was the next animal's.  Nothing is decided by order alone.

Every pass of a tag (evidence.py) gets points for every stay it may speak for; the passes are dealt to the stays so
that the points in all are most (deal.py); how far that deal leads at a stay decides what is said of it:

    dealt                lead                    verdict
    a tag                at least CLEAR          the tag
    a tag                at least FITS           the tag, flagged tag-doubtful
    a tag                less, rival a tag       no tag, flagged two-tags
    a tag                less, rival nothing     the tag, flagged tag-doubtful
    nothing, some heard                          no tag, flagged no-tag and tag-elsewhere
    nothing, none heard                          no tag, flagged no-tag
    a person's word                              as they said, flagged by-person
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.events import Flag, Position
from bridge.station.deal import Dealt, deal
from bridge.station.evidence import Ears, Pass, Span, inside, points, share
from protocols.tagcode import TagCode

CLEAR = 5.0
FITS = 2.0
WINDOW_S = 600.0
"""A stay's verdict may change for so long after its end, unless `WINDOW_STAYS` later ones have ended before."""
WINDOW_STAYS = 8
HOLD_S = 10.0
"""A read while the platform is empty is weighed this much later, when its neighbours have been heard too."""
REACH_S = 120.0
"""What was heard so long before a stay may still speak for it."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is held of one stay.  `seen` counts tags heard in it; `rule` is the line of the table that decided."""

    number: int
    code: TagCode | None
    link: str | None = None
    reads: int = 0
    flags: tuple[Flag, ...] = ()
    seen: int = 0
    rule: str = ""
    final: bool = False
    final_at: float | None = None


@dataclass(slots=True)
class _Stay:
    number: int
    on: float
    off: float | None = None
    word: bool = False  # a person has spoken
    said: TagCode | None = None
    verdict: Verdict | None = None
    ended_after: int = 0  # later stays that ended


@dataclass(slots=True)
class _Reader:
    position: Position
    down_since: float | None = None
    downs: list[tuple[float, float]] = field(default_factory=list)


class Pairing:
    """The tag side of a station.  Pure: time comes in with every call; `due` is when `settle` wants to be called."""

    def __init__(self, readers: Mapping[str, Position]) -> None:
        self._readers = {link: _Reader(position) for link, position in readers.items()}
        self._ears = Ears()
        self._stays: list[_Stay] = []  # every stay whose tag may still change, and some before, oldest first
        self._usual: dict[str, float] = {}
        self._hold: float | None = None

    @property
    def due(self) -> float | None:
        """When the next decision falls due, None when none is pending."""
        ends = [stay.off + WINDOW_S for stay in self._stays if self._pending(stay) and stay.off is not None]
        if self._hold is not None:
            ends.append(self._hold)
        return min(ends, default=None)

    def read(self, t: float, link: str, code: TagCode) -> None:
        """Take one read."""
        self._ears.hear(t, link, self._readers[link].position, code)
        if self._hold is None and not self._open and any(self._pending(stay) for stay in self._stays):
            self._hold = t + HOLD_S

    def link(self, t: float, link: str, *, up: bool) -> None:
        """Take a reader's link going up or down."""
        reader = self._readers[link]
        if up and reader.down_since is not None:
            reader.downs = [*reader.downs[-7:], (reader.down_since, t)]
            reader.down_since = None
        elif not up and reader.down_since is None:
            reader.down_since = t

    def began(self, number: int, on: float) -> None:
        """Take the beginning of a stay."""
        self._stays.append(_Stay(number, on))

    def ended(self, number: int, off: float) -> list[Verdict]:
        """Take the end of a stay: give its verdict, and those before that it changes."""
        self._stay(number).off = off
        for stay in self._stays:
            if stay.number < number and stay.off is not None:
                stay.ended_after += 1
        return self._decide(off)

    def word(self, number: int, code: TagCode | None) -> list[Verdict]:
        """Take a person's word on a stay's tag (None: it has none); give every verdict it changes."""
        stay = self._stay(number)
        for other in self._stays:
            if other is not stay and other.word and other.said == code and code is not None:
                other.said = None
        stay.word, stay.said = True, code
        return self._decide(None)

    def knows(self, number: int) -> bool:
        """Tell whether a stay is still at hand."""
        return any(stay.number == number for stay in self._stays)

    def believe(self, number: int, t: float) -> Verdict:
        """Give what is held of the open stay by now."""
        stay = self._stay(number)
        return self._verdicts(t)[stay.number]

    def settle(self, t: float) -> list[Verdict]:
        """Make the decisions that are due; give what changed."""
        if self._hold is not None and self._hold <= t:
            self._hold = None
        return self._decide(t)

    def finish(self) -> list[Verdict]:
        """Decide everything; nothing comes after."""
        changed = self._decide(None)
        for stay in self._stays:
            stay.ended_after = WINDOW_STAYS
        return changed

    @property
    def _open(self) -> bool:
        return bool(self._stays) and self._stays[-1].off is None

    def _stay(self, number: int) -> _Stay:
        return next(stay for stay in reversed(self._stays) if stay.number == number)

    def _pending(self, stay: _Stay) -> bool:
        return (
            bool(self._readers)
            and not stay.word
            and stay.ended_after < WINDOW_STAYS
            and (stay.verdict is None or not stay.verdict.final)
        )

    def _decide(self, t: float | None) -> list[Verdict]:
        """Deal anew; keep and give every ended stay's verdict that differs from the one held."""
        changed = []
        verdicts = self._verdicts(t)
        for stay in self._stays:
            if stay.off is None or stay.number not in verdicts:
                continue
            verdict = verdicts[stay.number]
            held = stay.verdict
            if held is None or (held.code, held.flags) != (verdict.code, verdict.flags):
                changed.append(verdict)
                stay.verdict = verdict
            if t is not None and stay.off + WINDOW_S <= t:
                stay.ended_after = WINDOW_STAYS
        self._forget()
        return changed

    def _forget(self) -> None:
        while len(self._stays) > 4 * WINDOW_STAYS:
            del self._stays[0]
        pending = [stay.on for stay in self._stays if stay.off is None or self._pending(stay)]
        if pending:
            self._ears.forget(min(pending) - REACH_S)
        elif self._stays and self._stays[-1].off is not None:
            self._ears.forget(self._stays[-1].off - REACH_S)

    def _spans(self, now: float | None) -> list[Span]:
        spans = []
        for at, stay in enumerate(self._stays):
            before = self._stays[at - 1] if at else None
            after = self._stays[at + 1] if at + 1 < len(self._stays) else None
            off = stay.off if stay.off is not None else max(now if now is not None else stay.on, stay.on)
            spans.append(
                Span(
                    stay.number,
                    stay.on,
                    off,
                    before.on if before else None,
                    before.off if before else None,
                    after.on if after else None,
                )
            )
        return spans

    def _verdicts(self, now: float | None) -> dict[int, Verdict]:
        spans = self._spans(now)
        passes = self._ears.passes(spans)
        taken = self._taken(spans, passes)
        table = {
            (stay.number, at): points(one, span, self._usual)
            for stay, span in zip(self._stays, spans, strict=True)
            if stay.off is None or self._pending(stay)
            for at, one in enumerate(passes)
            if at not in taken
        }
        open_stays = [stay.number for stay in self._stays if stay.off is None or self._pending(stay)]
        dealt = deal([number for number in open_stays if not self._stay(number).word], table)
        verdicts: dict[int, Verdict] = {}
        for stay, span in zip(self._stays, spans, strict=True):
            if stay.word:
                verdicts[stay.number] = self._said(stay, span, passes)
            elif stay.number in dealt:
                verdicts[stay.number] = self._judge(stay, span, passes, dealt[stay.number])
        return verdicts

    def _taken(self, spans: list[Span], passes: list[Pass]) -> set[int]:
        """Give the passes that a final verdict or a person's word has already spoken for."""
        taken = set()
        for stay, span in zip(self._stays, spans, strict=True):
            code = stay.said if stay.word else None
            if code is None and stay.verdict is not None and not self._pending(stay) and not stay.word:
                code = stay.verdict.code
            if code is None:
                continue
            near = [at for at, one in enumerate(passes) if one.code == code and _touches(one, span)]
            taken.update(near)
        return taken

    def _said(self, stay: _Stay, span: Span, passes: list[Pass]) -> Verdict:
        flags = (Flag.BY_PERSON,) if stay.said is not None else (Flag.NO_TAG, Flag.BY_PERSON)
        mine = [heard for one in passes if one.code == stay.said for heard in inside(one, span)]
        return Verdict(
            stay.number,
            stay.said,
            mine[-1].link if mine else None,
            sum(heard.reads for heard in mine),
            flags,
            seen=sum(1 for one in passes if inside(one, span)),
            rule="a person's word",
            final=True,
        )

    def _judge(self, stay: _Stay, span: Span, passes: list[Pass], got: Dealt) -> Verdict:
        seen = sum(1 for one in passes if inside(one, span))
        lost = (Flag.READER_LOST,) if self._deaf(span) else ()
        final = not self._readers or not self._pending(stay)
        final_at = None if final else span.off + WINDOW_S
        if got.tag is None:
            flags = (Flag.NO_TAG, Flag.TAG_ELSEWHERE) if seen else (Flag.NO_TAG,)
            rule = "heard, but better placed elsewhere" if seen else "no tag heard"
            return Verdict(stay.number, None, None, 0, flags + lost, seen, rule, final, final_at)
        if got.lead < FITS and got.rival is not None:
            rule = "two tags fit, none clearly ahead"
            return Verdict(stay.number, None, None, 0, (Flag.TWO_TAGS, *lost), seen, rule, final, final_at)
        one = passes[got.tag]
        mine = inside(one, span) or one.heard
        best = max(mine, key=lambda heard: heard.reads)
        doubtful = got.lead < CLEAR
        if stay.off is not None and stay.verdict is None and not doubtful:
            self._learn(mine, span)
        return Verdict(
            stay.number,
            one.code,
            best.link,
            sum(heard.reads for heard in mine),
            (Flag.TAG_DOUBTFUL, *lost) if doubtful else (),
            seen,
            "one tag fits, the evidence is thin" if doubtful else "one tag is clearly ahead",
            final,
            final_at,
        )

    def _learn(self, heards: list, span: Span) -> None:  # type: ignore[type-arg]
        for link in {heard.link for heard in heards if heard.position == "platform"}:
            heard_share = share([heard for heard in heards if heard.link == link], span)
            usual = self._usual.get(link, 0.3)
            self._usual[link] = usual + 0.1 * (heard_share - usual)

    def _deaf(self, span: Span) -> bool:
        """Tell whether no reader could be heard in some part of a stay."""
        if not self._readers:
            return False
        downs = []
        for reader in self._readers.values():
            gone = [*reader.downs] + ([(reader.down_since, span.off)] if reader.down_since is not None else [])
            downs.append(any(start < span.off and end > span.on for start, end in gone))
        return all(downs)


def _touches(one: Pass, span: Span) -> bool:
    return one.first <= span.off + 60.0 and one.last >= span.on - 60.0
