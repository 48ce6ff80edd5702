"""Two levels, each resting: whether the animal is the lower, and something stood with it on the higher, is not known.

A person who steps on beside an animal for a part of its stay, or steps off, leaves two levels a person apart, and the
one that lasts longest may be either.  What the feet of one animal do is known: it may pause on its fore feet before
all are on, and on its hind feet as it leaves (`plateau` has what each carries), not for long, and fore and hind feet
do not carry the same.  And one that leans rests lighter, but for a small part of its time as a rule.  So what rested

* before the weight, at more than fore feet carry, or at less, or for longer than a pause,
* after it, at more than hind feet do, or at less, or for long,
* on one side of it, and was there on the other too, if only in passing,
* within it, well below it, for a good part of the time,
* right before and right after it, at the same, a little below it,

is no pause, and may be the animal.  `plateau` sees that of levels that last for nearly a second; here it is what rests
for half of one.  A stay for which this holds promises nothing.  The numbers were tried on the tuning half of the drawn
yards: of 17 gross errors by people it takes the grade of 13, and of 11,800 weights that nothing ailed that of 7.
"""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from itertools import pairwise
from typing import NamedTuple

from neckyoke.bridge.station.weight.plateau import FORE, HALF, HIND, REACHED

LOWER, LEFT = (0.25, 0.85), (0.13, 0.85)
"""What is below the one share of the weight is no animal beside which that much could stand, but one foot; of what is
left less may be, a lamb that a person stepped off from.  What is above the other is a slow display that creeps."""
RESTS_BINS, RESTS = 5, 0.05
"""What stays within this share of its lowest for so many bins rests;"""
ALIKE_BINS, SWAYS, NEAR = 5, 0.08, 0.06
"""for so many, if it may sway by more, since it is there on the other side too: two bins within the last share."""
SECOND_BINS, SECOND, FORE_SECOND = 10, 0.1, 0.62
"""What keeps within the share for a second has swayed to and fro, and its mean is then no more of the weight than this
where it is fore feet's: a little over half of it (common practice, no source)."""
FORE_BINS, HIND_BINS = 32, 20
"""What rests on fore feet for so long is no pause on the way up; what is left for so long is none on hind feet."""
FORE_LEAST, HIND_LEAST = 0.44, 0.36
"""And they carry no less than this of it: three parts in five, and two, or so (common practice, no source)."""
WITHIN, LEVEL_BINS, LEVEL = 0.88, 8, 0.02
"""Above the first share of the weight, what keeps within the last share of it for so many bins is a level;"""
BELOW, PART = 0.04, 0.3
"""one that far below it, and for that part of the time that its own level was seen, may be the animal."""


PAUSE_BINS, PAUSES = 7, 0.1
"""What keeps within the share for so many bins pauses half on or half off."""
OWN, SHOULDER_BINS, WITHIN_BINS = 0.025, 4, 15
"""What keeps within this share of the weight for longest is its own; so many bins that rest are a shoulder of it, if
they lie within so many of it;"""
SHOULDERS, LOW, SAME = 0.03, (0.85, 0.96), 0.015
"""they keep within the first share, lie between the two next, and two agree within the last: of 130,000 drawn weights
77 had two such shoulders, and three of these were gross, of seventeen in all."""
MOST, MOST_OF, MOST_BINS = 0.05, 0.5, 25
"""A weight near which, within the share, it was for less than this part of the time that all feet were on, if that was
so many bins or more, is one level of two, or of many."""


class Rest(NamedTuple):
    """A stretch that rested: its first place, how many bins it has, and its mean."""

    first: int
    bins: int
    kg: float


def may_be_two(bins: Sequence[float], kg: float, held: AbstractSet[int] = frozenset()) -> bool:
    """Return whether an animal of another weight, and something beside it, may have made a stay of this weight.

    `bins`: the stay's, from the first foot to the last, net; `held`: the places in which the display was held, so that
    nothing rested there.
    """
    near = [place for place, shown in enumerate(bins) if shown >= REACHED * kg]
    if not near:
        return False
    end = near[-1] + 1
    before, after = bins[: near[0]], bins[end:]
    after_held = {place - end for place in held}
    return (
        any(_is_no_fore(one, kg) for one in _lower(before, kg, held))
        or any(one.kg > FORE_SECOND * kg for one in _lower(before, kg, held, SECOND_BINS, SECOND))
        or bool(_lower(before, kg, held, FORE_BINS + 1, PAUSES))
        or bool(_lower(after, kg, after_held, HIND_BINS + 1, PAUSES))
        or any(_is_no_hind(one, kg) for one in _lower(after, kg, after_held, lower=LEFT))
        or _is_on_both(before, after, kg, held)
        or _is_on_both(after, before, kg, after_held)
        or _has_level_below(bins, kg, held)
        or _has_shoulders(bins, kg, held)
        or _is_the_least(bins, kg)
    )


def paused(bins: Sequence[float], kg: float) -> bool:
    """Return whether an animal of this weight paused half on, before all feet were, or half off, after."""
    near = [place for place, shown in enumerate(bins) if shown >= REACHED * kg]
    sides = (bins[: near[0]], bins[near[-1] + 1 :]) if near else ()
    at = [one.kg / kg for side in sides for one in _lower(side, kg, frozenset(), PAUSE_BINS, PAUSES)]
    return any(HALF[0] < share < HALF[1] for share in at)


def rests(bins: Sequence[float], least: int, share: float, of_kg: float | None = None) -> list[Rest]:
    """Return what keeps within this share, of itself if of nothing else, for at least so many bins."""
    found: list[Rest] = []
    start = 0
    while start + least <= len(bins):
        low = high = bins[start]
        end = start + 1
        while end < len(bins):
            low, high = min(low, bins[end]), max(high, bins[end])
            if high - low > share * (low if of_kg is None else of_kg):
                break
            end += 1
        rested = end - start >= least
        if rested:
            found.append(Rest(start, end - start, sum(bins[start:end]) / (end - start)))
        start = end if rested else start + 1
    return found


def _lower(
    bins: Sequence[float],
    kg: float,
    held: AbstractSet[int],
    least: int = RESTS_BINS,
    share: float = RESTS,
    lower: tuple[float, float] = LOWER,
) -> list[Rest]:
    found = _measured(rests(bins, least, share), held)
    return [one for one in found if lower[0] * kg < one.kg < lower[1] * kg]


def _is_no_fore(one: Rest, kg: float) -> bool:
    return not FORE_LEAST * kg < one.kg <= FORE[1] * kg


def _is_no_hind(one: Rest, kg: float) -> bool:
    return not HIND_LEAST * kg < one.kg <= HIND[1] * kg


def _measured(found: list[Rest], held: AbstractSet[int]) -> list[Rest]:
    return [one for one in found if held.isdisjoint(range(one.first, one.first + one.bins))] if held else found


def _is_on_both(here: Sequence[float], there: Sequence[float], kg: float, held: AbstractSet[int]) -> bool:
    """Return whether what rested on one side of a weight, in any stretch of it, was there on the other too."""
    for start in range(len(here) - ALIKE_BINS + 1):
        some = here[start : start + ALIKE_BINS]
        mean = sum(some) / ALIKE_BINS
        rested = max(some) - min(some) <= SWAYS * min(some) and held.isdisjoint(range(start, start + ALIKE_BINS))
        lower = rested and LOWER[0] * kg < mean < LOWER[1] * kg
        if lower and any(all(abs(shown - mean) < NEAR * mean for shown in two) for two in pairwise(there)):
            return True
    return False


def _has_shoulders(bins: Sequence[float], kg: float, held: AbstractSet[int]) -> bool:
    """Return whether it rested at the same weight, a little lower, right before this one and right after it."""
    start, end = _own(bins, kg)
    before = _shoulders(bins, range(max(0, start - WITHIN_BINS), start), kg, held)
    after = _shoulders(bins, range(end, min(len(bins), end + WITHIN_BINS)), kg, held)
    return any(abs(one - other) < SAME * kg for one in before for other in after)


def _own(bins: Sequence[float], kg: float) -> tuple[int, int]:
    """Return the first place of the longest stretch that keeps near this weight, and the one after its last."""
    best = (0, 0)
    start = 0
    for place, shown in enumerate(bins):
        if abs(shown - kg) > OWN * kg:
            start = place + 1
        elif place + 1 - start > best[1] - best[0]:
            best = (start, place + 1)
    return best


def _shoulders(bins: Sequence[float], places: range, kg: float, held: AbstractSet[int]) -> list[float]:
    found = list[float]()
    for first in places[: len(places) - SHOULDER_BINS + 1]:
        some = bins[first : first + SHOULDER_BINS]
        rested = max(some) - min(some) <= SHOULDERS * kg and held.isdisjoint(range(first, first + SHOULDER_BINS))
        mean = sum(some) / SHOULDER_BINS
        if rested and LOW[0] * kg < mean < LOW[1] * kg:
            found.append(mean)
    return found


def _is_the_least(bins: Sequence[float], kg: float) -> bool:
    """Return whether it stood at this weight for the lesser part of the time that all feet were on."""
    on = [place for place, shown in enumerate(bins) if shown >= WITHIN * kg]
    stood = bins[on[0] : on[-1] + 1]
    near = sum(abs(shown - kg) <= MOST * kg for shown in stood)
    return len(stood) >= MOST_BINS and near < MOST_OF * len(stood)


def _has_level_below(bins: Sequence[float], kg: float, held: AbstractSet[int]) -> bool:
    """Return whether, while all feet were on, it was for a good part of the time on another level, well below."""
    on = [place for place, shown in enumerate(bins) if shown >= WITHIN * kg]
    stood = bins[on[0] : on[-1] + 1]
    levels = _measured(rests(stood, LEVEL_BINS, LEVEL, kg), {place - on[0] for place in held})
    own = sum(one.bins for one in rests(stood, 3, LEVEL, kg) if abs(one.kg - kg) < LEVEL * kg)
    below = sum(one.bins for one in levels if one.kg <= (1 - BELOW) * kg)
    return below > 0 and below >= PART * own
