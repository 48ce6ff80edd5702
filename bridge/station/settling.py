"""Is it settled, how heavy, how sure: the weight of one stay, while it lasts and at its end.

Two stages.  While the animal stands, a window grows from where the level last jumped, to six seconds at most, and the
first weight is given as soon as three estimates that fail differently agree over at least 1.25 cycles of its rhythm.  A
pause half on looks settled too, so a higher level later supersedes.  When the animal has left, the whole plateau is used:
going on averaging until then is the largest and cheapest gain there is.
"""

from dataclasses import dataclass, replace
from statistics import fmean, median, pstdev

from bridge.events import Grade
from bridge.station.estimate import (
    BIN_S,
    agreed_level,
    fit_sine,
    moving_means,
    narrowest_half,
    triangular,
    winsorised,
)
from bridge.station.grading import Doubts, grade_of
from bridge.station.plateau import Plateau, find_plateau
from bridge.station.track import Track

WIDTHS = (5, 7, 10, 14, 20)
"""Widths of the means that pieces of a plateau are compared by: 0.5 to 2 s."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A weight and how sure it is.  `kg` is None when the grade is none; the spread is of one-second means."""

    kg: float | None
    grade: Grade
    spread_kg: float | None = None
    restlessness_percent: float | None = None
    readings: int = 0
    span_s: float = 0.0
    leaning: bool = False
    crowded: bool = False
    frozen: bool = False


NOTHING = Estimate(None, "none")


@dataclass(frozen=True, slots=True)
class Agreed:
    """The level a plateau agrees on: means over `width` bins that lie within reach of it, and their share of all."""

    kg: float
    means: list[float]
    share: float
    width: int


def agree(values: list[float], kept: list[bool]) -> Agreed:
    """Find the level most of a plateau agrees on.

    Pieces are compared by running means, as wide as makes them agree best: wide enough for the sway to cancel, narrow
    enough not to smear one level into the next.
    """
    widths = [width for width in WIDTHS if width <= max(WIDTHS[0], len(values) // 2)]
    best: tuple[float, int, list[float]] | None = None
    centre = fmean(values)
    for width in widths:
        runs = moving_means([float(one) for one in kept], width)
        means = [mean for mean, run in zip(moving_means(values, width), runs, strict=True) if run > 1 - 1e-9]
        if len(means) < 5:
            continue
        score = max(narrowest_half(means), 0.002 * centre) * width**0.25
        if best is None or score < best[0]:
            best = (score, width, means)
    if best is None:
        own = [value for value, one in zip(values, kept, strict=True) if one]
        return Agreed(fmean(own), own, 1.0, 1)
    _, width, means = best
    middle = median(means)
    reach = min(max(0.008 * middle, narrowest_half(means)), 0.02 * middle)
    level = middle if len(values) < 25 else agreed_level(means, reach)
    inside = [mean for mean in means if abs(mean - level) <= 2 * reach]
    return Agreed(level, inside or means, len(inside) / len(means), width)


def weigh_plateau(plateau: Plateau, track: Track, zero_percent: float = 0.0) -> Estimate:
    """Weigh a plateau whole."""
    values, frozen = plateau.values, False
    if len(values) < 4:
        return NOTHING
    free = _not_held(plateau, track)
    kept = [one and other for one, other in zip(plateau.kept, free, strict=True)]
    frozen = sum(free) < 0.5 * len(free)
    if sum(kept) < 5:
        kept = plateau.kept
    agreed = agree(values, kept)
    own = [value for value, one in zip(values, kept, strict=True) if one]
    sine = fit_sine(values[-100:]) if len(values) >= 8 else None
    cycles = sine.hz * min(100, len(values)) * BIN_S if sine else 0.5
    kg = agreed.kg
    whole = all(kept)
    if sine and (len(values) < 25 or (agreed.share >= 0.9 and whole)):
        plain = fmean(own) if len(values) <= 30 else fmean(agreed.means)
        fitted = sine.level if cycles >= 1.0 and len(values) <= 100 and whole else kg
        kg = median((plain, fitted, winsorised(own) if len(values) <= 30 else kg))
    if kg <= 0:
        return NOTHING
    half = len(agreed.means) // 2
    steps = len(set(own)) <= 2
    doubts = Doubts(
        scatter_percent=100 * fmean((mean - kg) ** 2 for mean in agreed.means) ** 0.5 / kg,
        trend_percent=100 * abs(fmean(agreed.means[half:]) - fmean(agreed.means[:half])) / kg if half else 0.0,
        step_percent=100 * track.interval_kg * (0.5 if steps else 0.1) / kg,
        entry_share=plateau.entry_s / plateau.span_s,
        exit_share=plateau.exit_s / plateau.span_s,
        outside_share=1 - agreed.share,
        sway_percent=100 * pstdev(own) / kg / max(cycles, 0.3) ** 2,
        levels=plateau.crowded,
        zero_percent=zero_percent,
    )
    grade = grade_of(doubts.budget_percent())
    if len(values) < 8 or (frozen and grade == "good"):
        grade = "poor"
    seconds = moving_means(own, min(10, len(own)))
    return Estimate(
        kg=round(kg, 2),
        grade=grade,
        spread_kg=round(max(seconds) - min(seconds), 2),
        restlessness_percent=round(100 * pstdev(own) / fmean(own), 2),
        readings=track.readings(plateau.start, plateau.start + len(values)),
        span_s=round(plateau.span_s, 1),
        leaning=agreed.share < 0.85 and plateau.span_s >= 3.0,
        crowded=plateau.crowded,
        frozen=frozen,
    )


def _not_held(plateau: Plateau, track: Track) -> list[bool]:
    """Tell which bins were measured, not a held display (of one that is held, the first counts)."""
    free = [True] * len(plateau.values)
    for start, end in track.held:
        first, last = (int((t - track.started) / BIN_S + 1e-6) - plateau.start for t in (start, end))
        for place in range(max(0, first + 1), min(len(free), last + 1)):
            free[place] = False
    return free


WINDOW = 60
"""Bins in the longest live window: six seconds."""
SHORTEST = 15
AGREE_GOOD, AGREE_FAIR = 0.005, 0.01
JUMP = 0.08
"""The live window reaches back to where half-second means were last further off than this share."""


class Settling:
    """The readings of one stay, net of the empty platform, and what they say."""

    def __init__(self, interval_kg: float) -> None:
        self.track = Track(interval_kg)
        self.first: Estimate | None = None
        self.level = 0.0
        self._next_look = 0

    def feed(self, t: float, kg: float) -> Estimate | None:
        """Take one reading; return a weight when a first, or a superseding, one has become known."""
        self.track.add(t, kg)
        if len(self.track) < self._next_look:
            return None
        self._next_look = len(self.track) + (2 if self.first is None else 5)
        bins = self.track.bins(WINDOW)
        self.level = max(self.level, fmean(bins[-6:]))
        found = _look(bins, self.track)
        if found is None or (self.first is not None and not _supersedes(found, self.first)):
            return None
        self.first = found
        return found

    def final(self, zero_percent: float = 0.0) -> Estimate:
        """Return the weight of the whole stay."""
        plateau = find_plateau(self.track.bins())
        return weigh_plateau(plateau, self.track, zero_percent) if plateau else NOTHING


def _supersedes(found: Estimate, first: Estimate) -> bool:
    assert found.kg is not None and first.kg is not None, "both were weighed"  # noqa: PT018
    return found.kg > 1.05 * first.kg


def _look(bins: list[float], track: Track) -> Estimate | None:
    """Look at the live window: a weight if three estimates agree, None if not yet."""
    if len(bins) < SHORTEST:
        return None
    level = fmean(bins[-10:])
    means = moving_means(bins, 5)
    start = len(means) - 1
    while start > 0 and abs(means[start - 1] - level) <= JUMP * level:
        start -= 1
    values = bins[start + 3 if start else 0 :]
    if len(values) < SHORTEST or level <= 0:
        return None
    robust, tapered = winsorised(values), triangular(values)
    if abs(robust - tapered) > AGREE_FAIR * level:
        return None
    sine = fit_sine(values)
    three = sorted((robust, tapered, sine.level))
    apart = (three[2] - three[0]) / level
    if apart > AGREE_FAIR or sine.hz * len(values) * BIN_S < 1.25:
        return None
    return Estimate(
        kg=round(three[1], 2),
        grade="good" if apart <= AGREE_GOOD / 3 else "fair",
        spread_kg=0.0,
        readings=len(values),
        span_s=round(len(values) * BIN_S, 1),
    )
