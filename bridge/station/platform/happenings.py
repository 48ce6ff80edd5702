"""What happens on a platform: the weight side's answers, in order, each with its own time."""

from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from neckyoke.bridge.events import Attention, Flag, Grade, Weight
from neckyoke.bridge.station.weight.grading import Doubts


@dataclass(frozen=True, slots=True)
class Began:
    """A stay began: something stood there from `on`.  Every `Began` is followed by one `Ended` of its number.

    `in_sight`: its first foot was seen.
    """

    number: int
    on: float
    in_sight: bool = True


@dataclass(frozen=True, slots=True)
class SettledAt:
    """A first trustworthy weight at `t`.  It comes again for the same number when a better one supersedes it."""

    number: int
    on: float
    t: float
    weight: Weight
    flags: tuple[Flag, ...] = ()


class Stood(NamedTuple):
    """How it stood there, for what a stop of the box leaves open.

    `steps_on`: it was on at the start, and had not all its feet there yet.  `first_kg` and `last_kg` are what stood
    still there for a moment first and last, roughly, None where nothing did.  `leaves`: most feet were lifted at last.
    """

    steps_on: bool = False
    first_kg: float | None = None
    last_kg: float | None = None
    leaves: bool = False


UNSEEN = Stood()
"""Nothing of it was seen."""


class Reckoned(NamedTuple):
    """What a weight and its grade rest on: its doubts, None where nothing was weighed, and the indicator's smoothing.

    `limit` is the best grade that how it stood allows, whatever the doubts: half on, held on the display, two levels.
    `delay_s` is by how much the display comes late, as learned from animals that left, 0 while it is not known or does
    not matter; `undone`: the weight is of what is left when that is undone.
    """

    doubts: Doubts | None = None
    limit: Grade = "good"
    delay_s: float = 0.0
    undone: bool = False


NOT_RECKONED = Reckoned()
"""Nothing is known of it."""


@dataclass(frozen=True, slots=True)
class Ended:
    """A stay ended at `off`; `settled` is when it first settled, None when it never did."""

    number: int
    on: float
    settled: float | None
    off: float
    weight: Weight
    flags: tuple[Flag, ...] = ()
    stood: Stood = UNSEEN
    reckoned: Reckoned = NOT_RECKONED


@dataclass(frozen=True, slots=True)
class ZeroMoved:
    """The empty platform, quiet again after the stay of this number, shows another weight than before it.

    It comes after that stay's `Ended`, which waits for nothing, and only when the difference matters to its weight:
    `weight` and `flags` are the stay's once more, with how far zero moved.
    """

    number: int
    t: float
    weight: Weight
    flags: tuple[Flag, ...]


Happening: TypeAlias = Began | SettledAt | Ended | ZeroMoved | Attention
