"""How sure a weight is: a budget of what can be wrong with it, and the grade it earns.

Each part of the budget is a way for a level to be wrong that shows in the readings, in per cent of the weight.  What each
is worth was found once, by non-negative least squares of the error on the parts, over some 24,000 simulated stays whose
animals, indicators and disturbances were drawn as widely as we could think of (the bench's regimes and wider ones); the
bounds were then set so that each grade keeps its promise in the worst regime, not on average.  An interval computed from
the scatter alone claims too much: at its nominal 95 % it covers 87.
"""

from dataclasses import dataclass

from bridge.events import Grade

GOOD_PERCENT = 0.25
FAIR_PERCENT = 0.6
"""Largest budgets of a good and a fair weight.  (The budget is a typical error; the promise is one hardly ever broken.)"""


@dataclass(frozen=True, slots=True)
class Doubts:
    """What can be wrong with one level.  Percentages are of the level."""

    scatter_percent: float  # standard deviation of the means that agree
    trend_percent: float  # their second half less their first
    step_percent: float  # what the display's steps can hide
    entry_share: float  # ramps, as a share of the plateau: a slow indicator may not have arrived
    exit_share: float
    outside_share: float  # of the plateau that disagrees
    sway_percent: float  # standard deviation of the values, over the square of the cycles seen
    levels: bool  # there were others
    zero_percent: float = 0.0  # how far the empty platform may have moved

    def budget_percent(self) -> float:
        """Add up."""
        return (
            0.185 * self.scatter_percent
            + 0.09 * self.trend_percent
            + 0.33 * self.step_percent
            + 0.07 * self.entry_share
            + 0.34 * self.exit_share
            + 0.47 * self.outside_share
            + 0.18 * self.sway_percent
            + 0.09 * self.levels
            + 0.5 * self.zero_percent
        )


def grade_of(budget_percent: float) -> Grade:
    """Return the grade a weight of this budget earns."""
    if budget_percent <= GOOD_PERCENT:
        return "good"
    return "fair" if budget_percent <= FAIR_PERCENT else "poor"
