"""What was on when listening began may be the empty platform's own level: an indicator that nobody zeroed."""

from collections.abc import Sequence
from statistics import median

from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.weight.estimators import BIN_S

OFFSET_BINS, COMES_BINS = 30, 8
"""Bins looked at for whether it stood still, and how many of them what comes on now takes to be seen."""
QUIET_S = 1.0
"""What was on at the start and is to be the empty platform's own level stood still for so long before more came."""


class Offset:
    """Whether one stay may be that: it was on at the start and light enough (`may_be`); as shown it is `kg`."""

    def __init__(self, settings: Settings) -> None:
        self.may_be = False
        self.kg: float | None = None
        self._interval_kg = settings.interval_kg

    def is_left(self, bins: Sequence[float], shown_kg: float, zero_kg: float, on_kg: float) -> bool:
        """Return whether it is, since more comes to it now.  `bins`: the last, net of `zero_kg`.

        That it stood still is judged without the last tenths of a second, which what comes on now takes to be seen.
        """
        if not self.may_be or not bins:
            return False
        before = bins[:-COMES_BINS] or bins
        self.may_be = max(before) - min(before) <= 3 * self._interval_kg
        if not self.may_be or shown_kg - zero_kg < median(before) + on_kg:
            return False
        self.may_be = (len(bins) - COMES_BINS) * BIN_S >= QUIET_S  # else it is only on its way up
        self.kg = median(before) + zero_kg if self.may_be else None
        return self.may_be
