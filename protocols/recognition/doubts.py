"""What readings say against the layout that gave them: what cannot be known from them, and what contradicts itself."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Final, TypeAlias

from neckyoke.protocols.readings import Condition, Mode, WeightReading
from neckyoke.protocols.recognition.finding import Sure

STILL: Final = 0.9
"""Share of frames that show one number, from which on the weight is said not to have changed."""
MOVES: Final = 10
"""Changes of the weight that are enough to judge it by."""
WILD: Final = 0.3
"""A weight's usual change from frame to frame is a smaller share of its range than this."""
CLEARLY: Final = 2.0
"""How many times rougher the weights must be in one order of digits than in the other."""
DEEP: Final = 0.2
"""Share of the heaviest weight that a negative one has, from which on the minus is doubted."""
ONE_LENGTH: Final = 0.9
"""Share of the numbers that must be equally long for their digits to be turned round."""
TELLING: Final = 5
"""Steps into frames of one kind that are enough to speak of the kind."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing to check, in a sentence, and how sure one can be at most while it stands."""

    text: str
    at_most: Sure = Sure.LIKELY


Numbers: TypeAlias = Sequence[WeightReading]


def find_doubts(readings: Numbers) -> list[Doubt]:
    """Hold the readings against each other.  Only those with a number and in good order count."""
    numbers = [reading for reading in readings if reading.kg is not None and reading.condition is Condition.OK]
    return [doubt for is_so, doubt in _CHECKS if is_so(numbers)]


def least_sure(doubts: Sequence[Doubt]) -> Sure:
    """Return how sure one can be at most."""
    return min((doubt.at_most for doubt in doubts), key=SURENESS.index, default=Sure.SURE)


def jumps(numbers: Numbers) -> bool:
    """Return whether the weight changes as digits in another order would.

    Either it usually changes by a large part of its range, or by a much smaller one when the digits are turned round.
    """
    if sum(step > 0 for step in _steps(numbers)) < MOVES:
        return False
    rough = roughness(numbers)
    turned = _turned(numbers)
    return rough > WILD or (bool(turned) and rough > CLEARLY * _roughness(turned))


def roughness(numbers: Numbers) -> float:
    """Return by what part of its range the weight usually changes: least in the right order of digits."""
    return _roughness([reading.kg or 0.0 for reading in numbers])


def _roughness(weights: Sequence[float]) -> float:
    moves = [step for before, now in pairwise(weights) if (step := abs(now - before))]
    return median(moves) / span if moves and (span := _span(weights)) else 0.0


def _turned(numbers: Numbers) -> list[float]:
    """Turn the digits of each number round, those of the commonest length; none if that is not the length of most."""
    texts = [(reading.value or "").lstrip("+-") for reading in numbers]
    length, times = Counter(map(len, texts)).most_common(1)[0]
    if times < ONE_LENGTH * len(texts):
        return []
    return [float(text[::-1].replace(",", ".")) for text in texts if len(text) == length]


def _is_still(numbers: Numbers) -> bool:
    values = Counter(reading.value for reading in numbers)
    return len(values) < 3 or max(values.values()) > STILL * len(numbers)


def _has_no_point(numbers: Numbers) -> bool:
    return not any(point in (reading.value or "") for reading in numbers for point in ".,")


def _is_always_stable(numbers: Numbers) -> bool:
    steps = _steps(numbers)
    called_stable = sum(reading.stable is True for reading in numbers)
    return sum(step > 0 for step in steps) >= max(MOVES, len(steps) / 4) and called_stable > 0.95 * len(numbers)


def _contradicts_itself(numbers: Numbers) -> bool:
    calm, restless = (
        [step for step, now in zip(_steps(numbers), numbers[1:], strict=True) if now.stable is stable]
        for stable in (True, False)
    )
    return min(len(calm), len(restless)) >= TELLING and median(restless) < median(calm)


def falls_deep(numbers: Numbers) -> bool:
    """Return whether a good part of the weights is further below nought than a platform is untared."""
    weights = sorted(reading.kg or 0.0 for reading in numbers)
    return bool(weights) and weights[len(weights) // 20] < -DEEP * weights[-1 - len(weights) // 20]


def _is_never_positive(numbers: Numbers) -> bool:
    weights = [reading.kg for reading in numbers if reading.kg]
    return len(weights) >= MOVES and max(weights) < 0


def _takes_turns(numbers: Numbers) -> bool:
    return len({reading.mode for reading in numbers} & {Mode.GROSS, Mode.NET}) > 1


def _steps(numbers: Numbers) -> list[float]:
    return [abs((now.kg or 0.0) - (before.kg or 0.0)) for before, now in pairwise(numbers)]


def _span(numbers: Sequence[float]) -> float:
    """Range of the weights without the outermost twentieth at either end, which may be damage."""
    weights = sorted(numbers)
    edge = len(weights) // 20
    return weights[-1 - edge] - weights[edge]


DECIMALS: Final = ("decimals = 1",)
TAKE_MARK: Final = "take the # from"
NO_POINT: Final = Doubt(
    f"No decimal point is sent: compare with the display; if it shows tenths, {TAKE_MARK} decimals = 1."
)
SURENESS: Final = (Sure.UNSURE, Sure.LIKELY, Sure.SURE)
_CHECKS: Final[tuple[tuple[Callable[[Numbers], bool], Doubt], ...]] = (
    (_is_still, Doubt("The weight hardly changed: step on the platform while listening.")),
    (_has_no_point, NO_POINT),
    (jumps, Doubt("The number jumps as no weight does: its digits may stand in another order.", Sure.UNSURE)),
    (
        _is_always_stable,
        Doubt("Every frame is called stable although the weight changed: that mark means something else."),
    ),
    (
        _contradicts_itself,
        Doubt("Frames called stable change more than those called moving: the layout may be another.", Sure.UNSURE),
    ),
    (
        _is_never_positive,
        Doubt("No weight is above nought: what was taken for a minus may be another mark.", Sure.UNSURE),
    ),
    (
        _takes_turns,
        Doubt("Gross and net weights come in turn: choose a layout that takes one of them.", Sure.UNSURE),
    ),
)
