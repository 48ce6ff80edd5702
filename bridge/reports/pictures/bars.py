"""How often each weight, or each gain, was met: bars from bins, the mean as a line."""

from collections.abc import Iterator

from neckyoke.bridge.reports.pictures.svg import (
    CHAR,
    INK,
    LEFT,
    QUIET,
    RIGHT,
    RULE,
    TOP,
    WIDTH,
    Scale,
    bar,
    label,
    line,
    nothing,
    picture,
    spell_many,
    under,
)
from neckyoke.bridge.reports.statistics import Bins

FLOOR = 168
LEAST_BINS = 5
"""As many have room, so that one animal is no wall."""


def weights(distribution: Bins, mean: float | None = None) -> str:
    """Draw the weights, kg: how many animals in each bin, and where the mean lies."""
    return _bars("Weights", distribution, mean, "kg", "no weights yet", losers=False)


def gains(distribution: Bins, mean: float | None = None) -> str:
    """Draw the daily gains, kg/day; bars of those that lost weight are hollow."""
    return _bars("Gains", distribution, mean, "kg/day", "no gains known", losers=True)


def _bars(title: str, distribution: Bins, mean: float | None, unit: str, none: str, *, losers: bool) -> str:
    spans, many = distribution.spans(), sum(distribution.counts)
    if not spans:
        return nothing(title, none)
    said = ", ".join(f"from {low:g} to {high:g} {unit} {count}" for low, high, count in spans if count)
    parts = list(_drawn(distribution, mean, unit, losers=losers))
    lost = sum(count for _, high, count in spans if high <= 0) if losers else 0
    more = f"; {lost} lost weight (hollow)" if lost else ""
    below, height = under(FLOOR + 38, f"{unit}, in steps of {distribution.width:g}: {spell_many(many)}{more}")
    return picture(title, f"{spell_many(many)}: {said}.", [*parts, *below], height)


def _drawn(distribution: Bins, mean: float | None, unit: str, *, losers: bool) -> Iterator[str]:
    spans = distribution.spans()
    most = max(count for _, _, count in spans)
    left = LEFT - 20
    room = max(0, LEAST_BINS - len(spans)) / 2 * distribution.width
    across = Scale(spans[0][0] - room, spans[-1][1] + room, left, WIDTH - RIGHT)
    step = across.at(spans[0][1]) - across.at(spans[0][0])
    if mean is not None:
        yield line(across.at(mean), TOP, across.at(mean), FLOOR, INK, 1.5)
    for low, high, count in spans:
        if count:
            tall = (FLOOR - TOP - 30) * count / most
            yield bar(across.at(low) + 1, FLOOR - tall, step - 2, tall, hollow=losers and high <= 0)
            yield label(across.at(low) + step / 2, FLOOR - tall - 4, str(count))
    yield line(left, FLOOR, WIDTH - RIGHT, FLOOR, RULE)
    edges = [*(low for low, _, _ in spans), spans[-1][1]]
    wide = max(len(f"{edge:g}") for edge in edges) * CHAR + 8
    every = next(n for n in range(1, len(edges) + 1) if n * step >= wide or n == len(edges))
    for edge in edges[::every]:
        yield line(across.at(edge), FLOOR, across.at(edge), FLOOR + 4, INK)
        yield label(min(max(across.at(edge), wide / 2), WIDTH - wide / 2), FLOOR + 17, f"{edge:g}")
    if mean is not None:
        x = across.at(mean)
        text = f"mean {mean:.2f}" if unit == "kg/day" else f"mean {mean:.1f}"
        half = len(text) * CHAR / 2
        yield label(min(max(x, half + 2), WIDTH - half - 2), TOP - 5, text, fill=QUIET)
