"""The pictures of a tally: which values each is drawn from."""

from collections.abc import Callable, Mapping, Sequence
from typing import TypeAlias

from neckyoke.bridge.reports.pictures.bars import gains, weights
from neckyoke.bridge.reports.pictures.mob_growth import Spread, mob_growth
from neckyoke.bridge.reports.pictures.then_and_now import Pair, then_and_now
from neckyoke.bridge.reports.tally import Tally

Draw: TypeAlias = Callable[[Tally, Sequence[Spread]], str]

PICTURES: Mapping[str, Draw] = {
    "weights": lambda tally, _: weights(tally.distribution, tally.weight.mean),
    "gains": lambda tally, _: gains(tally.gains, tally.gain.mean),
    "then-and-now": lambda tally, _: then_and_now(pairs(tally)),
    "mob": lambda _, growth: mob_growth(growth),
}
"""Of a job, by name, in the order in which they are shown.  Each takes the job's tally and its mob's growth
(`selection.mobs.growth`), and returns SVG."""


def pairs(tally: Tally) -> list[Pair]:
    """Return each animal with a last weight: its name, that weight and today's, kg."""
    return [Pair(row.name, row.then, row.kg) for row in tally.animals if row.then is not None and row.kg is not None]
