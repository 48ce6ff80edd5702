"""What has come to rest only for a moment: by how much it may fall yet, beside falls of a known time."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.station.platform.empty.rest import FALLS_S, at_rest, left_kg, lowered
from neckyoke.bridge.station.platform.empty.tail import Lowest
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.weight.arrival import Rests

CRUSH = Settings("larkmoor", "crush", "indicator", interval_kg=0.5, smallest_kg=20.0)


def lowest(*shown_kg: float, each_s: float = 0.1) -> Lowest:
    found = Lowest()
    for n, kg in enumerate(shown_kg):
        found.see(n * each_s, kg, CRUSH.interval_kg)
    return found


@given(
    rests=st.sampled_from(sorted(FALLS_S, key=str)),
    quicker=st.floats(0.1, 1.0),
    from_kg=st.floats(5.0, 500.0),
    interval_kg=st.sampled_from([0.1, 0.5, 2.0]),
    cut_s=st.floats(0.0, 6.0),
)
def test_no_fall_of_the_time_or_a_shorter_one_has_more_left(
    rests: Rests | None, quicker: float, from_kg: float, interval_kg: float, cut_s: float
) -> None:
    """An exponential, rounded to the display's intervals, that is cut off at any moment."""
    found = Lowest()
    for n in range(round(cut_s / 0.02) + 1):
        true_kg = from_kg * math.exp(-n * 0.02 / (quicker * FALLS_S[rests]))
        found.see(n * 0.02, round(true_kg / interval_kg) * interval_kg, interval_kg)
    assert true_kg <= left_kg(found.rested_s, interval_kg, rests) + interval_kg / 2 + 1e-6


def test_what_has_not_rested_may_fall_by_anything() -> None:
    assert left_kg(0.0, 0.5, "quick") == math.inf
    assert left_kg(0.15, 0.5, "quick") == pytest.approx(1.5 / (math.e - 1))
    assert left_kg(36_000.0, 0.5, "quick") == pytest.approx(0.0, abs=1e-9), "ten hours"


@pytest.mark.parametrize(
    ("shown_kg", "on", "rests", "sure"),
    [
        ([60.0, 4.0, 4.0, 4.0, 4.0, 4.0], 0.6, "quick", True),
        ([60.0, 4.0, 4.0, 4.0, 4.0], 0.5, "quick", False),  # three tenths: any display turns around in that
        ([60.0, 4.0, 4.0, 4.0, 4.0, 4.0], 0.6, "middling", False),
        ([60.0, *[4.0] * 7], 0.8, "middling", True),
        ([60.0, *[4.0] * 13], 1.4, "slow", False),
        ([60.0, *[4.0] * 16], 1.7, "slow", True),
        ([60.0, *[4.0] * 16], 1.7, None, True),
        ([60.0, *[4.0] * 16], 2.3, None, False),  # something else stood there since
    ],
)
def test_it_is_at_rest_where_next_to_nothing_is_left(
    shown_kg: list[float], on: float, rests: Rests | None, *, sure: bool
) -> None:
    assert (at_rest(on, lowest(*shown_kg), 0.5, rests) is not None) is sure


@pytest.mark.parametrize(
    ("taken_kg", "kept_below_kg", "sinks", "lowered_to"),
    [  # in half kilograms, of a platform that last rested at 10
        (10.0, 10.0, True, (10.0, 0.0)),
        (10.5, 10.5, True, (10.0, 0.5)),  # the last of its way
        (10.5, 10.0, True, (10.0, 0.0)),  # which it was seen to go
        (10.5, 9.5, True, (10.0, 0.0)),
        (10.5, 10.5, False, (10.5, 0.0)),  # it rests there
        (10.75, 10.5, True, (10.0, 0.5)),
        (11.0, 11.0, True, (11.0, 0.0)),  # more than a step is doubted by who asks
        (11.0, 10.5, True, (10.5, 0.0)),
        (11.0, 9.0, False, (10.0, 0.0)),
        (9.5, 9.5, True, (9.5, 0.0)),
    ],
)
def test_what_sinks_still_and_is_a_step_above_where_it_rested_is_on_its_way_there(
    taken_kg: float, kept_below_kg: float, lowered_to: tuple[float, float], *, sinks: bool
) -> None:
    assert lowered(taken_kg, 10.0, kept_below_kg, 0.5, sinks=sinks) == lowered_to


@given(taken_kg=st.floats(0, 20), rested_kg=st.floats(0, 20), kept_below_kg=st.floats(0, 20), sinks=st.booleans())
def test_nothing_is_raised_by_it_and_nothing_sinks_below_where_it_rested(
    taken_kg: float, rested_kg: float, kept_below_kg: float, *, sinks: bool
) -> None:
    kg, unsure_kg = lowered(taken_kg, rested_kg, kept_below_kg, 0.5, sinks=sinks)
    assert min(taken_kg, rested_kg) <= kg <= taken_kg
    assert 0 <= unsure_kg <= taken_kg - min(kg, taken_kg)


@pytest.mark.parametrize(
    ("rested_kg", "zero_kg"),
    [(0.5, 0.5), (4.0, 4.0), (5.0, 5.0), (5.5, None), (0.0, 0.0), (-0.5, 0.0), (-1.0, None)],
)
def test_zero_is_what_a_quick_display_rested_at_if_an_animal_may_leave_as_much(
    rested_kg: float, zero_kg: float | None
) -> None:
    """A quarter of the smallest animal, 20 kg; what shows less than nothing is seen by other means."""
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    lies = zero.ends(0.7, lowest(300.0, *[rested_kg] * 6), "quick")
    assert zero.kg == (zero_kg or 0.0)
    assert (lies is None) is (zero_kg is None)
    assert lies is None or (lies.bare and lies.unsure_kg < 0.1)


def test_one_reading_that_swung_lower_is_not_where_it_rested() -> None:
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    zero.ends(0.7, lowest(300.0, 2.0, *[2.5] * 6), "quick")
    assert zero.kg == 2.5
    assert lowest(300.0, 2.0, 2.0, *[2.5] * 6).level_kg == 2.0, "two have not"


def test_a_zero_that_nobody_has_seen_is_not_known_by_a_moment_s_rest() -> None:
    zero = Zero(CRUSH, None)
    assert zero.ends(0.7, lowest(300.0, *[4.0] * 6), "quick") is None
    assert not zero.seen
