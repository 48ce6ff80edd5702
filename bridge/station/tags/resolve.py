"""A deal, and how sure it is: dealt once as things are decided, and once more as if only a person's word were.

A lead must not grow because a neighbour was closed, so it is taken from the second deal.

What a person's word on one stay does to the stays beside it.

A word takes its tag from whoever had it, and sets the tag free that its own stay would have had without it.  That one
was heard where the person looked, by a reader that stands there; it did not walk on to the next stay because of what
they said.  So a word may take from a neighbour, but gives it nothing that was not heard in the neighbour's own stay:

    the tag that the stay would have had      nobody gets it, unless another stay heard more of it
    a tag not heard in a neighbour's stay     goes to that one only if it would have had it anyway

Only readers at the platform are meant: where order decides, a word on one animal rightly moves those behind it.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from math import inf
from typing import Self

from neckyoke.bridge.station.tags.assignment import Deal, Dealt
from neckyoke.bridge.station.tags.detections import Pass, Span, during
from neckyoke.bridge.station.tags.scores import Decided, Points, Table, Witness


@dataclass(frozen=True, slots=True)
class Unsaid:
    """What would have been without a word: passes nobody gets for it, and (stay, pass) that it cannot bring about."""

    kept: frozenset[int] = frozenset()
    barred: frozenset[tuple[int, int]] = frozenset()

    @classmethod
    def of(
        cls,
        dealt: Mapping[int, Dealt],
        fits: float,
        words: Mapping[int, int | None],
        had: AbstractSet[tuple[int, int]],
        spans: Sequence[Span],
        passes: Sequence[Pass],
    ) -> Self:
        """Make it of what each stay would have been dealt, and of the pass that each word spoke of.

        `had`: (stay, pass) as they were before the words; `fits`: see `is_fit`.
        """
        times = [_heard(one, spans) for one in passes]
        given = {at: got.tag for at, got in dealt.items() if is_fit(got, fits)}
        denied = had | {(at, of) for at in words if (of := dealt[at].tag) is not None}
        kept = {of for at, of in denied if of != words[at] and 0 < times[of][at] == max(times[of])}
        barred = {
            (at, of)
            for of, heard in enumerate(times)
            if any(read.position == "platform" for read in passes[of].heard)
            for at in range(len(spans))
            if not heard[at] and given.get(at) != of
        }
        return cls(frozenset(kept), frozenset(barred))

    def allowed(self, table: Table) -> Table:
        """Return what of a table may be dealt."""
        return {pair: points for pair, points in table.items() if pair not in self.barred} if self.barred else table


AS_SAID = Unsaid()


@dataclass(frozen=True, slots=True)
class Dealing:
    """Both deals.  Stays and passes are numbered from 0; `fixed` is what was not dealt any more."""

    fixed: Mapping[int, int | None]
    dealt: Deal
    loose: Table
    doubts: Deal

    @classmethod
    def of(
        cls,
        witness: Witness,
        passes: Sequence[Pass],
        stays: int,
        decided: Decided,
        words: Mapping[int, int | None],
        *,
        ordered: bool,
        unsaid: Unsaid = AS_SAID,
    ) -> Self:
        """Deal.  `words`: what was fixed by a person; `ordered`: what is decided moves the evidence of the others."""
        table = unsaid.allowed(witness.weigh(passes, decided))
        dealt = _deal(stays, table, decided)
        if len(words) == len(decided.fixed):
            return cls(decided.fixed, dealt, table, dealt)
        closed = {of for at, of in decided.fixed.items() if at not in words}
        free = Decided(words, decided.taken - closed)
        loose = unsaid.allowed(witness.weigh(passes, free)) if ordered else table
        return cls(decided.fixed, dealt, loose, _deal(stays, loose, free))

    def at(self, at: int) -> Dealt:
        """Return what a stay got, and how sure that is; what is fixed is sure."""
        if at in self.fixed:
            return Dealt(self.fixed[at], inf, None)
        tag = self.dealt.tag(at)
        return _sober(tag, self.doubts.at(at), self.loose.get((at, tag)) if tag is not None else None)

    def held(self, spans: Sequence[Span]) -> dict[int, int]:
        """Return the number of the stay that has each pass."""
        has = (
            (span.number, self.fixed[at] if at in self.fixed else self.dealt.tag(at)) for at, span in enumerate(spans)
        )
        return {tag: number for number, tag in has if tag is not None}


def _deal(stays: int, table: Table, decided: Decided) -> Deal:
    """Deal what is not spoken for to the stays that are not."""
    return Deal(
        [at for at in range(stays) if at not in decided.fixed],
        {
            (at, of): points.total
            for (at, of), points in table.items()
            if at not in decided.fixed and of not in decided.taken
        },
    )


def _sober(tag: int | None, again: Dealt, points: Points | None) -> Dealt:
    """Take a lead no higher than it would be if no stay were closed, nor than an order was sure of it."""
    if again.tag != tag:
        return Dealt(tag, 0.0, None)
    if points is not None and points.margin[0] < again.lead and not points.heard_well:
        return replace(again, lead=points.margin[0], rival=points.margin[1], taker=None)
    return again


def is_fit(got: Dealt, fits: float) -> bool:
    """Return whether a pass that was dealt is given too: a lead over another of less than `fits` would be a guess."""
    return got.lead >= fits or got.rival is None


def _heard(one: Pass, spans: Sequence[Span]) -> list[int]:
    """Count how often a pass was heard at the platform in each stay."""
    near = [heard for heard in one.heard if heard.position == "platform"]
    return [len(during(near, span)) for span in spans]
