"""How the force of an animal on a platform moves while it steps on, stands and steps off.

The model: `force = kg * (feet(t) * (1 + sway(t) + breath(t)) + jolts(t) + lean(t))`.

* feet: four smooth foot-falls, front pair first, with a possible pause half on; off again front pair first.
* sway: a rhythm whose frequency and amplitude drift, with a second harmonic, stronger just after entry.
* jolts: kicks and shifted feet.  The mean vertical force between two moments of rest is exactly the weight (Newton), so
  each jolt is a short spike and a longer opposite dip of the same area.
* lean: support taken outside the load cells, a bias that lasts; it is no noise.

No spectrum of a standing animal is published: every range is an assumption, and is meant to be varied widely.
"""

import math
import random
from array import array
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

Range: TypeAlias = tuple[float, float]
"""Lowest and highest; a value is drawn evenly between, or evenly in its logarithm where noted."""

GRID_HZ = 50
"""Samples of force a second; between them it is interpolated."""
KEEP = math.exp(-1 / GRID_HZ / 1.5)
FRESH = math.sqrt(1 - KEEP * KEEP)
"""Of one sample to the next: the two drifts of the sway forget themselves within about a second and a half."""


@dataclass(frozen=True)
class Manner:
    """How an animal behaves.  Percentages are of its weight; each range is drawn anew for each visit."""

    sway_percent: Range = (1.0, 3.0)  # peak of the rhythm, even in the logarithm
    sway_hz: Range = (0.5, 2.5)  # even in the logarithm
    second_harmonic: Range = (0.1, 0.4)  # of the sway
    frequency_drift: float = 0.1  # relative standard deviation of the frequency
    amplitude_drift: float = 0.3  # standard deviation of the logarithm of the amplitude
    breath_percent: Range = (0.0, 0.3)
    breath_hz: Range = (0.2, 0.6)
    entry_s: Range = (1.0, 2.0)  # first foot to all feet, without the pause
    pause_chance: float = 0.0  # of standing half on
    pause_s: Range = (0.5, 3.0)
    front_share: Range = (0.5, 0.6)
    entry_extra: Range = (0.5, 2.0)  # extra sway just after entry, as a multiple of the sway
    calming_s: Range = (0.5, 1.5)  # time constant of its decay
    kicks_per_s: float = 0.0
    kick_percent: Range = (5.0, 30.0)
    shifts_per_s: float = 0.1
    shift_percent: Range = (1.0, 5.0)
    lean_chance: float = 0.0
    lean_percent: Range = (-8.0, -2.0)
    lean_share: Range = (0.15, 0.45)  # of the time all feet are on
    stay_median_s: float = 6.0  # all feet on, log-normal
    stay_spread: float = 0.5  # standard deviation of its logarithm
    stay_s: Range = (2.0, 20.0)  # and its bounds
    leave_s: Range = (0.6, 1.4)
    residue_chance: float = 0.0
    residue_kg: Range = (0.5, 5.0)


class Visit:
    """One animal's time on the platform.  Times in the caller's seconds, force in kilograms.

    `on_t` first foot on, `all_on_t` all feet on, `leave_t` first foot off, `off_t` last foot off.  `residue_kg` is what
    it leaves behind: part of its weight until `off_t`, and for the caller to add from then on.
    """

    def __init__(self, rng: random.Random, kg: float, manner: Manner, on_t: float) -> None:
        self.kg = kg
        self.on_t = on_t
        pause_s = rng.uniform(*manner.pause_s) if rng.random() < manner.pause_chance else 0.0
        entry_s, leave_s = rng.uniform(*manner.entry_s), rng.uniform(*manner.leave_s)
        low, high = manner.stay_s
        stay_s = min(high, max(low, manner.stay_median_s * math.exp(rng.gauss(0.0, manner.stay_spread))))
        self.all_on_t = on_t + entry_s + pause_s
        self.leave_t = self.all_on_t + stay_s
        self.off_t = self.leave_t + leave_s
        self.residue_kg = rng.uniform(*manner.residue_kg) if rng.random() < manner.residue_chance else 0.0
        # The motion has a stream of its own and is made when first asked for: who only needs the times waits for none.
        self._motion = (random.Random(rng.getrandbits(64)), manner, entry_s, pause_s, leave_s)

    def force_kg(self, t: float) -> float:
        """Return the force at `t`; zero before the first foot and after the last."""
        place = (t - self.on_t) * GRID_HZ
        if place < 0.0:
            return 0.0
        at, force = int(place), self._force
        if at + 1 >= len(force):
            return 0.0
        low = force[at]
        return low + (force[at + 1] - low) * (place - at)

    @cached_property
    def _force(self) -> "array[float]":
        rng, manner, entry_s, pause_s, leave_s = self._motion
        all_on_s, leave_at_s, off_s = (t - self.on_t for t in (self.all_on_t, self.leave_t, self.off_t))
        count = math.ceil(off_s * GRID_HZ) + 2
        feet = _feet(rng, manner, entry_s, pause_s, leave_at_s, leave_s)
        sway = _sway(rng, manner, all_on_s)
        outside = array("d", bytes(8 * count))
        _jolt(rng, outside, manner.kicks_per_s, manner.kick_percent, (all_on_s, leave_at_s))
        _jolt(rng, outside, manner.shifts_per_s, manner.shift_percent, (all_on_s, leave_at_s))
        if rng.random() < manner.lean_chance:
            _lean(rng, outside, manner, (all_on_s, leave_at_s))
        force = array("d", bytes(8 * count))
        for n in range(count - 1):
            s = n / GRID_HZ
            share = feet.at(s)
            force[n] = max(0.0, self.kg * (share * (1.0 + sway(s)) + outside[n])) if share else 0.0
        return force


class _Feet:
    """The share of the weight on the platform: smooth steps, each a (start, length, share).

    Asked for in order of time, it looks only at the steps that are not over.
    """

    def __init__(self, steps: list[tuple[float, float, float]]) -> None:
        self._to_come = sorted(steps, reverse=True)
        self._under_way: list[tuple[float, float, float]] = []
        self._over = 0.0

    def at(self, s: float) -> float:
        while self._to_come and self._to_come[-1][0] <= s:
            self._under_way.append(self._to_come.pop())
        total = self._over
        for start, length, share in self._under_way:
            done = (s - start) / length
            total += share if done >= 1.0 else share * 0.5 * (1.0 - math.cos(math.pi * done))
        while self._under_way and (s - self._under_way[0][0]) / self._under_way[0][1] >= 1.0:
            self._over += self._under_way.pop(0)[2]
        return total if total > 1e-9 else 0.0


def _feet(
    rng: random.Random, manner: Manner, entry_s: float, pause_s: float, leave_at_s: float, leave_s: float
) -> _Feet:
    front = rng.uniform(*manner.front_share) / 2
    hind = 0.5 - front
    step = entry_s / 4
    falls = [0.0, step, 2 * step + pause_s, 3 * step + pause_s]
    lifts = [leave_at_s + leave_s * part / 4 for part in range(4)]
    shares = (front, front, hind, hind)
    on = [(start, step, share) for start, share in zip(falls, shares, strict=True)]
    off = [(start, leave_s / 4, -share) for start, share in zip(lifts, shares, strict=True)]
    return _Feet(on + off)


def _sway(rng: random.Random, manner: Manner, all_on_s: float) -> Callable[[float], float]:
    """Return the rhythm, as a fraction of the weight, to be asked once a grid point, in order.

    Most of a simulated day is spent in here, so that it draws its normal variates itself: two at a time (Box and
    Muller), the very ones that `random.gauss` would give one after the other.
    """
    usual = _log_uniform(rng, manner.sway_percent) / 100
    turning = 2 * math.pi * _log_uniform(rng, manner.sway_hz)
    harmonic = rng.uniform(*manner.second_harmonic)
    extra, calming_s = rng.uniform(*manner.entry_extra), rng.uniform(*manner.calming_s)
    breath, breathing = rng.uniform(*manner.breath_percent) / 100, 2 * math.pi * rng.uniform(*manner.breath_hz)
    phase, second_phase, breath_phase = (rng.uniform(0, 2 * math.pi) for _ in range(3))
    faster, louder = rng.gauss(0, 1), rng.gauss(0, 1)
    draw, exp, sin, whole_turn = rng.random, math.exp, math.sin, 2 * math.pi
    frequency_drift, amplitude_drift = manner.frequency_drift, manner.amplitude_drift

    def step(s: float) -> float:
        nonlocal phase, faster, louder
        turn = draw() * whole_turn
        far = math.sqrt(-2.0 * math.log(1.0 - draw()))
        faster = KEEP * faster + FRESH * (math.cos(turn) * far)
        louder = KEEP * louder + FRESH * (sin(turn) * far)
        speed = max(0.3, 1 + frequency_drift * faster)
        phase += turning * speed / GRID_HZ
        calm_s = s - all_on_s
        excited = extra * exp(-calm_s / calming_s) if calm_s > 0.0 else extra
        size = usual * exp(amplitude_drift * louder) * (1 + excited)
        rhythm = sin(phase) + harmonic * sin(2 * phase + second_phase)
        return size * rhythm + breath * sin(breathing * s + breath_phase)

    return step


def _jolt(rng: random.Random, into: "array[float]", per_s: float, percent: Range, between: Range) -> None:
    """Add spikes, each followed by a longer opposite dip of the same area."""
    start, end = between
    s = start
    while per_s > 0 and (s := s + rng.expovariate(per_s)) < end:
        spike, dip = rng.randint(4, 10), rng.randint(15, 40)  # grid points: 0.08 to 0.2 s, 0.3 to 0.8 s
        size = rng.uniform(*percent) / 100 * rng.choice((1, 1, -1))
        first = int(s * GRID_HZ)
        if first + spike + dip >= min(len(into), int(end * GRID_HZ)):
            break  # it would not come to rest before the feet lift
        areas = [sum(math.sin(math.pi * (n + 0.5) / width) for n in range(width)) for width in (spike, dip)]
        for n in range(spike):
            into[first + n] += size * math.sin(math.pi * (n + 0.5) / spike)
        for n in range(dip):
            into[first + spike + n] -= size * areas[0] / areas[1] * math.sin(math.pi * (n + 0.5) / dip)


def _lean(rng: random.Random, into: "array[float]", manner: Manner, between: Range) -> None:
    """Add one leaning, somewhere between all feet on and the first foot off."""
    start, end = between
    length = (end - start) * rng.uniform(*manner.lean_share)
    begin = rng.uniform(start, end - length)
    size = rng.uniform(*manner.lean_percent) / 100
    for n in range(int(begin * GRID_HZ), min(len(into), int((begin + length) * GRID_HZ))):
        edge_s = min(n / GRID_HZ - begin, begin + length - n / GRID_HZ)
        into[n] += size * min(1.0, max(0.0, edge_s / 0.3))


def _log_uniform(rng: random.Random, between: Range) -> float:
    low, high = between
    return low if low <= 0 or high <= low else math.exp(rng.uniform(math.log(low), math.log(high)))
