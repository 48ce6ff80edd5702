"""The weight of a whole stay, and how sure it is, from its plateau."""

from dataclasses import dataclass, replace
from statistics import fmean, median

from neckyoke.bridge.events import Grade
from neckyoke.bridge.station.weight.arrival import ARRIVED, Rests, nearly
from neckyoke.bridge.station.weight.bins import HELD_AT_MOST_S, Blind, Track
from neckyoke.bridge.station.weight.estimators import (
    BIN_S,
    agreed_level,
    fit_sine,
    moving_means,
    narrowest_half,
    scatter,
    winsorised,
)
from neckyoke.bridge.station.weight.grading import Doubts, grade_of, worse
from neckyoke.bridge.station.weight.plateau import Plateau

WIDTHS = (5, 7, 10, 14, 20)
"""Widths, in bins, of the means that pieces of a plateau are compared by: 0.5 to 2 s."""
FEW = 25
"""Bins too few to have pieces that could outvote each other."""
FITTED = 100
"""Most bins a rhythm is fitted to; over ten seconds it has wandered, and the mean is as good."""
LEAST = 8
"""Bins without which no rhythm is fitted."""
FEWEST = 6
"""Bins without which any number is poor."""
GOOD_S, GOOD_READINGS, FAIR_READINGS = 1.5, 8, 3
"""No good weight rests on less, and no fair one on fewer: of 252 drawn fair weights by two readings 3 were gross."""
DISAGREES, DISAGREES_S = 0.45, 2.0
"""Where more than this share of a plateau, as long as this, disagrees with its level, it is one level of two: of drawn
weights of that kind one in sixty was gross, of others one in two thousand."""
AS_LONG = 1.0
"""A display that takes so many times as long to leave a short level as it stood there may never have arrived there: of
drawn fair weights of that kind one in thirty was gross, of others one in two thousand."""
LEANING_SHARE, LEANING_S = 0.85, 3.0
"""A plateau as long as this of which less agrees is said to lean."""
CUT_APART = 0.012
"""What was cut off as a transient and is further than this from the weight speaks against it."""
RELEASE_LEAP = 0.2
"""A number that stood until the animal left was held if the next is further away than this; else feet were lifting."""
HELD_SHARE, HELD_APART = 0.5, 0.025
"""A plateau less of which was measured, the rest held on the display, is fair at best; poor if it is this far apart."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A weight and how sure it is.  `kg` is None when the grade is none; the spread is of one-second means.

    `doubts` are what the grade rests on, None where nothing was weighed; `limit` is the best that what the doubts do
    not tell allows.  `delay_s`: of the indicator's smoothing that was undone for it, 0 if none was (`lag`).
    """

    kg: float | None
    grade: Grade
    spread_kg: float | None = None
    restlessness_percent: float | None = None
    readings: int = 0
    span_s: float = 0.0
    leaning: bool = False
    crowded: bool = False
    frozen: bool = False
    doubts: Doubts | None = None
    limit: Grade = "good"
    delay_s: float = 0.0

    @property
    def error_percent(self) -> float:
        """The error to be expected, infinite where nothing was weighed."""
        return self.doubts.error_percent() if self.doubts else float("inf")

    def beside(self, other: "Estimate") -> "Estimate":
        """Return this one, doubted by how far one with the smoothing undone, or not undone, is from it."""
        return self._doubted(undone_percent=self._off_percent(other))

    def apart(self, other: "Estimate") -> "Estimate":
        """Return this one, doubted by how far one of another part of the stay is from it."""
        return self._doubted(ramps_percent=self._off_percent(other))

    def over(self, *, residue: bool, leans: bool) -> "Estimate":
        """Return this one of a whole stay, doubted by what the display hides of a residue that was taken off.

        And more if others of its mob lean.
        """
        return self._doubted(residue=residue, leans=leans)

    def _off_percent(self, other: "Estimate") -> float:
        return 100 * abs(other.kg / self.kg - 1) if self.kg and other.kg else 0.0

    def _doubted(self, **more: float) -> "Estimate":
        if self.doubts is None:
            return self
        doubts = replace(self.doubts, **more)  # type: ignore[arg-type]
        return replace(self, doubts=doubts, grade=worse(grade_of(doubts), self.limit))


NOTHING = Estimate(None, "none")


@dataclass(frozen=True, slots=True)
class Agreed:
    """The level a plateau agrees on, the running means that lie within reach of it, and their share of all."""

    kg: float
    means: list[float]
    share: float
    every: list[float]  # all the running means


def agree(values: list[float], kept: list[bool]) -> Agreed:
    """Find the level most of a plateau agrees on.

    Pieces are compared by running means, as wide as makes them agree best: wide enough for the sway to cancel, narrow
    enough not to smear one level into the next.
    """
    own = [value for value, one in zip(values, kept, strict=True) if one]
    best, means = float("inf"), own
    for width in WIDTHS:
        if width > max(WIDTHS[0], len(values) // 2):
            break
        runs = moving_means([float(one) for one in kept], width)
        some = [mean for mean, run in zip(moving_means(values, width), runs, strict=True) if run > 1 - 1e-9]
        if len(some) < 5:
            continue
        score = max(narrowest_half(some), 0.002 * some[0]) * width**0.1
        if score < best:
            best, means = score, some
    middle = median(means)
    reach = min(max(0.008 * middle, narrowest_half(means)), 0.02 * middle)
    level = middle if len(own) < FEW else agreed_level(means, reach)
    inside = [mean for mean in means if abs(mean - level) <= 2 * reach]
    return Agreed(level, inside or means, len(inside) / len(means), means)


def weigh(
    plateau: Plateau,
    track: Track,
    unsure_kg: float = 0.0,
    arrives: int | None = None,
    rests: Rests | None = None,
) -> Estimate:
    """Weigh a plateau.

    `unsure_kg`: by how much the empty platform may have read high; `arrives`: for how many bins the indicator is on its
    way, and `rests`: how it comes to rest, each None where that is not known.
    """
    free = _measured(plateau, track)
    kept = [one and other for one, other in zip(plateau.kept, free, strict=True)]
    if sum(kept) < LEAST:
        kept = plateau.kept
    own = [value for value, one in zip(plateau.values, kept, strict=True) if one]
    if not own or min(own) <= 0:
        return NOTHING
    agreed = agree(plateau.values, kept)
    kg, cycles = _refine(plateau.values, own, agreed)
    cut_apart = sum(abs(value - kg) > CUT_APART * kg for value in plateau.cut) / len(kept)
    readings = track.readings(plateau.start, plateau.start + len(kept))
    sd_percent = 100 * scatter(own) / kg
    doubts = Doubts(
        sway_percent=sd_percent / max(cycles, 0.3) ** 2,
        readings_percent=sd_percent / (readings + 1),
        trend_percent=100 * _trend(agreed.means) / kg,
        apart_percent=100 * abs(fmean(own) - agreed.kg) / kg,
        step_percent=100 * track.interval_kg / kg,
        still=len(set(own)) <= 2,
        exit_share=plateau.exit_s / plateau.span_s,
        outside_share=1 - agreed.share + cut_apart,
        beside=plateau.crowded,
        zero_percent=100 * unsure_kg / kg,
        edges_percent=100 * plateau.edges_kg / kg,
        short=plateau.span_s < GOOD_S,
        late=_is_late(plateau, track, kg, arrives),
        rests=rests,
    )
    apart = max(plateau.values + plateau.cut) - min(plateau.values + plateau.cut)
    unmeasured = _never_measured(plateau, track)
    frozen = unmeasured or (sum(free) < HELD_SHARE * len(free) and apart > 0)
    limit: Grade = "good"
    few = len(own) < FEWEST or readings < FAIR_READINGS
    passes = doubts.short and doubts.exit_share >= AS_LONG and _was_seen_leaving(plateau, track)
    is_one_of_two = doubts.outside_share > DISAGREES and plateau.span_s >= DISAGREES_S
    split = plateau.passing or plateau.twofold or is_one_of_two
    if few or passes or split or unmeasured or (frozen and apart > HELD_APART * kg):
        limit = "poor"
    elif frozen or len(own) * BIN_S < GOOD_S or readings < GOOD_READINGS:
        limit = "fair"
    seconds = moving_means(own, min(10, len(own)))
    return Estimate(
        kg=kg,
        grade=worse(grade_of(doubts), limit),
        spread_kg=max(seconds) - min(seconds),
        restlessness_percent=100 * scatter(own) / fmean(own),
        readings=readings,
        span_s=plateau.span_s,
        leaning=agreed.share < LEANING_SHARE and plateau.span_s >= LEANING_S,
        crowded=plateau.crowded,
        frozen=frozen,
        doubts=doubts,
        limit=limit,
    )


def _was_seen_leaving(plateau: Plateau, track: Track) -> bool:
    """Return whether readings tell how long the way down took: some displays are blank while the weight moves.

    Half as many as while it stood, for the time, are enough.
    """
    bins, way = len(plateau.values), round(plateau.exit_s / BIN_S)
    end = plateau.start + bins
    return 2 * track.readings(end, end + way) * bins >= track.readings(plateau.start, end) * way


def _is_late(plateau: Plateau, track: Track, kg: float, arrives: int | None) -> bool | None:
    """Return whether the plateau begins before the indicator has arrived; None where nobody knows."""
    if arrives is None:
        return None
    first = nearly(track.bins(), kg)
    return first is not None and plateau.start - first < arrives - ARRIVED


def _trend(means: list[float]) -> float:
    half = len(means) // 2
    return abs(fmean(means[half:]) - fmean(means[:half])) if half else 0.0


def _refine(values: list[float], own: list[float], agreed: Agreed) -> tuple[float, float]:
    """Return the weight and the cycles seen.  Where nothing disagrees, means and a fitted rhythm have their say."""
    if len(values) < LEAST:
        return fmean(own), 0.5
    recent = values[-FITTED:]
    sine = fit_sine(recent)
    cycles = sine.hz * len(recent) * BIN_S
    whole = len(own) == len(values)
    if len(own) >= FEW and (agreed.share < 0.9 or not whole):
        return agreed.kg, cycles
    few = len(own) <= FEW + 5
    plain = fmean(own) if few else fmean(agreed.means)
    fitted = sine.level if whole and cycles >= 1.0 and len(values) <= FITTED else agreed.kg
    return median((plain, fitted, winsorised(own) if few else agreed.kg)), cycles


def _places(span: Blind, plateau: Plateau, track: Track) -> tuple[int, int]:
    """Return the first and last place of a span in a plateau; they may lie outside."""
    first, last = (int((t - track.started) / BIN_S + 1e-6) - plateau.start for t in (span.start, span.end))
    return first, last


def _measured(plateau: Plateau, track: Track) -> list[bool]:
    """Return which bins were measured: not those of a held display (but its first), nor bridged over a silence."""
    free = [True] * len(plateau.values)
    for span in track.blind:
        first, last = _places(span, plateau, track)
        if last >= len(free) - 2 and span.leap < RELEASE_LEAP:
            continue
        for place in range(max(0, first + 1), min(len(free), last + 1)):
            free[place] = False
    return free


def _never_measured(plateau: Plateau, track: Track) -> bool:
    """Return whether the whole plateau may be one held number: what is held may be a foot short of the animal."""
    for span in track.blind:
        first, last = _places(span, plateau, track)
        brief = span.leapt and span.end - span.start < HELD_AT_MOST_S
        if first <= 0 and last >= len(plateau.values) - 2 and (span.rises or brief):
            return True
    return False
