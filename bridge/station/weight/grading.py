"""How sure a weight is: a budget of what can be wrong with it, and the grade it earns.

Each part of the budget is a way for a level to be wrong that shows in the readings, in per cent of the weight.  What
each is worth was found once, from a non-negative least squares fit of the error on the parts over some 14,000 simulated
stays whose animals, indicators and disturbances were drawn as widely as could be thought of (the bench's regimes and
wider ones), rounded; the bounds were then set so that each grade keeps its promise in the worst of those regimes, not
on average.  A confidence interval from the scatter alone would claim too much: at its nominal 95 % it covers 87.
"""

from dataclasses import dataclass

from neckyoke.bridge.events import Grade

GOOD_PERCENT = 0.20
FAIR_PERCENT = 0.45
"""Largest budgets of a good and a fair weight: the budget is a typical error, the promise is one hardly ever broken."""

FAR_PERCENT, FAR_SHARE = 2.0, 0.1
"""When more than this share of a plateau is further than that from the weight, which of the two is right is a guess."""

ZERO_SHARE = 0.22
"""How far the empty platform may have moved unseen counts in a budget by this share."""


@dataclass(frozen=True, slots=True)
class Doubts:
    """What can be wrong with one level.  Percentages are of the level."""

    scatter_percent: float  # standard deviation of the means that agree
    trend_percent: float  # their second half less their first
    step_percent: float  # what the display's steps can hide
    entry_share: float  # ramps, as a share of the plateau: a slow indicator may not have arrived
    exit_share: float
    outside_share: float  # of the plateau that disagrees
    far_share: float  # of the plateau that disagrees by more than a fair weight may be wrong
    sway_percent: float  # standard deviation of the values, over the square of the cycles seen
    crowded: bool
    spread_percent: float  # range of all the means
    zero_percent: float = 0.0  # how far the empty platform may have moved

    def budget_percent(self) -> float:
        """Add up."""
        return (
            0.10 * self.scatter_percent
            + 0.08 * self.trend_percent
            + 0.40 * self.step_percent
            + 0.07 * self.entry_share
            + 0.25 * self.exit_share
            + 0.60 * self.outside_share
            + 0.20 * self.sway_percent
            + 0.03 * min(8.0, self.spread_percent)
            + 0.05 * self.crowded
            + ZERO_SHARE * self.zero_percent
        )


GRADES: tuple[Grade, ...] = ("none", "poor", "fair", "good")
"""From the worst to the best."""


def worse(one: Grade, other: Grade) -> Grade:
    """Return the worse of two grades."""
    return min(one, other, key=GRADES.index)


def is_adrift(zero_percent: float) -> bool:
    """Return whether the empty platform alone, which may have moved so far unseen, leaves no grade that promises."""
    return ZERO_SHARE * zero_percent > FAIR_PERCENT


def grade_of(doubts: Doubts) -> Grade:
    """Return the grade a weight with these doubts earns."""
    budget_percent = doubts.budget_percent()
    if budget_percent > FAIR_PERCENT or doubts.far_share > FAR_SHARE:
        return "poor"
    return "good" if budget_percent <= GOOD_PERCENT else "fair"
