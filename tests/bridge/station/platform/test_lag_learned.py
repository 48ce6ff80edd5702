"""A display that smooths: what the first animals' leaving tells of it makes a short stay's weight right."""

import math

import pytest

from neckyoke.bridge.station.platform.happenings import Ended
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.protocols.readings import WeightReading
from tests.bridge.station.platform.test_platform_table import ends, platform

HZ, STAGE_S, KG = 10, 0.6, 300.0


def behind(force: list[float], stage_s: float) -> list[float]:
    """Return what a display of two such stages shows of a force: scipy's one-pole filter, twice."""
    from scipy import signal

    keep = math.exp(-1 / HZ / stage_s)
    run = signal.lfilter([1 - keep], [1, -keep], signal.lfilter([1 - keep], [1, -keep], force))
    return [round(2 * float(kg)) / 2 for kg in run]


def smoothed(stays_s: list[float]) -> list[float]:
    """Return what is shown of animals that stand so long, eight seconds apart."""
    on, off = ([KG * n / 8 for n in span] for span in (range(8), range(8, -1, -1)))
    force = [0.0] * 40
    for stay_s in stays_s:
        force += [*on, *[KG] * round(stay_s * HZ), *off, *[0.0] * 80]
    return behind(force, STAGE_S)


def weighed(on: Platform, shown: list[float]) -> list[Ended]:
    return ends(one for n, kg in enumerate(shown) for one in on.weight(n / HZ, WeightReading(kg)))


def test_a_short_stay_is_weighed_by_what_stood_there_once_the_display_is_known() -> None:
    (alone,) = weighed(platform(), smoothed([1.6]))
    *_, known = weighed(platform(), smoothed([6.0] * 5 + [1.6]))
    assert alone.weight.kg is not None
    assert known.weight.kg is not None
    assert alone.weight.kg < 0.92 * KG, "it had not arrived when the animal left"
    assert abs(known.weight.kg / KG - 1) < 0.02


def close_behind(gap_s: float, between: float = 0.0) -> list[float]:
    """Return what is shown of five animals, and then of two for two seconds each, so far behind each other.

    All feet come and go at once.  `between`: the share of the weight that stands there in between.
    """
    from scipy import signal

    force = [0.0] * 40 + ([KG] * 60 + [0.0] * 80) * 5
    force += [KG] * 20 + [between * KG] * round(gap_s * HZ) + [KG] * 20 + [0.0] * 80
    keep = math.exp(-1 / HZ / STAGE_S)
    run = signal.lfilter([1 - keep], [1, -keep], signal.lfilter([1 - keep], [1, -keep], force))
    return [round(2 * float(kg)) / 2 for kg in run]


@pytest.mark.parametrize("gap_s", [0.9, 1.0, 1.2])
@pytest.mark.parametrize(("between", "weighings"), [(0.0, 7), (0.5, 6)])
def test_behind_a_slow_display_two_of_one_weight_are_told_from_one_that_half_stepped_off(
    gap_s: float, between: float, weighings: int
) -> None:
    assert len(weighed(platform(), close_behind(gap_s, between))) == weighings


@pytest.mark.parametrize("stage_s", [0.3, 0.45, 0.6])
@pytest.mark.parametrize("half_s", [0.5, 0.9, 1.2])
@pytest.mark.parametrize("lifted", [0.4, 0.5, 0.55])
def test_behind_a_slow_display_one_that_steps_half_off_is_judged_once_the_display_is_back(
    stage_s: float, half_s: float, lifted: float
) -> None:
    """A second after its return the display was not: it was parted in two, and the second had no tag."""
    half = round(half_s * HZ)
    down, up = ([KG * (1 - lifted * n / 2) for n in span] for span in (range(1, 3), range(1, -1, -1)))
    on, off = ([KG * n / 8 for n in span] for span in (range(8), range(8, -1, -1)))
    one = [*on, *[KG] * 60, *off, *[0.0] * 80]
    steps = [*on, *[KG] * 25, *down, *[KG * (1 - lifted)] * half, *up, *[KG] * (33 - half), *off, *[0.0] * 80]
    ended = weighed(platform(), behind([0.0] * 40 + one * 5 + steps * 2, stage_s))
    assert len(ended) == 7
