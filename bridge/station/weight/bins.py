"""One stay's readings, net of the empty platform, gathered into even bins."""

from operator import truediv
from typing import NamedTuple

from neckyoke.bridge.station.weight.estimators import BIN_S

MOST_BINS = 6000
"""Kept of one stay: ten minutes.  Of a longer one the oldest half is dropped, so that hours cost no more."""
HELD_S = 0.8
"""A number repeated for longer, though the next one differs clearly, was held by the indicator: it measured nothing."""
HELD_AT_MOST_S = 2.5
"""A number that stands for longer than this is no held one, as far as can be told while it stands."""
SILENT_S = 2.0
"""Nor was anything measured in a silence longer than this."""


class Blind(NamedTuple):
    """A span of a held display, or of silence.

    `leap` is how far the next number is from the one held, as a share, `rises` whether it is higher, and `leapt`
    whether the one held came at a leap too.
    """

    start: float
    end: float
    leap: float = 1.0
    rises: bool = False
    leapt: bool = False


class Track:
    """Readings in bins of `BIN_S`.  Several in one bin are averaged, whatever time lay between them.

    `started` is the time of the first bin's beginning, `blind` the spans in which nothing was measured.
    """

    def __init__(self, interval_kg: float) -> None:
        self.started = 0.0
        self.blind: list[Blind] = []
        self.interval_kg = interval_kg
        self._sums: list[float] = []
        self._counts: list[int] = []
        self._silent_at = 0  # the first bin after the last silence
        self._same_kg: float | None = None
        self._same_since = self._last = 0.0
        self._same_leapt = False

    def __len__(self) -> int:
        return len(self._counts)

    def add(self, t: float, kg: float) -> None:
        """Take one reading; times do not go back."""
        if not self._counts:
            self.started = t
        missing = int((t - self.started) / BIN_S + 1e-6) + 1 - len(self._counts)
        if missing > MOST_BINS:  # a clock that leapt: what was before is no neighbour of this
            self._sums, self._counts, self.started, missing, self._silent_at = [], [], t, 1, 0
        if t - self._last > SILENT_S and self._counts:
            self.blind.append(Blind(self._last, t - BIN_S))
            self._silent_at = len(self._counts) - 1 + missing
        if missing > 0:
            self._sums += [0.0] * missing
            self._counts += [0] * missing
            if len(self._counts) > MOST_BINS:
                self._forget(len(self._counts) - MOST_BINS // 2)
        self._sums[-1] += kg
        self._counts[-1] += 1
        if kg != self._same_kg:
            self._see_held(kg)
            before = self._same_kg
            self._same_leapt = before is not None and abs(kg - before) >= 3 * self.interval_kg
            self._same_kg, self._same_since = kg, t
        self._last = t

    @property
    def ends(self) -> float:
        """Return the last reading's time."""
        return self._last

    @property
    def heard_on(self) -> int:
        """Return the number of bins since the last silence, all if there was none."""
        return len(self._counts) - self._silent_at

    @property
    def maybe_held(self) -> bool:
        """Return whether the number stands still since it came at a leap, for as long as displays are held."""
        return self._same_leapt and HELD_S <= self._last - self._same_since < HELD_AT_MOST_S

    def bins(self, last: int | None = None) -> list[float]:
        """Return the means of the bins, or of the last so many; empty ones are bridged, and left out at the start."""
        start = 0 if last is None else max(0, len(self._counts) - last)
        sums, counts = self._sums[start:], self._counts[start:]
        if 0 not in counts:
            return list(map(truediv, sums, counts))
        out: list[float] = []
        for total, count in zip(sums, counts, strict=True):
            if count:
                out.append(total / count)
            elif out:
                out.append(out[-1])
        _bridge(out, counts[len(counts) - len(out) :])
        return out

    def held(self) -> set[int]:
        """Return the places of the bins in which one number stood from one leap to the next: the display was held."""
        spans = [span for span in self.blind if span.leapt]
        ends = [[int((t - self.started) / BIN_S + 1e-6) for t in (span.start, span.end)] for span in spans]
        return {place for first, last in ends for place in range(first, last + 1)}

    def measured(self) -> list[int]:
        """Return the places of the bins with a reading, among those that `bins` returns."""
        first = next((place for place, count in enumerate(self._counts) if count), 0)
        return [place - first for place, count in enumerate(self._counts) if count]

    def cut(self, t: float) -> None:
        """Forget what came after `t`."""
        keep = max(1, int((t - self.started) / BIN_S + 1e-6) + 1)
        del self._sums[keep:], self._counts[keep:]

    def shift(self, kg: float) -> None:
        """Take so much off every reading."""
        self._sums = [total - kg * count for total, count in zip(self._sums, self._counts, strict=True)]
        if self._same_kg is not None:
            self._same_kg -= kg

    def readings(self, first: int, end: int) -> int:
        """Count the readings in bins `first` to before `end`."""
        return sum(self._counts[first:end])

    def readings_of(self, last: int) -> int:
        """Count the readings in the last so many bins."""
        return sum(self._counts[-last:])

    def _see_held(self, kg: float) -> None:
        """Note that the number before this one was held, if it was: it stood long and this one leaps away from it."""
        before = self._same_kg
        if before is None or self._last - self._same_since < HELD_S:
            return
        leap = abs(kg - before)
        if leap >= max(3 * self.interval_kg, 0.004 * abs(kg)):
            share = leap / max(abs(before), self.interval_kg)
            self.blind.append(Blind(self._same_since, self._last, share, kg > before, self._same_leapt))

    def _forget(self, count: int) -> None:
        del self._sums[:count], self._counts[:count]
        self.started += count * BIN_S
        self._silent_at = max(0, self._silent_at - count)
        self.blind = [span for span in self.blind if span.end > self.started]


def _bridge(values: list[float], counts: list[int]) -> None:
    """Put a straight line over each run of empty bins between two others."""
    known = 0
    for place, count in enumerate(counts):
        if count:
            for gap in range(known + 1, place):
                values[gap] = values[known] + (values[place] - values[known]) * (gap - known) / (place - known)
            known = place
