"""Is it settled, how heavy, how sure: the weight of one stay, while it lasts and at its end.

Two stages.  While the animal stands a first weight is looked for ten times a second (`first`); a level that comes
later and is higher supersedes it, for a pause half on looks settled too.  When the animal has left, the whole of its
plateau is weighed (`plateau`, `final`): going on averaging until then is the largest and cheapest gain there is.
"""

from dataclasses import replace
from statistics import median
from typing import NamedTuple

from neckyoke.bridge.station.weight.apart import may_be_two
from neckyoke.bridge.station.weight.arrival import Rests
from neckyoke.bridge.station.weight.bins import Track
from neckyoke.bridge.station.weight.estimators import BIN_S
from neckyoke.bridge.station.weight.final import NOTHING, Estimate, weigh
from neckyoke.bridge.station.weight.grading import GRADES, worse
from neckyoke.bridge.station.weight.lag import Lag, without
from neckyoke.bridge.station.weight.plateau import find_plateau
from neckyoke.bridge.station.weight.provisional import look
from neckyoke.bridge.station.weight.stepped import taken_in_kg
from neckyoke.bridge.station.weight.top import narrowed

LOOK_BINS, LOOK_AGAIN_BINS = 1, 5
"""Bins between looks, before and after the first weight."""
LASTS_S = 1.5
"""A plateau that lasts so long needs no look at its top."""
LEAST_PART = 0.18
"""A plateau that lasted for less than this part of the stay promises nothing: of drawn weights of that kind one in
fifty was gross, of others one in three thousand."""
ARRIVES = 5.0
"""What is level for so many times the indicator's delay has nearly all arrived."""
SUPERSEDES = 1.05
"""A later level this many times the first is another level."""
OUTWEIGHS = 1.25
"""What weighs so many times the heaviest of the last animals may be an animal and a person, or two."""
STOOD_BINS, STOOD_WITHIN, STOOD = 5, 33, 0.03
"""What stood still for so many bins, both halves of them alike within this share; looked for in so many."""

UNDONE_BINS = 5
"""Bins before those in question, so that what is undone of these has begun."""
LEAVES = 0.6
"""What shows less than this share of what stood there has most feet lifted."""


class Known(NamedTuple):
    """What the animals before tell, each None while they tell nothing.

    What the mob weighs, how slowly the indicator smooths, for how many bins it is on its way, what the heaviest of the
    last animals weighed, and how the indicator comes to rest; and whether some of the last ones leaned.
    """

    usual_kg: float | None = None
    lag: Lag | None = None
    arrives: int | None = None
    heaviest_kg: float | None = None
    rests: Rests | None = None
    leans: bool = False


NOBODY = Known()


class Settling:
    """The readings of one stay, net of the empty platform.

    `level` is what stands there, roughly (0 while it is not known), `first` the first weight that still holds.
    """

    def __init__(self, interval_kg: float, known: Known = NOBODY) -> None:
        self.track = Track(interval_kg)
        self.first: Estimate | None = None
        self.level = self.rested_kg = 0.0
        self._known, self._lag = known, known.lag
        self._next_look = 0

    def feed(self, t: float, kg: float, *, looks: bool = True) -> Estimate | None:
        """Take one reading; return a weight when a first one, or one that supersedes it, has become known.

        `looks`: it is known to be a stay.
        """
        self.track.add(t, kg)
        if len(self.track) < self._next_look:
            return None
        self._next_look = len(self.track) + (LOOK_BINS if self.first is None else LOOK_AGAIN_BINS)
        lately_kg = self.lately_kg()
        self.level = max(self.level, lately_kg)
        if not looks:
            return None
        if self.first is not None and self.first.grade != "poor" and not self._supersedes(lately_kg):
            return None
        known = self._known
        found = look(self.track, known.usual_kg, known.arrives, known.heaviest_kg, known.rests)
        if found is None or (self.first is not None and not self._is_news(found)):
            return None
        self.first = found
        return found

    def lately_kg(self) -> float:
        """Return the median of the last second: what stands there now, kicks aside."""
        return median(self.track.bins(10) or [0.0])

    def stood_kg(self, *, last: bool) -> float | None:
        """Return what stood still here for a moment first, or last, roughly; None where nothing did in the time."""
        bins = self.track.bins(STOOD_WITHIN) if last else self.track.bins()[:STOOD_WITHIN]
        starts = range(len(bins) - STOOD_BINS + 1)
        for start in reversed(starts) if last else starts:
            half = start + STOOD_BINS // 2
            level = median(bins[start : start + STOOD_BINS])
            if abs(median(bins[start:half]) - median(bins[half : start + STOOD_BINS])) <= STOOD * level:
                return level
        return None

    @property
    def leaves(self) -> bool:
        """Whether what is seen now is well below what stood here: most feet are lifted."""
        return median(self.track.bins(3) or [0.0]) < LEAVES * self.level

    @property
    def rests(self) -> Rests | None:
        """How the display comes to rest, as far as that is known."""
        return self._known.rests

    def outweighs(self, kg: float, times: float = OUTWEIGHS) -> bool:
        """Return whether this is more than so many times the heaviest of its mob; False where that is unknown."""
        heaviest_kg = self._known.heaviest_kg
        return heaviest_kg is not None and kg > times * heaviest_kg

    @property
    def delay_s(self) -> float:
        """By how much the display is late, as far as that is known."""
        return self._lag.delay_s if self._lag else 0.0

    def undone(self, since: float) -> list[float]:
        """Return what stood here since, with the display's smoothing undone; nothing where that is unknown."""
        if self._lag is None:
            return []
        bins = self.track.bins(round((self.track.ends - since) / BIN_S) + UNDONE_BINS)
        return without(self._lag, bins, bins[0])[UNDONE_BINS:] if bins else []

    @property
    def stands_kg(self) -> float:
        """What stands there, roughly, as shown, or with the display's smoothing undone, whichever is more."""
        return max([self.level, *self._stood()[-1:]])

    def stood_s(self, kg: float) -> float:
        """Return for how long at least this much stood here, with the display's smoothing undone; 0 where unknown."""
        return BIN_S * sum(one >= kg for one in self._stood())

    def _stood(self) -> list[float]:
        return [] if self._lag is None else without(self._lag, self.track.bins(), self.rested_kg)

    def sank(self) -> None:
        """Accept that less stands there now, and has for long."""
        self.level = self.lately_kg()

    def shift(self, kg: float) -> None:
        """Take it that the empty platform showed so much more all along."""
        self.track.shift(kg)
        self.rested_kg -= kg
        self.first, self.level, self._next_look = None, self.level - kg, 0

    def final(self, unsure_kg: float = 0.0, *, residue: bool = False) -> Estimate:
        """Weigh the whole stay.

        `unsure_kg`: by how much the empty platform may have read high; `residue`: something lay there, and was seen.
        """
        if not len(self.track):
            return NOTHING
        bins = self.track.bins()
        known = self._known
        as_shown = self._weighed(bins, unsure_kg, known.arrives, known.rests)
        found = as_shown = as_shown.over(residue=residue, leans=known.leans)
        if self._lag is not None:
            undone = self._weighed(without(self._lag, bins, self.rested_kg), unsure_kg)
            undone = replace(undone.over(residue=residue, leans=known.leans), delay_s=self._lag.delay_s)
            found = surer(as_shown.beside(undone), undone.beside(as_shown))
        if found.kg is None or found.limit == "poor":
            return found
        is_part = found.span_s < LEAST_PART * len(bins) * BIN_S
        if not is_part and not may_be_two(bins, found.kg, self.track.held()):
            return found
        return replace(found, grade=worse(found.grade, "poor"), limit="poor")

    def taken_in_kg(self, step_kg: float) -> float:
        """Return by how much the weight may be off, if the platform bears so much more since the stay than before."""
        plateau = find_plateau(self.track.bins())
        return abs(step_kg) if plateau is None else taken_in_kg(plateau.values, step_kg)

    def _weighed(
        self, bins: list[float], unsure_kg: float, arrives: int | None = None, rests: Rests | None = None
    ) -> Estimate:
        plateau = find_plateau(bins)
        found = weigh(plateau, self.track, unsure_kg, arrives, rests) if plateau else NOTHING
        if plateau and plateau.span_s >= LASTS_S:
            return found
        top = narrowed(plateau, bins, self.track.measured(), self.track.interval_kg)
        return higher(found, weigh(top, self.track, unsure_kg, arrives, rests)) if top else found

    def _supersedes(self, kg: float | None) -> bool:
        return self.first is not None and (kg or 0.0) > SUPERSEDES * (self.first.kg or 0.0)

    def _is_news(self, found: Estimate) -> bool:
        return self._supersedes(found.kg) or found.grade != "poor"


def higher(plateau: Estimate, top: Estimate) -> Estimate:
    """Return the heavier of two weights of a short stay: what holds some of the ramps is too light.

    It is doubted by how far the other is from it.
    """
    one, other = sorted((plateau, top), key=lambda found: found.kg or 0.0, reverse=True)
    return one.apart(other)


def surer(as_shown: Estimate, undone: Estimate) -> Estimate:
    """Return which of two weights of one stay to believe: of what was shown, or of that with the smoothing undone.

    The better grade, then the smaller error to be expected.  Of two poor ones what was shown, if that stood for long
    enough to have arrived.  Where much longer is level once it is undone, two animals may stand on it: no promise rests
    on that.
    """
    delay_s = undone.delay_s
    if undone.span_s > as_shown.span_s + 2 * delay_s + 1.0 and undone.grade != "none":
        undone = replace(undone, grade="poor")
    if as_shown.grade == undone.grade == "poor":
        return as_shown if as_shown.span_s > ARRIVES * delay_s else undone
    return min(undone, as_shown, key=lambda one: (-GRADES.index(one.grade), one.error_percent))
