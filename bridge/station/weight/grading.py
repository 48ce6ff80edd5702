"""How sure a weight is: the error to be expected of it, the chance that it breaks a promise, and the grade it earns.

Each part of a doubt is a way for a level to be wrong that shows in the readings, in per cent of the weight; the parts
are independent, so their squares add up (the law of propagation of uncertainty, JCGM 100:2008, 5.1.2; from memory).
What each is worth is fitted to what became of simulated stays, drawn as widely as could be thought of (the command is
`tests/bench/doubts.py`, over the half of the drawn yards that is there to tune on), as the scale of a Student's t
distribution: animals do what no reading shows, so that errors have longer tails than a normal distribution's (Lange,
Little and Taylor 1989, J. Am. Stat. Assoc. 84:881, from memory).  A confidence interval from the scatter alone would
claim too much: at its nominal 95 % it covers 87.

An empty platform that nobody saw is no scatter: what may lie there takes from the room that a promise leaves, and the
rest must fit into what is left.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from neckyoke.bridge.events import Grade

PROMISED_PERCENT: Mapping[Grade, float] = {"good": 1.0, "fair": 2.0}
"""A good and a fair weight is no further from the true one."""
MAY_BREAK: Mapping[Grade, float] = {"good": 0.01, "fair": 0.05}
"""A grade is given where the chance that it breaks is no greater, which is what the README promises of all of them."""
ONE_STEP = 0.15
"""What zero hides, in steps of the display: it is set to within a quarter of one (OIML R 76-1:2006, 4.5.2), either way
as likely, which is 0.14 as a standard deviation; and a little of what the weight's own rounding leaves."""
FITTED: dict[str, float] = {
    "sway": 0.42,
    "readings": 1.1,
    "trend": 0.165,
    "apart": 0.44,
    "undone": 0.31,
    "edges": 0.14,
    "ramps": 0.4,
    "still": 0.08,
    "leaving": 0.1,
}
"""What each part is worth, as a factor."""
BEHIND: dict[tuple[bool, bool | None], float] = {
    (True, False): 0.65,
    (True, True): 1.3,
    (True, None): 1.05,
    (False, False): 0.9,
    (False, True): 1.05,
    (False, None): 1.0,
}
"""What all of them are worth together where a stay was short, or was not, and began after the indicator had arrived,
before, or nobody knows: what has arrived is no ramp's."""
GUARDED: dict[str, float] = {"outside": 0.6, "beside": 0.6}
"""What stands beside an animal, or props it, is rare but far off: a fit of the many finds it worth little.  Set by
hand, so that stays that lean keep the promises too; in per cent of the weight for a whole plateau of it."""


@dataclass(frozen=True, slots=True)
class Doubts:
    """What can be wrong with one level.  Percentages are of the level, shares of its plateau's length."""

    sway_percent: float = 0.0  # standard deviation of the values, over the square of the cycles seen
    readings_percent: float = 0.0  # the same, over the readings: few of them can miss the rhythm altogether
    trend_percent: float = 0.0  # the second half of the means that agree less their first
    apart_percent: float = 0.0  # the plain mean less the weight: ways to find it that disagree
    undone_percent: float = 0.0  # the weight as shown less what it is with the indicator's smoothing undone
    step_percent: float = 0.0  # one step of the display
    still: bool = False  # it showed no more than two numbers, which hide up to half a step
    exit_share: float = 0.0  # the ramp down: a slow indicator may not have arrived
    outside_share: float = 0.0  # what disagrees
    beside: bool = False  # more, or something else, stood there for a while
    edges_percent: float = 0.0  # what the top of a short stay would be, had it begun or ended elsewhere
    ramps_percent: float = 0.0  # the weight of a short stay's top less that of its plateau
    short: bool = False  # it lasted for less than a second and a half
    late: bool | None = None  # it begins before the indicator has arrived; None where nobody knows how long that takes
    zero_percent: float = 0.0  # what may lie on the platform unseen

    def parts(self) -> dict[str, float]:
        """Return what each part is worth, as a standard error in per cent of the weight."""
        worth = FITTED | GUARDED
        sizes = {
            "sway": self.sway_percent,
            "readings": self.readings_percent,
            "trend": self.trend_percent,
            "apart": self.apart_percent,
            "undone": self.undone_percent,
            "edges": self.edges_percent,
            "ramps": self.ramps_percent,
            "still": self.step_percent * self.still,
            "leaving": self.exit_share,
            "outside": self.outside_share,
            "beside": float(self.beside),
        }
        behind = BEHIND[self.short, self.late]
        parts = {name: worth[name] * size for name, size in sizes.items()} | {"step": ONE_STEP * self.step_percent}
        return {name: behind * part for name, part in parts.items()}

    def error_percent(self) -> float:
        """Return the error to be expected: the scale of its distribution, in per cent of the weight."""
        return math.hypot(*self.parts().values())

    def chance_beyond(self, percent: float) -> float:
        """Return the chance that the weight is further than this from the true one.

        The error is a Student's t with three degrees of freedom, whose integral is an elementary function.
        """
        room, error = percent - self.zero_percent, self.error_percent()
        if room <= 0:
            return 1.0
        if error == 0:
            return 0.0
        x = room / error / math.sqrt(3)
        return 1 - 2 / math.pi * (math.atan(x) + x / (1 + x * x))


GRADES: tuple[Grade, ...] = ("none", "poor", "fair", "good")
"""From the worst to the best."""


def worse(one: Grade, other: Grade) -> Grade:
    """Return the worse of two grades."""
    return min(one, other, key=GRADES.index)


def is_adrift(zero_percent: float) -> bool:
    """Return whether the empty platform alone, on which so much may lie unseen, leaves no grade that promises."""
    return zero_percent >= PROMISED_PERCENT["fair"]


def grade_of(doubts: Doubts) -> Grade:
    """Return the grade a weight with these doubts earns."""
    for grade in reversed(GRADES):
        if grade in MAY_BREAK and doubts.chance_beyond(PROMISED_PERCENT[grade]) <= MAY_BREAK[grade]:
            return grade
    return "poor"
