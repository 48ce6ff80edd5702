"""The stay before one: what is known of it by then, to tell whether its animal stepped off and came on again.

It is carried to the next run: whether a box was stopped between two stays makes no difference to what was given in the
first.  One that never settled, or that counts nowhere, is passed over, whosever it was: nothing was done to it, and the
one before it may come on again after it.  Who was asked about as that one stays so where the one between, which was
recorded while the job was paused, is counted in later: that says nothing of whose it was.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta
from math import hypot, log
from typing import Any

from neckyoke.bridge.events import Clock, Flag, Former, Model, Stamp, Weighing, Weight
from neckyoke.protocols.tagcode import TagCode

ALIKE, ALIKE_POOR = 0.01, 0.03
"""So far apart, as a share, two weights of one animal are at most; and where the former is poor."""
EARLY_S, ALIKE_EARLY = 1.5, 0.02
"""And where the latter is a first weight of less than that, within 2 % in 95 of 100 as a fair one is."""
RESTLESS = 0.4
"""And so many of the coefficients of variation that both plateaus show, as the root of the sum of their squares: of
animals that throw themselves about two weights are further apart.  By hand, from tests/bench/came_back.py (`restless`):
at 0.3 fewer are known again, at 0.5 no more, and more others are doubted."""
HEARD_WELL = 5
"""A tag that was read so often in one stay is read in the next too, if its animal is there."""
BACK_S = 60.0
"""An animal that stepped off is back within that time, or was another;"""
BACK_UNSEEN_S = 300.0
"""within this, where nobody saw it leave or come on: as long as one stands there while the box is away (`STOP_S`)."""


class Before(Model):
    """A stay that has ended, by what is held of it now.

    `off` is in seconds of this run, negative where it was before it, None where that is not known; `off_at` the same by
    a clock that was synchronised.  `settled`: its weight was shown; `counts`: the job was not paused, nor is it struck
    out as one that was given nothing; `passed`: the job was paused, and this was counted in.  `since` is when it began
    where the box stopped as it stood there.
    """

    weighing: str
    called: int
    weight: Weight
    off: float | None = None
    off_at: datetime | None = None
    code: TagCode | None = None
    sure: bool = True
    reads: int = 0
    settled: bool = True
    counts: bool = True
    passed: bool = False
    since: datetime | None = None

    @classmethod
    def of(cls, one: Weighing, off: float | None) -> "Before":
        """Make it of a weighing."""
        return cls(
            weighing=one.weighing,
            called=one.job_number or one.number,
            weight=one.weight,
            off=off,
            off_at=one.off if one.clock is Clock.SYNCHRONISED else None,
            code=TagCode(int(one.tag.code), int(one.tag.national)) if one.tag else None,
            sure=Flag.TAG_DOUBTFUL not in one.flags,
            reads=one.tag.reads if one.tag else 0,
            settled=one.settled is not None,
            counts=not one.none_given and Flag.PAUSED not in one.flags,
            since=one.on if Flag.INTERRUPTED in one.flags else None,
        )

    @property
    def former(self) -> Former:
        """How it is named where the next stay may be its animal's."""
        return Former(weighing=self.weighing, number=self.called, since=self.since)

    def within(self, on: float, stamp: Stamp, *, in_sight: bool) -> bool:
        """Return whether a stay that began then followed it soon enough; also where nobody can tell."""
        gap_s = None if self.off is None else on - self.off
        if gap_s is None and self.off_at is not None and stamp.clock is Clock.SYNCHRONISED:
            gap_s = (stamp.time - self.off_at) / timedelta(seconds=1)
        return gap_s is None or gap_s <= (BACK_S if in_sight and self.since is None else BACK_UNSEEN_S)

    def weighs_as(self, weight: Weight) -> bool:
        """Return whether it is known to weigh the same."""
        kg, now_kg = self.weight.kg, weight.kg
        if not kg or not now_kg:
            return False
        alike = ALIKE_EARLY if 0 < weight.span_s < EARLY_S else ALIKE
        return abs(log(now_kg / kg)) <= (ALIKE_POOR if self.weight.grade == "poor" else alike)

    def is_near(self, weight: Weight) -> bool:
        """Return whether it weighs the same as far as both weights tell: that is what is asked a person."""
        kg, now_kg = self.weight.kg, weight.kg
        if not kg or not now_kg:
            return False
        both = hypot(self.weight.restlessness_percent or 0.0, weight.restlessness_percent or 0.0)
        rough = min(RESTLESS * both / 100, ALIKE_POOR)
        return self.weighs_as(weight) or abs(log(now_kg / kg)) <= rough

    def may_weigh(self, weight: Weight) -> bool:
        """Return whether one of this weight, as it stands there, may be it.

        Not of one that never settled: nothing was done to it.  A first weight that is poor may be of two feet.
        """
        if not self.settled:
            return False
        return not weight.kg or not self.weight.kg or weight.grade == "poor" or self.is_near(weight)

    def or_before(self, before: "Before | None") -> "Before":
        """Return which of both the next stay is held against; `before` is the one that this was held against."""
        return self if (self.settled and self.counts) or before is None or not before.settled else before

    def spell(self) -> dict[str, Any]:
        """Spell it as it is kept; how long ago it left is kept beside it."""
        return self.model_dump(mode="json", exclude={"off"}, exclude_defaults=True)

    @classmethod
    def read(cls, kept: Mapping[str, Any], ago_s: float | None) -> "Before":
        """Read it again, so many seconds before this run began."""
        known = {name: value for name, value in kept.items() if name in cls.model_fields}
        return cls.model_validate({**known, "off": None if ago_s is None else -ago_s})
