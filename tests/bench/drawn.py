"""Yards drawn from priors, for tests/bench/pairing.py: what nobody chose by hand.

Every range is an assumption, wide on purpose, and drawn by seed.  Yards with an even seed may be looked at while
something is tuned; those with an odd seed are only ever reported.

    wide      one to three readers of any sort, any of the usual faults
    panel     hard for a reader at the platform: weak or said once, neighbours heard on both sides, no gaps, dead tags
    stick     hard for a person with a reader in the hand: early, late, at the wrong animal, not at all
    both      a hard panel with a reader in the race
    race      a reader in the race alone, close before the platform: a steady time from it to the first foot

A neighbour is heard with a share of the chance that its own tag has in front of the reader, for the field falls with
distance and the tag is the same (simulators/crush/hearing.py).  Beside these stand rows that are not physical:

    wide-apart, panel-apart, both-apart
              the same yards, but how well a tag is heard as a neighbour is drawn apart from how well it is heard in
              front of the reader, from the reader's range: up to some five times better
    inverted  as panel, but a weak reader hears the neighbours as well as a strong one would: better than the animal
              that stands there; an antenna that points the wrong way
"""

import random
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

from neckyoke.simulators.crush.hearing import Hearing
from neckyoke.simulators.crush.reader import Reader
from neckyoke.simulators.scenario import Gaps, Mob, Scenario
from neckyoke.simulators.scenarios import AHEAD, HAND, LARKMOOR, PANEL, TYPICAL
from neckyoke.simulators.yard import Yard

ANIMALS = 40
Near = Literal["tied", "apart", "inverted"]
"""How well a neighbour is heard: by its own tag, apart from it, or as by a strong reader."""
NEAR_SHARE = (0.2, 0.7)


def _reader(rng: random.Random, *, weak: bool) -> tuple[Reader, tuple[float, float]]:
    repeat_s = rng.choice([0.0, 0.2, 0.5, 1.0, 3.0, 120.0])
    low = rng.uniform(0.01, 0.1) if weak else rng.uniform(0.05, 0.6)
    return Reader(repeat_s=repeat_s, turn_chance=rng.uniform(0.1, 0.5)), (low, min(1.0, low * rng.uniform(1.5, 8.0)))


def _panel(rng: random.Random, *, hard: bool, near: Near = "tied") -> Hearing:
    reader, chance = _reader(rng, weak=hard and rng.random() < 0.5)
    most = 0.4 if hard else 0.25
    low, high = chance
    return replace(
        PANEL,
        reader=reader,
        chance=chance,
        near_chance=(0.05, 0.5) if near == "inverted" else (0.2 * low, 0.7 * high),
        near_share=NEAR_SHARE if near == "tied" else None,
        missed=rng.uniform(0.0, 0.08),
        next_read=rng.uniform(0.0, most),
        last_read=rng.uniform(0.0, most),
        strays_per_hour=rng.choice([0.0, 0.0, rng.uniform(0.0, 10.0)]),
        outages=((rng.uniform(60.0, 400.0), 30.0),) if rng.random() < 0.15 else (),
    )


def _ahead(rng: random.Random) -> Hearing:
    return replace(
        AHEAD,
        places=rng.randint(1, 5),
        missed=rng.uniform(0.0, 0.05),
        stops=rng.uniform(0.0, 0.1),
        backs=rng.uniform(0.0, 0.04),
        jumps=rng.uniform(0.0, 0.01),
    )


def _hand(rng: random.Random, *, hard: bool) -> Hearing:
    most = 0.2 if hard else 0.1
    return replace(
        HAND,
        early=rng.uniform(0.0, most),
        late=rng.uniform(0.0, most),
        wrong=rng.uniform(0.0, 0.02),
        missed=rng.uniform(0.0, 0.08),
    )


def _wide(rng: random.Random, near: Near = "tied") -> Scenario:
    readers = [_panel(rng, hard=False, near=near)] if rng.random() < 0.8 else []
    readers += [_ahead(rng)] if rng.random() < 0.3 else []
    readers += [_hand(rng, hard=False)] if rng.random() < 0.3 or not readers else []
    mob = Mob(untagged=rng.uniform(0.0, 0.04), dead=rng.uniform(0.0, 0.04))
    return _scenario(rng, *readers, mob=mob, none=rng.choice([0.0, rng.uniform(0.0, 0.3)]))


def _hard(rng: random.Random, *readers: Hearing) -> Scenario:
    mob = Mob(untagged=rng.uniform(0.0, 0.03), dead=rng.uniform(0.02, 0.12))
    return _scenario(rng, *readers, mob=mob, none=rng.uniform(0.0, 0.4))


def _scenario(rng: random.Random, *readers: Hearing, mob: Mob, none: float = 0.0) -> Scenario:
    manner = replace(TYPICAL, stay_median_s=rng.uniform(4.0, 12.0))
    return replace(
        LARKMOOR,
        name="drawn",
        mob=mob,
        manner=manner,
        readers=readers,
        gaps=Gaps(median_s=rng.uniform(2, 8), none=none),
    )


def _race(rng: random.Random) -> Scenario:
    least = rng.uniform(0.8, 3.0)
    ahead = replace(
        _ahead(rng), places=1, stops=0.0, backs=0.0, jumps=0.0, lag_s=(least, least + rng.uniform(0.3, 2.0))
    )
    return _scenario(rng, ahead, mob=Mob(untagged=rng.uniform(0.0, 0.02), dead=rng.uniform(0.0, 0.02)))


ROWS: dict[str, Callable[[random.Random], Scenario]] = {
    "wide": _wide,
    "panel": lambda rng: _hard(rng, _panel(rng, hard=True)),
    "stick": lambda rng: _hard(rng, _hand(rng, hard=True)),
    "both": lambda rng: _hard(rng, _panel(rng, hard=True), _ahead(rng)),
    "race": _race,
    "wide-apart": lambda rng: _wide(rng, "apart"),
    "panel-apart": lambda rng: _hard(rng, _panel(rng, hard=True, near="apart")),
    "both-apart": lambda rng: _hard(rng, _panel(rng, hard=True, near="apart"), _ahead(rng)),
    "inverted": lambda rng: _hard(rng, _panel(rng, hard=True, near="inverted")),
}


def draw(row: str, seed: int) -> Yard:
    """Draw a yard of a row; those `-apart` are the same yards but for how well neighbours are heard."""
    return Yard(ROWS[row](random.Random(f"{row.removesuffix('-apart')} {seed}")), seed, ANIMALS)
