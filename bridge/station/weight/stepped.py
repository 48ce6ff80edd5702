"""Whether something came to the platform, or went from it, while an animal stood there.

That the platform bears more after a stay than before it is known; when it came is not.  What came in the middle is a
step in the readings, which the mean over a plateau takes in part.  Each place where that step may be explains the
readings more or less well (a sum of squares beside it, a likelihood as if errors were normal), and so does that it came
as the animal went; by Bayes's rule all that makes one expectation of how far off the mean is.  A step before the
plateau shows in no reading of it: who asks must know what else speaks for or against that.
"""

import math
from collections.abc import Sequence
from itertools import accumulate

FOLLOWS = 5
"""Values that hang together: sway makes neighbours alike."""
WITHIN = 0.5
"""The chance that it came while the animal stood there, before anything was seen."""


def taken_in_kg(values: Sequence[float], step_kg: float) -> float:
    """Return how much of a step of this size the mean of these values may be off by, in kilograms; never below zero."""
    count = len(values)
    if count < 2:
        return abs(step_kg)
    mean = sum(values) / count
    past = list(accumulate(value - mean for value in values))  # their total is zero
    # With the step undone from place n on, the squares beside the mean are fewer by this.
    gains = [-2 * step_kg * past[n - 1] - step_kg**2 * n * (count - n) / count for n in range(1, count)]
    squares = sum((value - mean) ** 2 for value in values)
    spread = 2 * FOLLOWS * max(squares - max(0.0, *gains), 1e-9) / count
    chances = [math.exp(min(gain / spread, 700.0)) * WITHIN / (count - 1) for gain in gains]
    taken = sum(chance * (count - n) / count for n, chance in enumerate(chances, start=1))
    return abs(step_kg) * taken / (sum(chances) + 1 - WITHIN)
