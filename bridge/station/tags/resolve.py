"""A deal, and how sure it is: dealt once as things are decided, and once more as if only a person's word were.

A lead must not grow because a neighbour was closed, so it is taken from the second deal.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Self

from neckyoke.bridge.station.tags.assignment import Deal, Dealt
from neckyoke.bridge.station.tags.detections import Pass, Span
from neckyoke.bridge.station.tags.scores import Decided, Points, Table, Witness
from neckyoke.bridge.station.tags.word import Unsaid

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
        """Give what a stay got, and how sure that is; what is fixed is sure."""
        if at in self.fixed:
            return Dealt(self.fixed[at], inf, None)
        tag = self.dealt.tag(at)
        return _sober(tag, self.doubts.at(at), self.loose.get((at, tag)) if tag is not None else None)

    def held(self, spans: Sequence[Span]) -> dict[int, int]:
        """Give the number of the stay that has each pass."""
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
