"""Who gets which tag, and how sure that is, within the limits of a person's word.

Tags are assigned twice: once as things are decided, and once more as if only a person's word were.  A margin must not
grow because a neighbour was closed, so it is taken from the second assignment.

What a person's word on one stay does to the stays beside it: a word takes its tag from whoever had it, and frees the
tag that its own stay would have had without it.  That one was heard where the person looked, by a reader that stands
there; it did not walk on to the next stay because of what they said.  So a word may take from a neighbour, but gives it
nothing that was not heard in the neighbour's own stay:

    the tag that the stay would have had      nobody gets it, unless another stay heard more of it
    a tag not heard in a neighbour's stay     goes to that one only if it would have had it anyway
    a tag that a person gave to some stay     goes to no other that it was not heard in

Only readers at the platform are meant: where order decides, a word on one animal rightly moves those behind it.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from math import inf
from typing import Self

from neckyoke.bridge.station.tags.assignment import Assigned, Assignment
from neckyoke.bridge.station.tags.readers.closer import Around
from neckyoke.bridge.station.tags.readers.detections import Pass, Span, during
from neckyoke.bridge.station.tags.scores import Decided, Score, Scorer, Scores

OVERTAKES = 5.0
"""Points by which two that follow each other rather keep their order between a reader ahead and the platform: one pair
in 150 does not (common practice, no source)."""
LEAST_LEFT = 2.0
"""What an overtaking leaves of a margin at least: order may be doubted for it, but not left out."""


@dataclass(frozen=True, slots=True)
class WordLimits:
    """What a person's word cannot bring about: passes that nobody gets for it, (stay, pass) that are not assigned."""

    kept: frozenset[int] = frozenset()
    barred: frozenset[tuple[int, int]] = frozenset()

    @classmethod
    def of(
        cls,
        unsaid: Mapping[int, Assigned],
        given: Mapping[int, int | None],
        words: Mapping[int, int | None],
        had: AbstractSet[tuple[int, int]],
        said: AbstractSet[int],
        spans: Sequence[Span],
        passes: Sequence[Pass],
    ) -> Self:
        """Make it of what each stay would be assigned had nobody spoken, and of the pass that each word spoke of.

        `had`: (stay, pass) as they were before the words; `said`: passes of tags that a person gave to some stay;
        `given`: the pass that each would be given, where that was no guess.
        """
        times = [_heard(one, spans) for one in passes]
        denied = had | {(at, of) for at in words if (of := unsaid[at].tag) is not None}
        kept = {of for at, of in denied if of != words[at] and 0 < times[of][at] == max(times[of])}
        barred = {
            (at, of)
            for of, heard in enumerate(times)
            if any(read.position == "platform" for read in passes[of].heard)
            for at in range(len(spans))
            if not heard[at] and (given.get(at) != of or of in said)
        }
        return cls(frozenset(kept), frozenset(barred))

    def allowed(self, scores: Scores) -> Scores:
        """Return the scores that may be assigned."""
        return {pair: score for pair, score in scores.items() if pair not in self.barred} if self.barred else scores


NO_LIMITS = WordLimits()


@dataclass(frozen=True, slots=True)
class Resolution:
    """Both assignments.  Stays and passes are numbered from 0; `fixed` is what was not assigned any more.

    `open_scores` and `open_assignment` are those in which only a person's word is fixed.
    """

    fixed: Mapping[int, int | None]
    assignment: Assignment
    open_scores: Scores
    open_assignment: Assignment

    @classmethod
    def of(
        cls,
        scorer: Scorer,
        passes: Sequence[Pass],
        stays: int,
        decided: Decided,
        words: Mapping[int, int | None],
        *,
        ordered: bool,
        limits: WordLimits = NO_LIMITS,
    ) -> Self:
        """Assign.  `words`: what was fixed by a person; `ordered`: what is decided moves the scores of the others."""
        scores = limits.allowed(scorer.score(passes, decided))
        assignment = _assign(stays, scores, decided)
        if len(words) == len(decided.fixed):
            return cls(decided.fixed, assignment, scores, assignment)
        closed = {of for at, of in decided.fixed.items() if at not in words}
        free = Decided(words, decided.taken - closed)
        open_scores = limits.allowed(scorer.score(passes, free)) if ordered else scores
        return cls(decided.fixed, assignment, open_scores, _assign(stays, open_scores, free))

    def at(self, at: int) -> Assigned:
        """Return what a stay got, and how sure that is; what is fixed is sure."""
        if at in self.fixed:
            return Assigned(self.fixed[at], inf, None)
        tag = self.assignment.tag(at)
        score = self.open_scores.get((at, tag)) if tag is not None else None
        return self._overtaken(at, _capped(tag, self.open_assignment.at(at), score))

    def tag(self, at: int) -> int | None:
        """Return the pass that a stay got, if any."""
        return self.fixed[at] if at in self.fixed else self.assignment.tag(at)

    @property
    def given(self) -> dict[int, int | None]:
        """The pass that each stay got, if any."""
        return {at: self.tag(at) for at in (*self.fixed, *self.assignment.stays)}

    def known(self, words: Mapping[int, int | None], deaf: AbstractSet[tuple[str, int]]) -> Around:
        """Return what a closer look rests on."""
        return Around(self.given, self.open_scores, words, deaf)

    def _overtaken(self, at: int, got: Assigned) -> Assigned:
        """Return it with no more margin than is left if it changed places with the next behind the reader ahead."""
        if got.tag is None or got.tag != self.open_assignment.tag(at) or not self.open_scores[at, got.tag].queue:
            return got
        for beside in (at - 1, at + 1):
            other = self.open_assignment.tag(beside) if beside in self.open_assignment.stays else None
            if other is None:
                continue
            pairs = ((at, got.tag), (beside, other), (at, other), (beside, got.tag))
            apart = [
                score.total - score.queue for pair in pairs if (score := self.open_scores.get(pair)) and score.queue
            ]
            if len(apart) < len(pairs):
                continue
            mine, its, instead, there = apart
            left = max(OVERTAKES + mine + its - instead - there, LEAST_LEFT)
            if left < got.margin:
                got = replace(got, margin=left, rival=other, taker=beside, taker_untagged=False)
        return got

    def held(self, spans: Sequence[Span]) -> dict[int, int]:
        """Return the number of the stay that has each pass."""
        has = ((span.number, self.tag(at)) for at, span in enumerate(spans))
        return {tag: number for number, tag in has if tag is not None}


def _assign(stays: int, scores: Scores, decided: Decided) -> Assignment:
    """Assign what is not spoken for to the stays that are not."""
    return Assignment(
        [at for at in range(stays) if at not in decided.fixed],
        {
            (at, of): score.total
            for (at, of), score in scores.items()
            if at not in decided.fixed and of not in decided.taken
        },
    )


def _capped(tag: int | None, unclosed: Assigned, score: Score | None) -> Assigned:
    """Return a stay's tag with the margin it has while no stay is closed, and no more than its order was sure of it."""
    if unclosed.tag != tag:
        return Assigned(tag, 0.0, None)
    if score is not None and score.order_margin[0] < unclosed.margin and not score.heard_well:
        margin, rival = score.order_margin
        return replace(unclosed, margin=margin, rival=rival, taker=None)
    return unclosed


def _heard(one: Pass, spans: Sequence[Span]) -> list[int]:
    """Count how often a pass was heard at the platform in each stay."""
    near = [heard for heard in one.heard if heard.position == "platform"]
    return [len(during(near, span)) for span in spans]
