"""A scale indicator: what it makes of the force on its load cells, and shows.

Force is sampled at 50 Hz, filtered, rounded to the scale interval and sent `rate_hz` times a second.  It keeps its
state between calls of `samples`, so that a day can be asked for piece by piece.
"""

import math
import random
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

Force: TypeAlias = Callable[[float], float]
Filter: TypeAlias = Literal["average", "smooth", "adaptive"]

CONVERSIONS_HZ = 50
WHOLE_TURN = 2 * math.pi


class Shown(NamedTuple):
    """One message as it arrives: kilograms as displayed, None while blank or over range."""

    t: float
    kg: float | None
    stable: bool
    overload: bool


@dataclass
class Indicator:
    """One indicator.

    `filter`: "average" over the last `filter_s`; "smooth", two equal low-pass stages of together about that delay;
    "adaptive", heavily smoothed until the weight jumps, then quick.  `hold_percent`: once stable the display is held
    until the weight is further off than that.  `freezes_per_s`, `freeze_s`: now and then it repeats one value for a
    while whatever happens.  `blank_moving`: no number while it is not stable.  `jitter`: how late a message may
    arrive, as a part of the time between two; `lost`: share of messages that never do.
    """

    rate_hz: float = 10.0
    filter_s: float = 0.5
    interval_kg: float = 0.5
    capacity_kg: float = 2000.0
    filter: Filter = "average"
    noise_kg: float = 0.05
    offset_kg: float = 0.0  # an old tare, or a zero that was never set
    hold_percent: float = 0.0
    freezes_per_s: float = 0.0
    freeze_s: float = 2.0
    blank_moving: bool = False
    jitter: float = 0.0
    lost: float = 0.0
    seed: int = 0

    def __post_init__(self) -> None:
        self._rng = random.Random(self.seed)
        self._window: deque[float] = deque()
        self._sum = 0.0
        self._longest = max(1, round(self.filter_s * CONVERSIONS_HZ))
        self._gain = 1.0 - math.exp(-2.0 / max(1e-6, self.filter_s) / CONVERSIONS_HZ)
        self._spare: float | None = None
        self._slow = self._slower = 0.0
        self._converted = -1  # conversions done, counted from t = 0
        self._sent = -1
        self._recent: deque[float] = deque(maxlen=max(2, round(0.5 * self.rate_hz)))
        self._held: float | None = None
        self._frozen_until = -math.inf
        self._last: tuple[float | None, bool, bool] = (0.0, True, False)

    def samples(self, force: Force, t0: float, t1: float) -> Iterator[Shown]:
        """Yield the messages of `t0` <= t < `t1`, in order of arrival."""
        self._sent = max(self._sent, math.ceil(t0 * self.rate_hz - 1e-9) - 1)
        arrived = t0
        while (t := (self._sent + 1) / self.rate_hz) < t1:
            self._sent += 1
            shown = self._show(t, self._weigh(force, t))
            late = self._rng.random() * self.jitter / self.rate_hz if self.jitter else 0.0
            arrived = max(arrived, t + late)
            if not self.lost or self._rng.random() >= self.lost:
                yield Shown(arrived, *shown)

    def _weigh(self, force: Force, t: float) -> float:
        """Convert and filter up to `t`."""
        last = int(t * CONVERSIONS_HZ + 1e-9)
        first = max(self._converted + 1, last - int(CONVERSIONS_HZ * max(1.0, 3 * self.filter_s)))
        offset_kg, noise = self.offset_kg, self._noise if self.noise_kg else None
        filtered = self._mean if self.filter == "average" else self._low_pass
        for n in range(first, last + 1):
            kg = force(n / CONVERSIONS_HZ) + offset_kg
            self._slower = filtered(kg if noise is None else kg + noise())
        self._converted = last
        return self._slower

    def _noise(self) -> float:
        """Draw what `random.gauss` would give, in half of its time: most of a simulated day is spent in here."""
        if (spare := self._spare) is not None:
            self._spare = None
            return spare
        turn = self._rng.random() * WHOLE_TURN
        far = math.sqrt(-2.0 * math.log(1.0 - self._rng.random()))
        self._spare = math.sin(turn) * far * self.noise_kg
        return math.cos(turn) * far * self.noise_kg

    def _mean(self, kg: float) -> float:
        self._window.append(kg)
        self._sum += kg
        if len(self._window) > self._longest:
            self._sum -= self._window.popleft()
        return self._sum / len(self._window)

    def _low_pass(self, kg: float) -> float:
        gain = self._gain
        if self.filter == "adaptive" and abs(kg - self._slower) > 0.05 * abs(self._slower) + 4 * self.interval_kg:
            gain = max(gain, 0.2)
        self._slow += gain * (kg - self._slow)
        return self._slower + gain * (self._slow - self._slower)

    def _show(self, t: float, kg: float) -> tuple[float | None, bool, bool]:
        if t < self._frozen_until:
            return self._last
        if self.freezes_per_s and self._rng.random() < self.freezes_per_s / self.rate_hz:
            self._frozen_until = t + self._rng.uniform(0.3, 1.0) * self.freeze_s
        self._recent.append(kg)
        band = max(self._recent) - min(self._recent)
        stable = len(self._recent) == self._recent.maxlen and band <= max(
            self.interval_kg, self.hold_percent / 100 * kg
        )
        if self._held is not None and abs(kg - self._held) > max(self.interval_kg, self.hold_percent / 100 * kg):
            self._held = None
        if self.hold_percent and stable and self._held is None:
            self._held = kg
        shown = round((self._held if self._held is not None else kg) / self.interval_kg) * self.interval_kg
        # No indication above Max + 9 e: OIML R 76-1, 4.2.3.
        over = shown > self.capacity_kg + 9 * self.interval_kg
        blank = over or (self.blank_moving and not stable)
        self._last = (None if blank else round(shown, 6), stable, over)
        return self._last
