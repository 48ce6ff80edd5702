"""What was hung on the platform or taken off within a stay, or may have been, is said in its grade."""

import random
from dataclasses import replace

import pytest

from neckyoke.bridge.station.platform.happenings import Ended, Happening, ZeroMoved
from neckyoke.bridge.station.settings import Settings
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator
from neckyoke.simulators.crush.walk import Touch
from tests.bench.settling import weigh
from tests.bridge.station.platform.test_platform_table import Shown, feed, platform, ramp

STEERS = Settings("larkmoor", "crush", "indicator", capacity_kg=1500.0, interval_kg=0.5, smallest_kg=25.0)


def at_last(happenings: list[Happening]) -> list[Ended]:
    """Return the stays as they were told last: amended where zero moved."""
    told = dict[int, Ended]()
    for one in happenings:
        if isinstance(one, Ended):
            told[one.number] = one
        elif isinstance(one, ZeroMoved):
            told[one.number] = replace(told[one.number], weight=one.weight, flags=one.flags)
    return list(told.values())


@pytest.mark.parametrize("part", [0.15, 0.3, 0.5, 0.7])
@pytest.mark.parametrize("gate_kg", [10.0, 20.0, -10.0])
@pytest.mark.parametrize("rate_hz", [4.0, 10.0, 25.0])
@pytest.mark.parametrize(("how", "filter_s"), [("average", 0.3), ("smooth", 0.6), ("adaptive", 1.0)])
def test_a_gate_hung_or_taken_off_while_a_steer_stands_there_leaves_no_promise_broken(
    how: Filter, filter_s: float, rate_hz: float, gate_kg: float, part: float
) -> None:
    """320 kg with 10 kg too much was good, though the weighing itself said that zero had moved by as much."""
    steer = Visit(random.Random(f"{part}{gate_kg}"), 320.0, Manner(stay_median_s=6.0, stay_spread=0.2), 5.0)
    hung_t = steer.all_on_t + part * (steer.leave_t - steer.all_on_t)
    gate = Touch("gate", abs(gate_kg), *((hung_t, 99.0) if gate_kg > 0 else (-9.0, hung_t)), 0.2)
    indicator = Indicator(rate_hz=rate_hz, filter=how, filter_s=filter_s, capacity_kg=1500.0)
    shown = indicator.samples(lambda t: steer.force_kg(t) + gate.force_kg(t), 0.0, steer.off_t + 8.0)
    (told,) = at_last(weigh(list(shown), STEERS))
    assert told.weight.kg is not None
    error = 100 * abs(told.weight.kg / 320.0 - 1)
    assert error <= {"good": 1.0, "fair": 2.0}.get(told.weight.grade, 99.0)
    assert told.weight.zero_moved_kg == pytest.approx(gate_kg, abs=2.5)


def graded(*shown: Shown) -> list[tuple[float | None, str, float | None]]:
    got = at_last(feed(platform(), *shown))
    return [(one.weight.kg, one.weight.grade, one.weight.zero_moved_kg) for one in got]


@pytest.mark.parametrize(("left_kg", "grade"), [(1.5, "good"), (6.0, "good"), (6.5, "poor"), (12.0, "poor")])
def test_what_an_animal_leaves_was_weighed_with_it_but_nothing_that_heavy(left_kg: float, grade: str) -> None:
    """A quarter of the smallest animal, of 25 kg.  It stands still: in no reading did anything come."""
    assert graded((2, 0.0), (6, 300.0), (4, left_kg)) == [(300.0, grade, left_kg)]


@pytest.mark.parametrize("gap_s", [0.5, 0.6])
def test_what_rests_between_two_that_follow_closely_is_said_of_the_first_too(gap_s: float) -> None:
    """The platform was quiet for no longer; the first was good with a gate in it."""
    shown = [(2.0, 0.0), *ramp(0, 310, 0.8), (5.0, 310.0), *ramp(310, 10, 0.5), (gap_s, 10.0)]
    shown += [*ramp(10, 330, 0.8), (5.0, 330.0), *ramp(330, 10, 0.5), (4.0, 10.0)]
    first, _ = graded(*shown)
    assert first[1:] == ("poor", None)


@pytest.mark.parametrize("gap_s", [0.3, 0.5])
def test_a_gate_taken_off_again_after_falls_had_told_of_it_is_in_no_weight_that_promises(gap_s: float) -> None:
    """Nothing weighs less than nothing: a fifth of a second tells."""
    shown: list[Shown] = [(2.0, 0.0)]
    for _ in range(4):
        shown += [*ramp(13, 333, 0.8), (4.0, 333.0), *ramp(333, 13, 0.5), (0.5, 13.0)]
    shown += [*ramp(13, 320, 0.8), (5.0, 320.0), *ramp(320, 0, 0.5), (gap_s, 0.0)]
    shown += [*ramp(0, 320, 0.8), (5.0, 320.0), *ramp(320, 0, 0.5), (4.0, 0.0)]
    *_, gated, taken, free = graded(*shown)
    assert [one[0] for one in (gated, taken, free)] == pytest.approx([320.0, 307.0, 320.0])
    assert [one[1] for one in (gated, taken, free)] == ["good", "poor", "poor"]


def test_while_a_slow_display_sinks_still_no_grade_falls_for_it() -> None:
    """It was quiet for a moment at 3 kg; what it came to rest at is 1 kg."""
    shown = [(2.0, 0.0), (6.0, 220.0), (0.2, 20.0), (0.2, 4.5), (0.2, 3.5), (1.5, 3.0), (0.5, 2.5), (0.5, 2.0)]
    shown += [(0.5, 1.5), (3.5, 1.0), (5.0, 240.0), (3.0, 1.0)]
    assert [grade for _, grade, _ in graded(*shown)] == ["good", "good"]
