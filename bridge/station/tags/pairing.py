"""Which tag belongs to which stay.

Reads come in, stays come in, a person may have a word; out come verdicts.  A verdict is given at once when a stay ends
and may change while its window is open, because the stays after it show what its reads were worth: the tag heard twice
in this stay and ten times in the next was the next animal's.  Nothing is decided by order alone without saying so.

Every pass of a tag (ears.py) gets points for every stay it may speak for (evidence.py); the passes are dealt to the
stays so that the points in all are most (deal.py); how far that deal leads at a stay decides what is said of it
(verdict.py).

A verdict is final when a few later stays have ended (`WINDOW_STAYS`), or `WINDOW_S` after its own end.  A tag that a
final verdict or a person has spoken for is dealt to nobody else on that pass.
"""

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.settings import MOST_PLACES
from neckyoke.bridge.station.tags.assignment import Dealt
from neckyoke.bridge.station.tags.detections import PASS_GAP_S, Ears, Pass, Span, during, stays_between
from neckyoke.bridge.station.tags.hand import away_s
from neckyoke.bridge.station.tags.panel import heard_slots, slots
from neckyoke.bridge.station.tags.race import PAUSE_S, begun_between, came
from neckyoke.bridge.station.tags.reader_model import Habits
from neckyoke.bridge.station.tags.resolve import Dealing, Unsaid, is_fit
from neckyoke.bridge.station.tags.scores import Decided, Witness
from neckyoke.bridge.station.tags.verdict import CLEAR, FITS, Case, Verdict, judge, said
from neckyoke.protocols.tagcode import TagCode

WINDOW_S = 600.0
WINDOW_STAYS, QUEUE_STAYS = 4, 8
"""Later stays after whose end a verdict is final: of a station with a reader ahead, the second."""
HELD_STAYS = 4
"""Final stays kept as neighbours of those that are not."""
HOLD_S = 10.0
"""A read while the platform is empty is weighed this much later, when its neighbours have been heard too."""
REACH_S = 120.0
"""What was heard so long before a stay may still speak for it."""
ASLEEP_S = 300.0
"""A reader that heard no tag at all for so long proves nothing by its silence."""


@dataclass(slots=True)
class _Stay:
    number: int
    on: float
    turn: int  # the how-manieth since the last long pause
    off: float | None = None
    word: bool = False  # a person has spoken
    said: TagCode | None = None
    had: TagCode | None = None  # its tag before they did
    unsaid: tuple[TagCode | None] | None = None  # the tag it would have, had nobody spoken of it or one beside it
    verdict: Verdict | None = None
    ended_after: int = 0  # later stays that have ended
    closed: bool = False  # nothing can change the verdict any more but a person
    lags: dict[str, int] = field(default_factory=dict)  # stays from coming past each reader ahead to this one
    slips: dict[str, bool] = field(default_factory=dict)  # read by hand, but not while it stood

    @property
    def code(self) -> TagCode | None:
        """The tag it has."""
        return self.said if self.word else self.verdict.code if self.verdict else None


@dataclass(slots=True)
class _Reader:
    position: Position
    heard: float | None = None  # any tag, last
    down_since: float | None = None
    downs: list[tuple[float, float]] = field(default_factory=list)

    def gone(self, span: Span) -> float:
        """Seconds of a stay during which the link was down."""
        downs = [*self.downs, (self.down_since, span.off)] if self.down_since is not None else self.downs
        return sum(max(0.0, min(end, span.off) - max(start, span.on)) for start, end in downs)


class Pairing:
    """The tag side of a station.  Pure: time comes in with every call; `due` is when `settle` wants to be called.

    `places` says of readers ahead how many animals fit between them and the platform; `habits` what an earlier run
    learned of each reader.  `cases` collects how each verdict came about when `trace` is on.
    """

    def __init__(
        self,
        readers: Mapping[str, Position],
        places: Mapping[str, int] = MappingProxyType({}),
        habits: Mapping[str, Mapping[str, float]] = MappingProxyType({}),
    ) -> None:
        self._positions = dict(readers)
        self._readers = {link: _Reader(position) for link, position in readers.items()}
        self._habits = {link: Habits(places.get(link), habits.get(link, {})) for link in readers}
        self._window = QUEUE_STAYS if "ahead" in readers.values() else WINDOW_STAYS
        self._ordered = any(position != "platform" for position in readers.values())
        self._ears = Ears()
        self._spent: dict[TagCode, float] = {}  # until when a final verdict has used up what was heard of a tag
        self._began: deque[float] = deque(maxlen=QUEUE_STAYS + HELD_STAYS + MOST_PLACES)  # when the last stays began
        self._stays: list[_Stay] = []  # those whose verdict may still change, and some before; oldest first
        self._hold: float | None = None
        self.trace = False
        self.cases: dict[int, Case] = {}

    # -- what comes in

    def read(self, t: float, link: str, code: TagCode) -> None:
        """Take one read."""
        reader = self._readers[link]
        reader.heard = t
        self._ears.hear(t, link, reader.position, code)
        if self._hold is None and self._stays and self._stays[-1].off is not None and not self._stays[-1].closed:
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
        last = self._stays[-1] if self._stays else None
        turn = last.turn + 1 if last is not None and on - last.on < PAUSE_S else 1
        self._stays.append(_Stay(number, on, turn))
        self._began.append(on)
        self._hold = None

    def ended(self, number: int, off: float) -> list[Verdict]:
        """Take the end of a stay: give its verdict, and those of earlier ones that it changes."""
        stay = self._stay(number)
        assert stay is not None, "a stay ends that began"
        stay.off = off
        for earlier in self._stays:
            if earlier.number < number:
                earlier.ended_after += 1
        return self._decide(off)

    def word(self, t: float, number: int, code: TagCode | None) -> list[Verdict]:
        """Take a person's word on a stay's tag (None: it has none); give every verdict that it changes."""
        stay = self._stay(number)
        if stay is None:
            return []
        for other in self._stays if code is not None else ():
            if other is stay:
                continue
            if other.word and other.said == code:
                other.said = None
            elif other.verdict is not None and other.verdict.code == code:
                other.closed = False
        if stay.unsaid is None and stay.verdict is not None:
            stay.unsaid = (stay.verdict.code,)
        stay.had = stay.had if stay.word else stay.code
        stay.word, stay.said = True, code
        return self._decide(t)

    @property
    def habits(self) -> dict[str, dict[str, float]]:
        """What was learned of each reader, for the next run."""
        return {link: habits.kept for link, habits in self._habits.items()}

    def knows(self, number: int) -> bool:
        """Return whether a stay is still at hand."""
        return self._stay(number) is not None

    def is_final(self, number: int) -> bool:
        """Return whether nothing but a person can change a stay's verdict any more."""
        stay = self._stay(number)
        return stay is None or stay.closed or stay.word

    # -- what comes out

    @property
    def due(self) -> float | None:
        """When the next decision falls due; None when none is pending."""
        ends = [stay.off + WINDOW_S for stay in self._stays if stay.off is not None and not stay.closed]
        if self._hold is not None:
            ends.append(self._hold)
        return min(ends, default=None)

    def settle(self, t: float) -> list[Verdict]:
        """Make the decisions that are due at `t`; give what changed."""
        if self._hold is not None and self._hold <= t:
            self._hold = None
        return self._decide(t)

    def finish(self) -> list[Verdict]:
        """Decide for good; give what changed."""
        changed = self._decide(None)
        for stay in self._stays:
            stay.closed = True
        return changed

    def believe(self, number: int, t: float) -> Verdict:
        """Return what is held of the open stay by now."""
        return self._verdicts(t, number)[number]

    # -- how it is decided

    def _stay(self, number: int) -> _Stay | None:
        return next((stay for stay in reversed(self._stays) if stay.number == number), None)

    def _decide(self, t: float | None) -> list[Verdict]:
        """Deal anew; keep and give every ended stay's verdict that is not the one held."""
        changed = []
        verdicts = self._verdicts(t)
        for stay in self._stays:
            verdict = verdicts.get(stay.number)
            if verdict is None or stay.off is None:
                continue
            held = stay.verdict
            if held is None or (held.code, held.flags) != (verdict.code, verdict.flags):
                changed.append(verdict)
                stay.verdict = verdict
            over = stay.ended_after >= self._window or (t is not None and stay.off + WINDOW_S <= t)
            if not stay.closed and (over or not self._readers):
                stay.closed = True
                self._learn_final(stay)
                if verdict.code is not None:
                    self._spent[verdict.code] = max(self._spent.get(verdict.code, stay.off), stay.off)
                    spans = self._spans(t)
                    self._used_up(self._ears.passes(spans), spans)
        self._forget()
        return changed

    def _forget(self) -> None:
        """Let go of what can change nothing any more."""
        del self._stays[: max(0, len(self._stays) - self._window - HELD_STAYS)]
        still = [stay.on for stay in self._stays if not stay.closed] or [stay.on for stay in self._stays[-1:]]
        if still:
            since = still[0] - REACH_S
            self._ears.forget(since)
            self._spent = {code: until for code, until in self._spent.items() if until + PASS_GAP_S > since}

    def _spans(self, now: float | None) -> list[Span]:
        return [
            Span(
                stay.number,
                stay.on,
                stay.off if stay.off is not None else max(stay.on, now if now is not None else stay.on),
                stay.turn,
            )
            for stay in self._stays
        ]

    def _verdicts(self, now: float | None, only: int | None = None) -> dict[int, Verdict]:
        """Judge every stay that is not closed, or only the one of that number."""
        spans = self._spans(now)
        passes = self._ears.passes(spans)
        witness = Witness(self._positions, self._habits, spans, self._began, self._deaf(spans))
        fixed, taken = self._fixed(passes, spans)
        words = {at: fixed[at] for at, stay in enumerate(self._stays) if stay.word}
        unsaid = self._unsaid(witness, passes, spans, words) if words else Unsaid()
        decided = Decided(fixed, taken | unsaid.kept)
        deal = Dealing.of(witness, passes, len(spans), decided, words, ordered=self._ordered, unsaid=unsaid)
        held = deal.held(spans) if self.trace else {}
        verdicts = {}
        for at, stay in enumerate(self._stays):
            if only not in (None, stay.number):
                continue
            got = None
            if stay.word:
                verdicts[stay.number] = said(stay.number, stay.said, spans[at], passes)
            elif not stay.closed:
                got = deal.at(at)
                self._note_order(at, spans[at], passes[got.tag] if got.tag is not None else None)
                self._learn(stay, spans[at], passes, got)
                lost = (Flag.READER_LOST,) if self._lost(spans[at]) else ()
                final_at = spans[at].off + WINDOW_S if self._readers else None
                verdicts[stay.number] = judge(at, spans, passes, got, self._habits, lost, final_at)
            if self.trace and stay.number in verdicts:
                spoken = {of: points for (place, of), points in deal.loose.items() if place == at}
                self.cases[stay.number] = Case.of(spans, at, passes, spoken, held, got, verdicts[stay.number])
        return verdicts

    def _deaf(self, spans: list[Span]) -> frozenset[tuple[str, int]]:
        """Name the readers and stays where silence proves nothing."""
        return frozenset(
            (link, span.number)
            for link, reader in self._readers.items()
            for span in spans
            if reader.gone(span) > 0.3 * span.length_s or reader.heard is None or reader.heard < span.on - ASLEEP_S
        )

    def _unsaid(
        self, witness: Witness, passes: list[Pass], spans: list[Span], words: Mapping[int, int | None]
    ) -> Unsaid:
        """Deal as if nobody had spoken, to say what a word may not do."""
        closed, taken = self._fixed(passes, spans, words=False)
        deal = Dealing.of(witness, passes, len(spans), Decided(closed, taken), {}, ordered=self._ordered)
        dealt = {at: deal.at(at) for at in range(len(spans))}
        for at in dealt.keys() - closed.keys():
            of = dealt[at].tag if at in words or is_fit(dealt[at], FITS) else None
            self._stays[at].unsaid = (passes[of].code if of is not None else None,)
        had = {(at, of) for at in words for of, one in enumerate(passes) if one.code == self._stays[at].had}
        return Unsaid.of(dealt, FITS, words, had, spans, passes)

    def _fixed(
        self, passes: list[Pass], spans: list[Span], *, words: bool = True
    ) -> tuple[dict[int, int | None], set[int]]:
        """Return the pass, or None, of every stay that a person or a final verdict spoke for; and all passes taken.

        Without `words`, as if no person had.
        """
        fixed: dict[int, int | None] = {}
        moved = {stay.code for stay in self._stays if stay.unsaid}  # what used them up might not have had them
        taken = {of for of in self._used_up(passes, spans) if words or passes[of].code not in moved}
        for at, (stay, span) in enumerate(zip(self._stays, spans, strict=True)):
            if not (stay.closed or (stay.word and words)):
                continue
            code = stay.unsaid[0] if stay.unsaid and not words else stay.code
            mine = [of for of, one in enumerate(passes) if one.code == code and _is_near(one, span, spans)]
            fixed[at] = mine[-1] if mine else None
            taken.update(mine)
        return fixed, taken

    def _used_up(self, passes: list[Pass], spans: list[Span]) -> set[int]:
        """Return the passes that a final verdict has used up: to their last, also when their first is forgotten."""
        used = set()
        for of, one in enumerate(passes):
            until = self._spent.get(one.code)
            if until is not None and one.first <= until + PASS_GAP_S and not stays_between(until, one.first, spans):
                self._spent[one.code] = max(until, one.last)
                used.add(of)
        return used

    def _learn(self, stay: _Stay, span: Span, passes: list[Pass], got: Dealt) -> None:
        """Learn the habits of the readers at the platform from a pair, once, when its stay has ended."""
        if got.tag is None or stay.off is None or stay.verdict is not None or not passes[got.tag].near:
            return
        one = passes[got.tag]
        for link, reader in self._readers.items():
            heards = [heard for heard in one.heard if heard.link == link]
            if reader.position != "platform" or not heards:
                continue
            if got.lead >= CLEAR:
                self._habits[link].learn_share(heard_slots(during(heards, span), span) / slots(span))
            others = (heard for other in passes if other is not one for heard in during(other.heard, span, slack=False))
            self._habits[link].learn_beside(others=any(heard.link == link for heard in others))

    def _note_order(self, at: int, span: Span, one: Pass | None) -> None:
        """Note what a stay's tag would teach of the readers' habits, if it stays with it."""
        stay = self._stays[at]
        stay.lags, stay.slips = {}, {}
        for link, position in self._positions.items():
            heards = [heard for heard in one.heard if heard.link == link] if one else []
            if heards and position == "ahead":
                stay.lags[link] = begun_between(came(heards), span.on, self._began)
            elif heards and position == "hand":
                stay.slips[link] = away_s(heards, span) > 0

    def _learn_final(self, stay: _Stay) -> None:
        """Learn from a stay that is final."""
        for link, reader in self._readers.items():
            if reader.position == "platform" and reader.heard is not None and not stay.word:
                self._habits[link].learn_missed(missed=stay.verdict is None or stay.verdict.code is None)
        for link, lag in stay.lags.items():
            if lag < stay.turn:  # else it came while the race was filling
                self._habits[link].learn_queue(lag)
        for link, slipped in stay.slips.items():
            self._habits[link].learn_slip(slipped=slipped)

    def _lost(self, span: Span) -> bool:
        """Return whether every reader was down for some part of a stay."""
        return bool(self._readers) and all(reader.gone(span) > 0 for reader in self._readers.values())


def _is_near(one: Pass, span: Span, spans: Sequence[Span]) -> bool:
    """Return whether a pass can have been that stay's: no other stay lies between, unless it came by the race."""
    ahead = any(heard.position == "ahead" for heard in one.heard)
    if not ahead and (stays_between(span.off, one.first, spans) or stays_between(one.last, span.on, spans)):
        return False
    return one.first <= span.off + PASS_GAP_S and one.last >= span.on - (3 * REACH_S if ahead else PASS_GAP_S)
