"""What a person's word on one stay does to the stays beside it.

A word takes its tag from whoever had it, and sets the tag free that its own stay would have had without it.  That one
was heard where the person looked, by a reader that stands there; it did not walk on to the next stay because of what
they said.  So a word may take from a neighbour, but gives it nothing that was not heard in the neighbour's own stay:

    the tag that the stay would have had      nobody gets it, unless another stay heard more of it
    a tag not heard in a neighbour's stay     goes to that one only if it would have had it anyway

Only readers at the platform are meant: where order decides, a word on one animal rightly moves those behind it.
"""

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Self

from neckyoke.bridge.station.tags.assignment import Dealt
from neckyoke.bridge.station.tags.detections import Pass, Span, during
from neckyoke.bridge.station.tags.scores import Table


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
        """Give what of a table may be dealt."""
        return {pair: points for pair, points in table.items() if pair not in self.barred} if self.barred else table


def is_fit(got: Dealt, fits: float) -> bool:
    """Tell whether a pass that was dealt is given too: one that leads another by less than `fits` would be a guess."""
    return got.lead >= fits or got.rival is None


def _heard(one: Pass, spans: Sequence[Span]) -> list[int]:
    """Count how often a pass was heard at the platform in each stay."""
    near = [heard for heard in one.heard if heard.position == "platform"]
    return [len(during(near, span)) for span in spans]
