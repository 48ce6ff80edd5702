"""A draft by head count: the heaviest (or lightest) so many go, told while the mob passes.

Theory.  Animals come one by one, each weighed once, and the gate must move before the next one comes.  How heavy those
still to come are is known from their last weights: each is forecast as a normal distribution about its last weight and
the gain since, and by how much the animals weighed so far were heavier than forecast moves all forecasts left.  Animals
without a last weight are forecast as the ones seen so far are spread.

The cut is the weight above which so many of those to come are expected to be heavier that the places left just suffice:

    expected number heavier than the cut, among those to come  =  places left - 1/2

so an animal goes when fewer than its places are expected to be taken by better ones.  Where as many places are left as
animals to come, all go; where none is left, none does.  So the count comes out, whatever was forecast, if all who were
expected come and are weighed well enough; who comes without being expected takes a place like any other.

With no last weights at all the first animals can only be guessed: picking the k best of n that come in random order
without knowing them loses of the order of 1/sqrt(k) of their sum (Kleinberg 2005, "A multiple-choice secretary
algorithm with applications to online auctions", SODA).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import erfc, sqrt
from statistics import fmean, stdev

FILL_PERCENT, GAIN_SD = 2.0, 0.18
"""What leaves two weights of one animal apart beside the mob's gain: standard deviations of gut fill, % of weight, and
of daily gain within a mob, kg/day.

Source: 60 calves of about 280 kg weighed eleven times (Kenward 1987, Appl. Stat. 36:296): gains over 14, 28, 42 and 56
days spread by 5.0, 7.5, 8.4 and 10.9 kg, which these two say as 6.1, 7.5, 9.4 and 11.5.
"""
LEAST_SD_KG, ANYWHERE_KG = 0.5, 1e6
"""The least spread of a forecast (an indicator's interval), and that of an animal of which nothing is known."""
STEPS = 40
SQRT_2 = sqrt(2)
LEARNED_FROM = 4
"""Animals weighed before the spread of forecasts' errors is taken from them."""


@dataclass(frozen=True, slots=True)
class Forecast:
    """What an animal is expected to weigh today: mean and standard deviation, kg."""

    kg: float
    sd_kg: float


def forecast(last_kg: float, days: float, kg_per_day: float) -> Forecast:
    """Return today's forecast from a weight `days` ago and the gain that the mob is expected to have made since."""
    kg = last_kg + kg_per_day * days
    return Forecast(kg, sqrt((FILL_PERCENT / 100 * kg) ** 2 + (GAIN_SD * days) ** 2))


class Heads:
    """One pen's places.  `expected` are the animals on the roster, by key, with a forecast or without.

    `cut_kg` and `left` may be asked at any time; `goes` decides for the animal that stands there, and `passed` takes
    what became of it.  An animal that comes twice is one animal.
    """

    def __init__(self, heads: int, expected: Mapping[str, Forecast | None], *, heaviest: bool = True) -> None:
        self._heads, self._heaviest = heads, heaviest
        self._to_come = dict(expected)
        self._took: dict[str, bool] = {}
        self._errors: list[tuple[float, float]] = []  # (kg more than forecast, sd forecast)
        self._weights: list[float] = []

    @property
    def left(self) -> int:
        """Places left."""
        return max(0, self._heads - sum(self._took.values()))

    @property
    def to_come(self) -> int:
        """Animals of the roster still to come."""
        return len(self._to_come)

    @property
    def shortfall(self) -> int:
        """Places that stay empty even if all who are still to come go."""
        return max(0, self.left - self.to_come)

    @property
    def cut_kg(self) -> float | None:
        """Above which weight the next animal goes (below which, where the lightest do); None while all or none go."""
        coming = self._coming()
        if self.left == 0 or self.left >= len(self._to_come) or not coming:
            return None
        low, high = min(kg - 6 * sd for kg, sd in coming), max(kg + 6 * sd for kg, sd in coming)
        rest = (len(coming) - 1) / len(coming)  # the next one is itself among those to come: it competes with the rest
        for _ in range(STEPS):  # bisection: the expected number falls with the weight (rises, for the lightest)
            middle = (low + high) / 2
            if (self._better(middle, coming) * rest > self.left - 0.5) == self._heaviest:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def goes(self, key: str, kg: float) -> bool:
        """Return whether the animal that stands there goes.  One that took a place keeps it."""
        if self._took.get(key):
            return True
        coming = self._coming(but=key)
        if self.left == 0 or self.left > len(coming):
            return self.left > 0
        return self._better(kg, coming) < self.left - 0.5

    def passed(self, key: str, kg: float, *, went: bool) -> None:
        """Take what became of an animal; told again, only where it went counts anew."""
        if key not in self._took:
            self._weights.append(kg)
            said = self._to_come.pop(key, None)
            if said is not None:
                self._errors.append((kg - said.kg, said.sd_kg))
        self._took[key] = went

    def came(self, key: str) -> None:
        """Take that an animal came and was not weighed well enough: it is not to come any more, and took no place."""
        self._to_come.pop(key, None)

    def _coming(self, but: str = "") -> list[tuple[float, float]]:
        """Return (mean, sd) of each animal to come, as today's weights have moved its forecast.

        One without a forecast is expected as those seen are spread, and where two have not been seen yet, anywhere.
        """
        off, wider = self._learned()
        seen = (
            (fmean(self._weights), max(LEAST_SD_KG, stdev(self._weights)))
            if len(self._weights) > 1
            else (fmean(self._weights) if self._weights else 0.0, ANYWHERE_KG)
        )
        return [
            seen if one is None else (one.kg + off, max(LEAST_SD_KG, one.sd_kg * wider))
            for key, one in self._to_come.items()
            if key != but
        ]

    def _learned(self) -> tuple[float, float]:
        """Return by how much forecasts are moved, and by how much their spread is stretched."""
        if not self._errors:
            return 0.0, 1.0
        off = fmean(error for error, _ in self._errors)
        moved = off * len(self._errors) / (len(self._errors) + 1)
        return moved, _spread(self._errors, off) if len(self._errors) >= LEARNED_FROM else 1.0

    def _better(self, kg: float, coming: Iterable[tuple[float, float]]) -> float:
        """Return how many of those to come are expected to be heavier (lighter, where the lightest go)."""
        sign = 1 if self._heaviest else -1
        return sum(0.5 * erfc(sign * (kg - mean) / (sd * SQRT_2)) for mean, sd in coming)


def _spread(errors: Iterable[tuple[float, float]], off: float) -> float:
    """Return by how much the forecasts' errors are wider (above 1) or narrower than was forecast."""
    parts = [((error - off) / sd) ** 2 for error, sd in errors if sd > 0]
    return sqrt(sum(parts) / max(1, len(parts) - 1)) if parts else 1.0


def first_come(weights: Iterable[tuple[str, float]], heads: int) -> list[str]:
    """Return whom the plainest rule takes: the first so many.  For comparison."""
    return [key for key, _ in weights][:heads]


def given_up_kg(weights: Mapping[str, float], took: Iterable[str], heads: int, *, heaviest: bool = True) -> float:
    """Return the mean weight given up against the best choice of so many, known afterwards: 0 when none is."""
    best = sorted(weights.values(), reverse=heaviest)[:heads]
    took_kg = [weights[key] for key in took]
    if not best or not took_kg:
        return 0.0
    return abs(fmean(best) - fmean(took_kg))


def cut_after(weights: Iterable[float], heads: int, *, heaviest: bool = True) -> tuple[float, float] | None:
    """Return the weights of the last that goes and the first that stays, for so many heads; None for too few."""
    ordered = sorted(weights, reverse=heaviest)
    if not 0 < heads < len(ordered):
        return None
    return ordered[heads - 1], ordered[heads]
