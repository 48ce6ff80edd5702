"""Which tag belongs to which stay.

Reads come in, stays come in, a person may have a word; out come verdicts.  A verdict is given at once when a stay ends
and may change while its window is open, because the stays after it show what its reads were worth: the tag heard twice
in this stay and ten times in the next was the next animal's.  Nothing is decided by order alone without saying so.

Every pass of a tag (readers/detections.py) is scored for every stay it may speak for (scores.py); passes are assigned
to stays so that the scores add up to most (assignment.py), within the limits of what a person said (resolve.py); the
margin of that assignment at a stay becomes its verdict (verdict.py).

A verdict is final when a few later stays have ended (`WINDOW_STAYS`), or `WINDOW_S` after its own end.  Its tag, or one
that a person has spoken for, is assigned to nobody else on that pass.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.settings import DOUBT_PERCENT, MOST_PLACES
from neckyoke.bridge.station.tags.learning import learn_final, learn_pair, note_order, note_turns
from neckyoke.bridge.station.tags.readers.detections import PASS_GAP_S, Detections, Pass, Span, stays_between
from neckyoke.bridge.station.tags.readers.race import PAUSE_S
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.resolve import NO_LIMITS, Resolution, WordLimits
from neckyoke.bridge.station.tags.scores import Decided, Scorer
from neckyoke.bridge.station.tags.shared import set_apart, share
from neckyoke.bridge.station.tags.stays import REACH_S, OpenStay, ReaderLink, is_its, speak, taken_from
from neckyoke.bridge.station.tags.unword import put_back
from neckyoke.bridge.station.tags.verdict import Case, Verdict, by_person, is_given, is_stale, judge
from neckyoke.protocols.tagcode import TagCode

WINDOW_S = 600.0
WINDOW_STAYS, QUEUE_STAYS = 4, 8
"""Later stays after whose end a verdict is final: of a station with a reader ahead, the second."""
HELD_STAYS = 4
"""Final stays kept as neighbours of those that are not."""
HOLD_S = 10.0
"""A read while the platform is empty is weighed this much later, when its neighbours have been heard too."""


class Pairing:
    """The tag side of a station.  Pure: time comes in with every call; `due` is when `settle` wants to be called.

    `places` says of readers ahead how many animals fit between them and the platform; `habits` what an earlier run
    learned of each reader; a tag more likely wrong than `doubt_percent` is flagged.  `cases` collects how each verdict
    came about when `trace` is on.
    """

    def __init__(
        self,
        readers: Mapping[str, Position],
        places: Mapping[str, int] = MappingProxyType({}),
        habits: Mapping[str, Mapping[str, float]] = MappingProxyType({}),
        doubt_percent: float = DOUBT_PERCENT,
    ) -> None:
        self._positions = dict(readers)
        self._readers = {link: ReaderLink(position) for link, position in readers.items()}
        self._models = {link: ReaderModel(places.get(link), habits.get(link, {})) for link in readers}
        self._doubt_percent = doubt_percent
        self._window = QUEUE_STAYS if "ahead" in readers.values() else WINDOW_STAYS
        self._detections = Detections()
        self._spent: dict[TagCode, float] = {}  # until when a final verdict has used up what was heard of a tag
        self._began: deque[float] = deque(maxlen=QUEUE_STAYS + HELD_STAYS + MOST_PLACES)  # when the last stays began
        self._stays: list[OpenStay] = []  # those whose verdict may still change, and some before; oldest first
        self._gone: list[Span] = []  # the stays before those, for as long as what was heard in them is remembered
        self._hold: float | None = None
        self.trace = False
        self.cases: dict[int, Case] = {}

    # -- what comes in

    def read(self, t: float, link: str, code: TagCode) -> None:
        """Take one read."""
        reader = self._readers[link]
        reader.heard = t
        self._detections.hear(t, link, reader.position, code)
        if self._hold is None and self._stays and self._stays[-1].off is not None and not self._stays[-1].closed:
            self._hold = t + HOLD_S

    def link(self, t: float, link: str, *, up: bool) -> None:
        """Take a reader's link going up or down."""
        self._readers[link].turned(t, up=up)

    def began(self, number: int, on: float) -> None:
        """Take the beginning of a stay."""
        last = self._stays[-1] if self._stays else None
        turn = last.turn + 1 if last is not None and on - last.on < PAUSE_S else 1
        self._stays.append(OpenStay(number, on, turn))
        self._began.append(on)
        self._hold = None

    def ended(self, number: int, off: float, *, again: bool = False) -> list[Verdict]:
        """Take the end of a stay: return its verdict, and those of earlier ones that it changes.

        `again`: it follows the stay before it soon, and weighs the same.
        """
        stay = self._stay(number)
        assert stay is not None, "a stay ends that began"
        stay.off, stay.again = off, again
        for earlier in self._stays:
            if earlier.number < number:
                earlier.ended_after += 1
        return self._decide(off)

    def word(self, t: float, number: int, code: TagCode | None) -> list[Verdict]:
        """Take a person's word on a stay's tag (None: it has none); return every verdict that it changes."""
        stay = self._stay(number)
        if stay is None:
            return []
        speak(self._stays, stay, code)
        return self._decide(t)

    def apart(self, t: float, number: int, *, another: bool) -> list[Verdict]:
        """Take that a stay is of another animal than the one before it, or no more: no tag is shared then."""
        return set_apart(self._stays, number, another=another) + self._decide(t)

    @property
    def stays(self) -> dict[int, OpenStay]:
        """The stays at hand as they are now, by number, apart from these."""
        return {stay.number: replace(stay) for stay in self._stays}

    def unword(
        self, t: float, code: TagCode | None, before: Mapping[int, OpenStay], after: Mapping[int, OpenStay]
    ) -> list[Verdict]:
        """Take a person's word back; return every verdict that this changes.

        `before` and `after`: what `stays` was around the word.  What somebody has said since stands.
        """
        closed = {stay.number for stay in self._stays if stay.closed}
        again = put_back(self._stays, code, before, after)
        if code is not None and any(stay.number in closed and not stay.closed for stay in self._stays):
            self._spent.pop(code, None)  # by the word: what was heard of it is to be had again
        return again + self._decide(t)

    @property
    def habits(self) -> dict[str, dict[str, float]]:
        """What was learned of each reader, for the next run."""
        return {link: model.kept for link, model in self._models.items()}

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
        return min([*ends, *([] if self._hold is None else [self._hold])], default=None)

    def settle(self, t: float) -> list[Verdict]:
        """Make the decisions that are due at `t`; return what changed."""
        if self._hold is not None and self._hold <= t:
            self._hold = None
        return self._decide(t)

    def finish(self) -> list[Verdict]:
        """Decide for good; return what changed."""
        changed = self._decide(None)
        for stay in self._stays:
            stay.closed = True
        return changed

    def believe(self, number: int, t: float) -> Verdict:
        """Return what is held of the open stay by now."""
        return self._verdicts(t, number)[number]

    def show(self, number: int, t: float, *, maybe_same: bool, again: bool = False) -> list[Verdict]:
        """Return what is held of the open stay by now, last, before it what is so of those that lose its tag to it.

        `maybe_same`: it may be the animal of the stay before, which then keeps it for now; `again`: see `ended`.
        """
        if (stay := self._stay(number)) is not None:
            stay.again = again
        mine = self.believe(number, t)
        if mine.code is None or all(stay.code != mine.code for stay in self._stays):
            return [mine]
        lost = taken_from(self._stays, self._verdicts(t), mine.code)
        if maybe_same and number - 1 in lost:
            return [mine]
        for stay in self._stays:
            stay.verdict = lost.get(stay.number, stay.verdict)
        return [*(lost[number] for number in sorted(lost)), mine]

    # -- how it is decided

    def _stay(self, number: int) -> OpenStay | None:
        return next((stay for stay in reversed(self._stays) if stay.number == number), None)

    def _decide(self, t: float | None) -> list[Verdict]:
        """Assign anew; keep and return every ended stay's verdict that is not the one held."""
        changed = []
        verdicts = self._verdicts(t)
        said = any(stay.word for stay in self._stays)
        for stay in self._stays:
            verdict = verdicts.get(stay.number)
            if verdict is None or stay.off is None:
                continue
            held = stay.verdict
            over = stay.ended_after >= self._window or (t is not None and stay.off + WINDOW_S <= t) or not self._readers
            last = not stay.closed and (over or t is None)
            same = held is not None and (held.code, held.flags) == (verdict.code, verdict.flags)
            fewer = said and held is not None and held.reads > verdict.reads  # another's, by a word
            if held is None or not same or fewer or (last and is_stale(held, verdict)):
                changed.append(verdict)
                stay.verdict = verdict
            if not stay.closed and over:
                stay.without = self._without_word(t, stay) if stay.word else None
                stay.closed = True
                learn_final(self._models, self._readers, stay)
                if verdict.code is not None:
                    until = max(stay.off, stay.heard[1] if stay.heard else stay.off)
                    self._spent[verdict.code] = max(self._spent.get(verdict.code, until), until)
                    self._used_up(self._passes(spans := self._spans(t)), spans)
        self._forget()
        return changed

    def _without_word(self, t: float | None, stay: OpenStay) -> Verdict:
        """Judge a stay as if nobody had spoken of it, while what was heard in it is still at hand; nothing changes."""
        held, self._stays = self._stays, [replace(one) for one in self._stays]
        cases, self.cases = self.cases, {}
        unsaid = next(one for one in self._stays if one.number == stay.number)
        unsaid.word, unsaid.taught = False, True
        verdict = self._verdicts(t, stay.number)[stay.number]
        self._stays, self.cases = held, cases
        return verdict

    def _forget(self) -> None:
        """Let go of what can change nothing any more."""
        beyond = max(0, len(self._stays) - self._window - HELD_STAYS)
        self._gone += [stay.span(None) for stay in self._stays[:beyond]]
        del self._stays[:beyond]
        still = [stay.on for stay in self._stays if not stay.closed] or [stay.on for stay in self._stays[-1:]]
        if still:
            since = still[0] - REACH_S
            self._detections.forget(since)
            self._gone = [span for span in self._gone if span.off >= since]
            self._spent = {code: until for code, until in self._spent.items() if until + PASS_GAP_S > since}

    def _spans(self, now: float | None) -> list[Span]:
        return [stay.span(now) for stay in self._stays]

    def _passes(self, spans: list[Span]) -> list[Pass]:
        """Return every pass; where one ended is seen by the stays that it may have stood in, long closed or not."""
        return self._detections.passes([*self._gone, *spans])

    def _verdicts(self, now: float | None, only: int | None = None) -> dict[int, Verdict]:
        """Judge every stay that is not closed, or only the one of that number."""
        spans = self._spans(now)
        passes = self._passes(spans)
        scorer = Scorer(self._positions, self._models, spans, self._began, deaf := self._deaf(spans))
        fixed, taken = self._fixed(passes, spans)
        words = {at: fixed[at] for at, stay in enumerate(self._stays) if stay.word}
        limits = self._limits(scorer, passes, spans, words) if words else NO_LIMITS
        decided = Decided(fixed, taken | limits.kept)
        resolution = Resolution.of(scorer, passes, len(spans), decided, words, ordered=scorer.ordered, limits=limits)
        held = resolution.held(spans) if self.trace else {}
        verdicts = {}
        for at, stay in enumerate(self._stays):
            if only not in (None, stay.number):
                continue
            got = None
            if stay.word:
                verdicts[stay.number] = stay.full(by_person(stay.number, stay.said, spans[at], passes))
            elif not stay.closed:
                got = resolution.at(at)
                one = passes[got.tag] if got.tag is not None else None
                score = resolution.open_scores.get((at, got.tag)) if got.tag is not None else None
                note_order(self._readers, stay, spans[at], one, self._began)
                note_turns(self._models, self._readers, stay, at, passes, resolution.open_scores)
                learn_pair(self._models, self._readers, stay, spans[at], passes, got)
                stay.taught = stay.off is not None
                final_at = spans[at].off + WINDOW_S if self._readers else None
                known = resolution.known(words, deaf)
                verdict = judge(at, spans, passes, got, score, self._models, self._doubt_percent, known)
                lost = (Flag.READER_LOST,) if verdict.flags and self._lost(spans[at]) else ()
                verdicts[stay.number] = replace(verdict, flags=(*verdict.flags, *lost), final_at=final_at)
                stay.full(verdict)
                stay.hold(one if verdicts[stay.number].code is not None else None)
            if self.trace and stay.number in verdicts:
                candidates = {of: score for (place, of), score in resolution.open_scores.items() if place == at}
                self.cases[stay.number] = Case.of(spans, at, passes, candidates, held, got, verdicts[stay.number])
        share(self._stays, spans, passes, verdicts)
        return verdicts

    def _deaf(self, spans: list[Span]) -> set[tuple[str, int]]:
        """Name the readers and stays where silence proves nothing."""
        return {(link, span.number) for link, reader in self._readers.items() for span in spans if reader.is_deaf(span)}

    def _limits(
        self, scorer: Scorer, passes: list[Pass], spans: list[Span], words: Mapping[int, int | None]
    ) -> WordLimits:
        """Assign as if nobody had spoken, to find what a word may not bring about."""
        closed, taken = self._fixed(passes, spans, words=False)
        unsaid = Resolution.of(scorer, passes, len(spans), Decided(closed, taken), {}, ordered=scorer.ordered)
        assigned = {at: unsaid.at(at) for at in range(len(spans))}
        scores = unsaid.open_scores
        given = {at: one.tag for at, one in assigned.items() if is_given(one, scores.get((at, one.tag or 0)))}
        for at in assigned.keys() - closed.keys():
            of = assigned[at].tag if at in words else given.get(at)
            self._stays[at].unsaid = (passes[of].code if of is not None else None,)
        had = {(at, of) for at in words for of, one in enumerate(passes) if one.code == self._stays[at].had}
        codes = {stay.said for stay in self._stays if stay.word}
        said = {of for of, one in enumerate(passes) if one.code in codes}
        return WordLimits.of(assigned, given, words, had, said, spans, passes)

    def _fixed(
        self, passes: list[Pass], spans: list[Span], *, words: bool = True
    ) -> tuple[dict[int, int | None], set[int]]:
        """Return the pass, or None, of every stay that a person or a final verdict spoke for; and all passes taken.

        Without `words`, as if no person had.
        """
        fixed: dict[int, int | None] = {}
        moved = {
            code for stay in self._stays if stay.unsaid for code in stay.moved
        }  # their users might not have had them
        taken = {of for of in self._used_up(passes, spans) if words or passes[of].code not in moved}
        for at, (stay, span) in enumerate(zip(self._stays, spans, strict=True)):
            if not (stay.closed or (stay.word and words) or (stay.reopened and not words)):
                continue
            code = stay.unsaid[0] if stay.unsaid and not words else stay.code
            its = [] if stay.shared else enumerate(passes)
            mine = [of for of, one in its if one.code == code and is_its(one, stay, span, spans)]
            fixed[at] = mine[-1] if mine else None
            taken.update(mine)
        return fixed, taken

    def _used_up(self, passes: list[Pass], spans: list[Span]) -> set[int]:
        """Return the passes that a final verdict has used up: to their last, also when their first is forgotten."""
        used = set()
        for of, one in enumerate(passes):
            until = self._spent.get(one.code)
            between = [*self._gone, *spans]
            if until is not None and one.first <= until + PASS_GAP_S and not stays_between(until, one.first, between):
                self._spent[one.code] = max(until, one.last)
                used.add(of)
        return used

    def _lost(self, span: Span) -> bool:
        """Return whether every reader was down for some part of a stay."""
        return bool(self._readers) and all(reader.gone(span) > 0 for reader in self._readers.values())
