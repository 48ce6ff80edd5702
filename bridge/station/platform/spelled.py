"""How a stay is spelled: its flags, in order, its numbers, and how it stood there."""

from statistics import median

from neckyoke.bridge.events import Flag, Grade, Weight
from neckyoke.bridge.station.platform.happenings import Stood
from neckyoke.bridge.station.weight.final import Estimate
from neckyoke.bridge.station.weight.grading import is_adrift
from neckyoke.bridge.station.weight.settling import Settling

SHORT_S = 2.0
"""A plateau shorter than this is not long enough for a good weight."""
OVERLOADED = 0.2
"""Where the indicator was beyond its range for more than this share of the readings, the rest is hardly the animal."""
REZEROED_SHARE = (0.004, 0.015)
"""Of a stay's weight: an empty platform that shows after it, for the first time, what differs by more from what it
showed in an earlier run allows no good weight, and no fair one."""
STEPPING_BINS, STANDING_BINS, STEPPING_SHARE = 3, slice(8, 20), 0.9
"""What shows in its first bins less than this share of what it shows a second later has not all its feet on yet."""


def rounded(value: float | None) -> float | None:
    """Return a number to a hundredth, as all are told."""
    return None if value is None else round(value, 2)


def flags_of(found: Estimate) -> set[Flag]:
    """Return what a weight itself says of how it came."""
    seen = {
        Flag.SHORT: found.span_s < SHORT_S,
        Flag.LEANING: found.leaning,
        Flag.CROWDED: found.crowded,
        Flag.FROZEN: found.frozen,
    }
    return {flag for flag, so in seen.items() if so}


def in_order(flags: set[Flag]) -> tuple[Flag, ...]:
    """Return flags in the order they are always told in."""
    return tuple(flag for flag in Flag if flag in flags)


def stood_of(settling: Settling, *, on_at_start: bool) -> Stood:
    """Return how it stood there; one that was on at the start stepped on then if it weighed clearly more soon after."""
    bins = settling.track.bins()
    soon, later = bins[:STEPPING_BINS], bins[STANDING_BINS] or bins[STEPPING_BINS:]
    steps_on = on_at_start and bool(later) and median(soon) < STEPPING_SHARE * median(later)
    first, last = (settling.stood_kg(last=last) for last in (False, True))
    return Stood(steps_on, rounded(first), rounded(last), settling.leaves)


def allowed_by(overloaded_share: float, unsure_percent: float) -> Grade:
    """Return the best grade that so many readings beyond the range, and so much unseen on the platform, allow."""
    if overloaded_share > OVERLOADED or is_adrift(unsure_percent):
        return "poor"
    return "fair" if overloaded_share else "good"


def rezeroed(zero_kg: float, before_kg: float | None, kg: float, interval_kg: float) -> Grade:
    """Return the best grade of a weight whose zero was seen after it only; `before_kg`: in an earlier run, if ever."""
    if before_kg is None:
        return "fair"
    apart_kg = abs(before_kg - zero_kg)
    if apart_kg <= max(2 * interval_kg, REZEROED_SHARE[0] * kg):
        return "good"
    return "fair" if apart_kg <= REZEROED_SHARE[1] * kg else "poor"


def weight_of(
    found: Estimate, kg: float | None, grade: Grade, first: Estimate | None, zero_kg: float, moved_kg: float | None
) -> Weight:
    """Spell a weight: `kg` and its grade are what the stay makes of what was found."""
    return Weight(
        kg=rounded(kg),
        grade=grade,
        first_kg=rounded(first.kg) if first else None,
        spread_kg=rounded(found.spread_kg),
        zero_kg=round(zero_kg, 2),
        zero_moved_kg=moved_kg,
        readings=found.readings,
        span_s=round(found.span_s, 1),
        restlessness_percent=rounded(found.restlessness_percent),
    )
