"""How far what stands there swings, as a share of its weight: above itself, either way, by a valley between heights.

An animal that throws itself about goes up and down by a fifth to a half of its weight, at one half to two swings a
second (common practice, no source; the yards drawn for `tests/bench` have a fifth to a third).
"""

from neckyoke.bridge.station.weight.estimators import moving_means

SWINGS = 0.05
"""One that swings by less, either way, stands."""
SWUNG_BINS, SPAN_BINS = 3, (8, 15)
"""Bins in the means that say how far what stands there swings, and of how many bins, fewest and most."""
THREW_BINS, HEIGHT_BINS = 40, 10
"""Or a valley in so many bins says it, between two heights no further from it: a swing goes down in a second or less,
and between two animals that follow each other it takes longer.  Where readings are few nobody knows."""
BARE_SHARE = 0.42
"""Below this share of what stood there hardly a foot is left: it may be a gap between two animals."""


def swung_above(bins: list[float], kg: float) -> float:
    """Return by how much it swung above itself, as a share; 0 for one that stands."""
    if len(bins) < SWUNG_BINS or kg <= 0:
        return 0.0
    share = max(moving_means(bins, SWUNG_BINS)) / kg - 1
    return share if share > SWINGS else 0.0


def threw(bins: list[float]) -> float:
    """Return by how much it swung, as a share of its weight, by the deepest valley in which feet stayed on.

    One that swings by the share a about its weight goes down from 1 + a to 1 - a, and up again.
    """
    means = moving_means(bins, SWUNG_BINS)
    swung = 0.0
    for place, low in enumerate(means):
        before, after = means[max(0, place - HEIGHT_BINS) : place + 1], means[place : place + HEIGHT_BINS + 1]
        high = min(max(before), max(after))
        if BARE_SHARE * high < low <= min(*before[-2:], *after[:2]):
            swung = max(swung, (high - low) / (high + low))
    return swung


def span_of(bins: list[float], kg: float) -> float:
    """Return by how much it swung either way, as a share; 0 where that was not seen for long enough.

    What was before it nearly weighed as much for the first time is the way up, and after the last time the way down.
    """
    near = [place for place, shown in enumerate(bins) if shown >= (1 - SWINGS) * kg]
    own = bins[near[0] : near[-1] + 1][-SPAN_BINS[1] :] if near else []
    if len(own) < SPAN_BINS[0] or kg <= 0:
        return 0.0
    means = moving_means(own, SWUNG_BINS)
    return (max(means) - min(means)) / 2 / kg
