"""Regimes of yards for `settling.py`, drawn by seed: how animals move and follow, and what the indicator does."""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from neckyoke.bridge.station.settings import Settings
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Indicator, Shown

PER_YARD = 10
CALM: dict[str, Any] = {"sway_percent": (0.3, 1.0), "shifts_per_s": 0.0}
TYPICAL: dict[str, Any] = {"sway_percent": (1.0, 3.0)}
RESTLESS: dict[str, Any] = {"sway_percent": (3.0, 6.0), "kicks_per_s": 0.15, "shifts_per_s": 0.3}


@dataclass(frozen=True)
class Regime:
    """A recipe: `manner` and `indicator` draw from a generator; the rest is plain."""

    manner: Callable[[random.Random], Manner]
    indicator: Callable[[random.Random], dict[str, Any]] = lambda _: {}
    kg: tuple[float, float] = (150.0, 700.0)
    gap_s: tuple[float, float] = (1.5, 6.0)
    neighbour: float = 0.0  # chance that a neighbour puts some of its weight on for a part of the stay
    settings: dict[str, float] = field(default_factory=dict)


def _fixed(**manner: Any) -> Callable[[random.Random], Manner]:
    return lambda _: Manner(**manner)


def _any_manner(rng: random.Random) -> Manner:
    low = math.exp(rng.uniform(math.log(0.2), math.log(4.0)))
    slow = rng.uniform(0.4, 2.0)
    return Manner(
        sway_percent=(low, low * rng.uniform(1.0, 2.0)),
        sway_hz=(slow, rng.uniform(slow, 3.0)),
        frequency_drift=rng.uniform(0.0, 0.25),
        amplitude_drift=rng.uniform(0.0, 0.5),
        breath_percent=(0.0, rng.uniform(0.0, 0.8)),
        entry_s=(0.6, rng.uniform(0.8, 3.0)),
        pause_chance=rng.choice((0.0, 0.2)),
        entry_extra=(0.0, rng.uniform(0.0, 3.0)),
        calming_s=(0.3, 2.0),
        kicks_per_s=rng.choice((0.0, 0.0, 0.1, 0.4)),
        kick_percent=(5.0, rng.uniform(10.0, 60.0)),
        shifts_per_s=rng.uniform(0.0, 0.6),
        lean_chance=rng.choice((0.0, 0.0, 0.15)),
        stay_median_s=rng.uniform(3.0, 15.0),
        stay_s=(2.0, 60.0),
        leave_s=(0.4, rng.uniform(0.6, 2.5)),
        residue_chance=rng.choice((0.0, 0.3)),
    )


def _any_indicator(rng: random.Random) -> dict[str, Any]:
    return {
        "rate_hz": rng.choice((2, 3, 4, 5, 6.25, 8, 10, 12.5, 15, 20, 25)),
        "filter": rng.choice(("average", "average", "smooth", "adaptive")),
        "filter_s": math.exp(rng.uniform(math.log(0.05), math.log(2.0))),
        "interval_kg": rng.choice((0.1, 0.2, 0.5, 1, 2, 5)),
        "jitter": rng.choice((0.0, 0.5, 1.0)),
        "lost": rng.choice((0.0, 0.0, 0.05)),
        "hold_percent": rng.choice((0.0, 0.0, 0.0, 0.3)),
    }


REGIMES: dict[str, Regime] = {
    "calm": Regime(_fixed(**CALM)),
    "typical": Regime(_fixed(**TYPICAL)),
    "restless": Regime(_fixed(**RESTLESS)),
    "half-on": Regime(_fixed(**TYPICAL, pause_chance=0.4)),
    "leaning": Regime(_fixed(**TYPICAL, lean_chance=0.4)),
    "crowded": Regime(_fixed(**TYPICAL), neighbour=0.4),
    "short": Regime(_fixed(**TYPICAL, stay_median_s=2.5, stay_s=(1.0, 5.0))),
    "no-gap": Regime(_fixed(**TYPICAL), gap_s=(0.0, 1.0)),
    "overlap": Regime(_fixed(**TYPICAL), gap_s=(-0.8, 0.0)),
    "sheep": Regime(
        _fixed(sway_percent=(1.0, 4.0), sway_hz=(0.8, 3.0), entry_s=(0.5, 1.2), stay_median_s=4.0, leave_s=(0.3, 0.8)),
        lambda _: {"interval_kg": 0.1, "capacity_kg": 300.0},
        kg=(30.0, 90.0),
        settings={"capacity_kg": 300.0, "smallest_kg": 10.0, "interval_kg": 0.1},
    ),
    "slow 5 Hz": Regime(_fixed(**TYPICAL | {"sway_hz": (0.4, 0.9)}), lambda _: {"rate_hz": 5.0}),
    "coarse 5 kg": Regime(_fixed(**TYPICAL), lambda _: {"interval_kg": 5.0}, settings={"interval_kg": 5.0}),
    "frozen": Regime(_fixed(**TYPICAL), lambda _: {"freezes_per_s": 0.15, "freeze_s": 2.5}),
    "held": Regime(_fixed(**TYPICAL), lambda _: {"hold_percent": 0.5, "filter": "smooth", "filter_s": 0.8}),
    "residue": Regime(_fixed(**TYPICAL, residue_chance=0.6, residue_kg=(0.5, 8.0)), gap_s=(2.5, 6.0)),
    "blank": Regime(_fixed(**CALM), lambda _: {"blank_moving": True, "filter_s": 1.0, "interval_kg": 2.0}),
    "anything": Regime(_any_manner, _any_indicator, kg=(120.0, 900.0)),
}


def yard(regime: Regime, seed: int) -> tuple[list[Visit], list[Shown], Settings]:
    """Simulate one yard of ten stays."""
    rng = random.Random(seed)
    manner = regime.manner(rng)
    made = regime.indicator(rng)
    settings = Settings(
        "larkmoor", "crush", "indicator", **{"interval_kg": made.get("interval_kg", 0.5)} | regime.settings
    )
    t, visits, pulses = 2.0 + rng.random(), list[Visit](), list[tuple[float, float, float]]()
    for _ in range(PER_YARD):
        visit = Visit(rng, math.exp(rng.uniform(*map(math.log, regime.kg))), manner, t)
        visits.append(visit)
        if rng.random() < regime.neighbour:
            long = visit.leave_t - visit.all_on_t
            length = rng.uniform(0.1, 0.4) * long
            pulses.append((rng.uniform(visit.all_on_t, visit.leave_t - length), length, rng.uniform(10.0, 150.0)))
        t = visit.off_t + rng.uniform(*regime.gap_s)
    force = _together(visits, pulses)
    shown = list(Indicator(seed=seed, **made).samples(force, 0.0, t + 3.0))
    return visits, shown, settings


def _together(visits: list[Visit], pulses: list[tuple[float, float, float]]) -> Callable[[float], float]:
    """Sum visits, what they leave behind, and a neighbour's feet (start, length, kilograms)."""
    at = 0
    left = 0.0

    def force(t: float) -> float:
        nonlocal at, left
        while at < len(visits) and t > visits[at].off_t:
            left += visits[at].residue_kg
            at += 1
        near = sum(visit.force_kg(t) for visit in visits[at : at + 2])
        feet = sum(
            kg * min(1.0, 4 * (t - start), 4 * (start + length - t))
            for start, length, kg in pulses
            if start < t < start + length
        )
        return near + feet + left

    return force
