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
from neckyoke.bridge.station.weight.arrival import Rests

PROMISED_PERCENT: Mapping[Grade, float] = {"good": 1.0, "fair": 2.0}
"""A good and a fair weight is no further from the true one."""
MAY_BREAK: Mapping[Grade, float] = {"good": 0.01, "fair": 0.08}
"""A grade is given where the chance that it breaks is no greater.  What the README promises (99 and 95 of 100) is of
all that carry it, most of which are far from this edge: of drawn yards' fair weights 98 of 100 keep it."""
PLAIN, LEANS = 0.15, 0.05
"""So great it may be for a fair weight of a short stay by which nothing stood, of a mob that stands upright; and so
great where others of the mob leaned lately.  Who leans shows it least in a short stay: of those with a chance of 8 to
12 in 100 22 broke the promise in mobs that lean, and 6 in others (drawn yards, the half to tune on)."""
PLAIN_MOST: dict[str, float] = {"outside": 0.09, "beside": 0.0, "ramps": 0.4}
"""Nothing stood by it where these parts are no greater: it did not lean (`final.LEANING_SHARE`), and a person for a
moment, who makes gross errors, shows in the other two."""
ONE_STEP = 0.083
"""What zero hides, in steps of the display: it is set to within a quarter of one (OIML R 76-1:2006, 4.5.2), either way
as likely, which is 0.14 as a standard deviation; of an error that is never larger, unlike those of the distribution
here, the scale is less."""
RESIDUE_STEP = 0.144
"""What it hides beside that where something lies there: no indicator was set to that, so it is shown to half a step."""
FITTED: dict[str, float] = {
    "sway": 0.28,
    "readings": 1.6,
    "trend": 0.2,
    "apart": 0.57,
    "undone": 0.165,
    "edges": 0.055,
    "ramps": 0.3,
    "still": 0.14,
    "leaving": 0.127,
}
"""What each part is worth, as a factor."""
BEHIND: dict[tuple[bool, Rests | None], dict[bool | None, float]] = {
    (True, "quick"): {False: 0.73, None: 0.64, True: 0.73},
    (True, "middling"): {False: 1.0, None: 1.1, True: 1.1},
    (True, "slow"): {False: 1.27, None: 2.5, True: 2.9},
    (True, None): {False: 1.27, None: 1.45, True: 1.64},
    (False, "quick"): {False: 0.75, None: 0.82, True: 0.76},
    (False, "middling"): {False: 0.85, None: 1.1, True: 1.05},
    (False, "slow"): {False: 1.27, None: 1.6, True: 1.82},
    (False, None): {False: 1.0, None: 1.0, True: 1.05},
}
"""What these, and the display's steps, are worth together where a stay was short, or was not, by how the indicator
comes to rest (`arrival`); and where it began after the indicator had arrived, nobody knows, or before: what has arrived
is no ramp's."""
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
    rests: Rests | None = None  # how the indicator comes to rest; None where nobody knows
    zero_percent: float = 0.0  # what may lie on the platform unseen
    residue: bool = False  # what lies there is seen, and taken off as the display shows it
    leans: bool | None = None  # others of the mob leaned lately; None while the stay is not over

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
        behind = BEHIND[self.short, self.rests][self.late]
        parts = {name: worth[name] * size for name, size in sizes.items()} | {"step": ONE_STEP * self.step_percent}
        told = {name: part * (1.0 if name in GUARDED else behind) for name, part in parts.items()}
        return told | {"residue": RESIDUE_STEP * self.step_percent * self.residue}

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

    def may_break(self, grade: Grade) -> float:
        """Return how great the chance may be that a weight with this grade breaks its promise."""
        if grade != "fair" or self.leans is None:
            return MAY_BREAK[grade]
        if self.leans:
            return LEANS
        parts = self.parts()
        plain = self.short and all(parts[name] <= most for name, most in PLAIN_MOST.items())
        return PLAIN if plain else MAY_BREAK[grade]


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
        if grade in MAY_BREAK and doubts.chance_beyond(PROMISED_PERCENT[grade]) <= doubts.may_break(grade):
            return grade
    return "poor"
