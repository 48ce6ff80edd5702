"""What is lighter than the smallest animal is none: it is never weighed, and never in the way of the next animal."""

import random

import pytest

from neckyoke.bridge.station.platform.happenings import Began, SettledAt
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.simulators.crush.body import Manner, Visit
from neckyoke.simulators.crush.indicator import Filter, Indicator
from neckyoke.simulators.crush.walk import Touch
from tests.bench.settling import weigh
from tests.bridge.station.platform.test_moved_grade import at_last
from tests.bridge.station.platform.test_platform_table import Shown, ends, feed, platform, ramp

STEERS = Settings("larkmoor", "crush", "indicator", capacity_kg=1500.0, interval_kg=0.5, smallest_kg=25.0)


@pytest.mark.parametrize("gate_kg", [14.0, 18.0, 24.0])
@pytest.mark.parametrize("before_s", [8.0, 3.0, 1.5])
@pytest.mark.parametrize(
    ("how", "filter_s", "rate_hz"),
    [("average", 0.1, 3.0), ("average", 0.5, 10.0), ("smooth", 0.8, 10.0), ("adaptive", 1.0, 25.0)],
)
def test_a_gate_hung_before_an_animal_comes_is_no_animal_and_the_next_one_is(
    how: Filter, filter_s: float, rate_hz: float, before_s: float, gate_kg: float
) -> None:
    """It became a stay that said to let it go, with a dose for 20 kg; the animal after it joined it, and was lost."""
    rng = random.Random(f"{gate_kg}{before_s}")
    first, t = Visit(rng, 300.0, Manner(stay_median_s=5.0, stay_s=(4.0, 9.0)), 4.0), 0.0
    t = first.off_t + 10.0
    second = Visit(rng, 320.0, Manner(stay_median_s=5.0, stay_s=(4.0, 9.0)), t)
    gate = Touch("gate", gate_kg, t - before_s, 99.0, 0.2)

    def force(at: float) -> float:
        return gate.force_kg(at) + sum(one.force_kg(at) for one in (first, second) if one.on_t <= at <= one.off_t)

    indicator = Indicator(rate_hz=rate_hz, filter=how, filter_s=filter_s, capacity_kg=1500.0)
    got = weigh(list(indicator.samples(force, 0.0, second.off_t + 8.0)), STEERS)
    assert all((one.weight.kg or 0.0) > 200.0 for one in got if isinstance(one, SettledAt))
    before, after = at_last(got)
    assert before.weight.kg == pytest.approx(300.0, rel=0.01)
    assert after.on == pytest.approx(second.on_t, abs=1.0)
    kg, grade = after.weight.kg, after.weight.grade
    assert kg == pytest.approx(320.0, rel=0.02) if before_s == 8.0 else grade in {"poor", "none"}


def told(*shown: Shown) -> list[tuple[float | None, float]]:
    """Return the weight of each stay, and when it was on."""
    return [(one.weight.kg, one.on) for one in ends(feed(platform(), *shown))]


@pytest.mark.parametrize("kg", [13.0, 20.0, 24.5])
@pytest.mark.parametrize("seconds", [1.0, 2.5, 30.0])
def test_it_is_never_weighed_however_long_it_stands(kg: float, seconds: float) -> None:
    got = feed(platform(), (2, 0.0), (seconds, kg), (2, 0.0))
    assert not [one for one in got if isinstance(one, Began | SettledAt)]


def test_nor_where_it_wavers() -> None:
    wavering = [(0.1, 18.0 + 4 * (n % 3)) for n in range(100)]
    assert told((2, 0.0), *wavering, (2, 0.0)) == []


@pytest.mark.parametrize("kg", [25.0, 25.5, 31.0])
def test_the_smallest_animal_is_one(kg: float) -> None:
    assert told((2, 0.0), (6, kg), (2, 0.0)) == [(kg, 2.0)]


def test_it_is_zero_once_it_has_been_still_for_three_seconds() -> None:
    assert told((2, 0.0), (3.5, 20.0), *ramp(20, 320), (5, 320.0), (2, 20.0)) == [(300.0, 5.5)]


def test_an_animal_that_comes_to_it_sooner_begins_then_and_may_weigh_less() -> None:
    (ended,) = ends(feed(platform(), (2, 0.0), (2.0, 20.0), *ramp(20, 320), (5, 320.0), (2, 20.0)))
    assert (ended.weight.kg, ended.weight.grade) == (320.0, "poor")
    assert ended.on == pytest.approx(4.0, abs=0.2)


def test_a_foot_that_sways_on_the_edge_for_a_second_is_no_gate() -> None:
    foot = [(0.1, 18.0 + 4 * (n % 3)) for n in range(12)]
    (ended,) = ends(feed(platform(), (2, 0.0), *foot, *ramp(22, 320), (5, 320.0), (2, 0.0)))
    assert (ended.weight.kg, ended.weight.grade) == (320.0, "good")


def test_what_was_on_at_the_start_and_goes_was_no_animal_if_it_is_light() -> None:
    assert feed(platform(Memory(zero_kg=0.0)), (0.8, 20.0), (2, 0.0)) == []


@pytest.mark.parametrize("seed", [1, 3])
@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 25.0])
@pytest.mark.parametrize("calf_kg", [60.0, 100.0])
@pytest.mark.parametrize("over_s", [0.3, 0.5])
def test_a_calf_that_steps_on_before_the_last_foot_of_its_dam_leaves_has_a_stay(
    over_s: float, calf_kg: float, rate_hz: float, seed: int
) -> None:
    """It stood as still as what a cow leaves behind, was taken for that, and never was."""
    rng = random.Random(seed)
    cow = Visit(rng, 550.0, Manner(stay_median_s=5.0, stay_s=(3.0, 9.0)), 4.0)
    calf = Visit(rng, calf_kg, Manner(stay_median_s=5.0, stay_s=(3.0, 9.0)), cow.off_t - over_s)
    indicator = Indicator(rate_hz=rate_hz, filter="smooth", filter_s=0.5, capacity_kg=1500.0, seed=seed)
    shown = indicator.samples(lambda t: cow.force_kg(t) + calf.force_kg(t), 0.0, calf.off_t + 4.0)
    one, other = ends(weigh(list(shown), STEERS))
    assert one.weight.kg == pytest.approx(550.0, rel=0.02)
    assert other.weight.kg == pytest.approx(calf_kg, rel=0.1)
    assert other.off == pytest.approx(calf.off_t, abs=1.0)


@pytest.mark.parametrize(("goes_s", "kgs"), [(8.0, [550.0, 60.0]), (1.0, [550.0])])
def test_what_was_taken_for_the_empty_platform_and_goes_was_an_animal(goes_s: float, kgs: list[float]) -> None:
    """As heavy as one; not while it is only on its way out."""
    wavering = [(0.1, 60.0 + 0.5 * (n % 3 == 0)) for n in range(round(10 * goes_s))]
    shown = [(2.0, 0.0), (6.0, 550.0), *ramp(550, 60, 0.5), *wavering, *ramp(60, 0, 0.5), (3.0, 0.0)]
    assert [kg for kg, _ in told(*shown)] == pytest.approx(kgs, abs=1.0)


def test_what_was_taken_for_it_and_is_there_when_the_next_comes_lies_there() -> None:
    shown = [(2.0, 0.0), (6.0, 550.0), *ramp(550, 60, 0.5), *[(0.1, 60.0 + 0.5 * (n % 3 == 0)) for n in range(80)]]
    shown += [*ramp(60, 460), (6.0, 460.0), *ramp(460, 60), (4.0, 60.0), (4.0, 0.0)]
    assert [kg for kg, _ in told(*shown)] == pytest.approx([550.0, 400.0], abs=1.0)


def test_what_an_instrument_may_not_be_zeroed_by_is_an_animal_however_still_it_stands() -> None:
    """A calf of 61 kg, on a crush for 1500, stood as still as a gate: it waited to grow until it left."""
    shown = [(2.0, 0.0), (6.0, 550.0), *ramp(550, 61, 0.5), (8.0, 61.0), *ramp(61, 0, 0.5), (3.0, 0.0)]
    assert [kg for kg, _ in told(*shown)] == pytest.approx([550.0, 61.0], abs=1.0)


@pytest.mark.parametrize("gate_kg", [14.0, 20.0, 24.0])
@pytest.mark.parametrize("bump_kg", [20.0, 40.0, 80.0])
@pytest.mark.parametrize("after_s", [0.8, 1.5, 2.2, 6.0])
def test_a_bump_on_a_gate_that_was_hung_as_an_animal_left_is_no_animal(
    after_s: float, bump_kg: float, gate_kg: float
) -> None:
    """It knocked for half a second, when the gate had stood for two: a stay of 14 kg."""
    bump = [(0.1, gate_kg + bump_kg * share) for share in (0.3, 0.8, 1.0, 0.8, 0.3)]
    shown = [(2.0, 0.0), (6.0, 200.0), *ramp(200, gate_kg, 0.4), (after_s, gate_kg), *bump, (5.0, gate_kg)]
    shown += [*ramp(gate_kg, 180 + gate_kg), (6.0, 180 + gate_kg), (2.0, gate_kg)]
    assert [kg for kg, _ in told(*shown)] == pytest.approx([200.0, 180.0], abs=1.0)


COW = ((2, 0.0), (5, 630.0), (0.1, 200.0))


@pytest.mark.parametrize("before", [COW, ((2, 0.0),)])
@pytest.mark.parametrize("stands_s", [2.0, 12.0, 90.0])
def test_a_calf_that_pauses_half_on_was_there_though_either_half_is_too_light(
    before: tuple[Shown, ...], stands_s: float
) -> None:
    """Each half became the empty platform's, and the calf had no stay (a pause: common practice, no source)."""
    day = (*before, (4.0, 23.0), *ramp(23, 40, 0.4), (stands_s, 40.0), (3, 0.0), (5, 300.0), (1, 0.0))
    *_, calf, steer = ended = ends(feed(platform(), *day))
    assert len(ended) == 2 + (before is COW)
    assert calf.weight.kg == pytest.approx(40.0, abs=0.5)
    assert calf.off - calf.on == pytest.approx(4.4 + stands_s, abs=0.2)
    assert calf.settled is None, "nothing was shown of it"
    assert steer.weight.kg == pytest.approx(300.0), "weighed from the platform as it was"


def test_a_gate_that_lay_there_for_long_is_no_part_of_a_calf() -> None:
    assert told((2, 0.0), (70.0, 20.0), (5, 30.0), (3, 0.0)) == []


def test_nor_does_an_animal_that_comes_to_it_take_it_along() -> None:
    assert told((2, 0.0), (10.0, 20.0), (5, 320.0), (5, 20.0), (3, 0.0)) == [(300.0, 12.0)]
