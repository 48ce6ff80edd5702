"""The empty platform's level: taken, followed, and never moved under an animal.

Limits: OIML R 76-1:2006, 4.5.1 (zero-setting 4 % of capacity, initial 20 %) and 4.5.7 (tracking at most 0.5 d/s),
as restated in a public document.
"""

from itertools import pairwise

import pytest

from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.platform.zero import Zero
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.protocols.readings import WeightReading

SETTINGS = Settings(site="larkmoor", name="crush", scale="indicator", capacity_kg=1500.0, interval_kg=0.5)


def watch(zero: Zero, start: float, seconds: float, kg: float, creep_kg_s: float = 0.0) -> None:
    for n in range(round(seconds * 10)):
        zero.watch(start + n / 10, kg + creep_kg_s * n / 10)


@pytest.mark.parametrize(("level", "taken"), [(59.0, True), (60.0, True), (60.5, False), (-200.0, True)])
def test_zero_is_taken_within_four_per_cent_of_capacity(level: float, *, taken: bool) -> None:
    zero = Zero(SETTINGS, 0.0)
    watch(zero, 0.0, 3.5, level)
    assert (zero.kg == level) is taken


@pytest.mark.parametrize(("level", "taken"), [(300.0, True), (300.5, False)])
def test_the_first_zero_is_taken_within_twenty_per_cent(level: float, *, taken: bool) -> None:
    zero = Zero(SETTINGS, None)
    watch(zero, 0.0, 3.5, level)
    assert zero.seen is taken


def test_zero_follows_no_faster_than_half_an_interval_a_second() -> None:
    zero = Zero(SETTINGS, 0.0)
    watch(zero, 0.0, 10.0, 0.0)
    seen = []
    for n in range(100):
        zero.watch(10 + n / 10, 1.0)  # a bucket is hung on the rail
        seen.append(zero.kg)
    steps = [after - before for before, after in pairwise(seen)]
    assert max(steps) <= 0.5 * SETTINGS.interval_kg / 10 + 1e-9
    assert zero.kg == 1.0


def test_what_creeps_faster_than_that_is_said_to_wander() -> None:
    zero = Zero(SETTINGS, 0.0)
    wandered = []
    for start, seconds, kg, creep_kg_s in ((0.0, 5.0, 0.0, 0.0), (5.0, 40.0, 0.0, 0.4), (45.0, 70.0, 16.0, 0.0)):
        watch(zero, start, seconds, kg, creep_kg_s)
        wandered.append(zero.wanders)
    assert wandered == [False, True, False]
    assert zero.kg == 16.0


def test_a_held_display_is_not_believed_at_once() -> None:
    zero = Zero(SETTINGS, 0.0)
    for n, kg in enumerate((40.0, 25.0, *[10.0] * 25)):
        zero.watch(n / 10, kg)
    assert zero.kg == 0.0
    for n, kg in enumerate((40.0, 10.5, *[10.0] * 25)):
        zero.watch(10 + n / 10, kg)
    assert zero.kg == 10.0  # it wavered by an interval as it came to rest: a residue


def test_less_than_the_empty_platform_is_believed_at_once() -> None:
    zero = Zero(SETTINGS, 10.0)
    watch(zero, 0.0, 0.3, 0.0)
    assert zero.kg == 0.0


@pytest.mark.parametrize("seconds", [5, 600])
def test_zero_never_moves_under_an_animal(seconds: int) -> None:
    on = Platform(SETTINGS, Memory())
    for n in range(20):
        on.weight(n / 10, WeightReading(0.0))
    for n in range(20, 20 + seconds * 10):
        on.weight(n / 10, WeightReading(30.0))  # a calf as quiet as a stone, within four per cent of capacity
        assert on.zero_kg == 0.0


def test_an_unquiet_platform_has_no_zero() -> None:
    zero = Zero(SETTINGS, None)
    for n in range(100):
        zero.watch(n / 10, 3.0 * (n % 2))
    assert not zero.seen
    assert zero.quiet_kg() is None
