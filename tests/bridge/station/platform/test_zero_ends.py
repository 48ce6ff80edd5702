"""Zero where nobody sees the platform quiet: animals follow each other, and the falls between them end at one level."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.station.platform.empty.tail import Lowest
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.weight.arrival import Rests
from neckyoke.bridge.station.weight.settling import Settling

CRUSH = Settings("larkmoor", "crush", "indicator", interval_kg=0.5)


def fell_to(kg: float, *, rested: bool = True) -> Lowest:
    """Return a fall to this level, which stayed there for half a second, or only touched it."""
    lowest = Lowest()
    for t in (0.0, 0.5) if rested else (0.0,):
        lowest.see(t, kg, CRUSH.interval_kg)
    return lowest


def told(zero: Zero, lowest: Lowest, rests: Rests | None = None, on: float = 0.6) -> float | None:
    """Return by how much a zero says that it may be wrong, None where it says nothing."""
    lies = zero.ends(on, lowest, rests)
    return None if lies is None else lies.unsure_kg


def ended(zero: Zero, *falls_kg: float) -> list[float | None]:
    """Let a zero learn where falls rested; return what it says of each."""
    return [told(zero, fell_to(kg)) for kg in falls_kg]


def seen(*falls_kg: float | None, zero_kg: float = 0.0) -> tuple[float | None, float]:
    """Let a zero that was seen learn where falls ended; return what it says of the last, and where it is then."""
    zero = Zero(CRUSH, None)
    zero.set(zero_kg)
    unsure = [told(zero, Lowest() if one is None else fell_to(one)) for one in falls_kg]
    return unsure[-1], zero.kg


@pytest.mark.parametrize(
    ("falls_kg", "unsure_kg", "zero_kg"),
    [
        ((13.0,), None, 0.0),
        ((13.0, 13.0), 0.0, 13.0),
        ((13.0, 14.0), 2.0, 13.0),  # it may have been a kilogram more, and may grow on by as much
        ((14.0, 13.0), 1.0, 13.0),
        ((13.0, 14.5), None, 0.0),  # more than two intervals apart
        ((13.0, None, 13.0), 0.0, 13.0),  # one that did not rest tells nothing
        ((1.0, 1.0), None, 0.0),  # no more than two intervals above zero: that is followed
        ((1.5, 1.5), 1.5, 0.0),  # a slow display may fall as far yet
        ((3.5, 3.5), 0.0, 3.5),
        ((13.0, 13.0, 13.5), 1.0, 13.0),
        ((13.0, 13.0, 20.0), 14.0, 13.0),  # it may have grown by as much as from one to the next
        ((13.0, 13.0, 20.0, 20.0), 0.0, 20.0),
        ((-3.0, -3.0), None, 0.0),  # less than nothing is seen by other means
    ],
)
def test_where_two_falls_in_a_row_ended_the_empty_platform_rests(
    falls_kg: tuple[float | None, ...], unsure_kg: float | None, zero_kg: float
) -> None:
    assert seen(*falls_kg) == (unsure_kg, zero_kg)


@pytest.mark.parametrize(("rests", "unsure_kg", "zero_kg"), [("quick", 0.0, 1.5), ("slow", 1.5, 0.0), (None, 1.5, 0.0)])
def test_falls_of_a_slow_display_that_are_cut_off_alike_are_no_zero(
    rests: Rests | None, unsure_kg: float, zero_kg: float
) -> None:
    """At two readings a second, in steps of 2 kg, two falls stood at 6 kg for half a second: calves were 7 % light."""
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    lies = [zero.ends(99.0, fell_to(1.5), rests) for _ in range(2)][-1]
    assert lies is not None
    assert (lies.unsure_kg, zero.kg) == (unsure_kg, zero_kg)


@pytest.mark.parametrize(
    ("capacity_kg", "interval_kg", "tells"),
    [(1500.0, 2.0, True), (1500.0, 5.0, False), (150.0, 0.2, True), (150.0, 0.5, False)],
)
def test_where_the_display_is_coarse_falls_that_end_alike_tell_nothing(
    capacity_kg: float, interval_kg: float, *, tells: bool
) -> None:
    """A slow display in steps of 5 kg, animals a third of a second apart: 12 of 160 graded weights were gross."""
    zero = Zero(Settings("larkmoor", "crush", "indicator", capacity_kg=capacity_kg, interval_kg=interval_kg), None)
    zero.set(0.0)
    assert ended(zero, 13.0, 13.0) == [None, 0.0 if tells else None]
    assert zero.kg == (13.0 if tells else 0.0)


def test_a_zero_that_nobody_has_seen_is_not_known_by_falls() -> None:
    zero = Zero(CRUSH, None)
    assert ended(zero, 13.0, 13.0) == [None, None]
    assert (zero.kg, zero.seen) == (0.0, False)


def test_what_is_quiet_in_between_begins_anew() -> None:
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    assert ended(zero, 13.0, 13.0) == [None, 0.0]
    for n in range(60):
        zero.watch(n / 10, 13.0)
    assert zero.look_away() == 0.0
    assert told(zero, fell_to(13.0)) is None, "it was seen, and is sure"
    zero.look_away()
    assert told(zero, fell_to(20.0)) is None, "of two falls one was quiet"


def test_a_fall_seen_before_listening_ended_and_one_after_it_are_no_two_in_a_row() -> None:
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    assert told(zero, fell_to(13.0)) is None
    zero.lose_sight()
    zero.set(0.0)
    assert told(zero, fell_to(13.0)) is None
    assert (told(zero, fell_to(13.0)), zero.kg) == (0.0, 13.0)
    zero.lose_sight()
    zero.set(0.0)
    assert told(zero, fell_to(40.0)) is None, "nor is it where these ended any more"


def test_what_rests_there_again_is_as_sure_as_what_was_quiet() -> None:
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    zero.look_away()
    assert ended(zero, 13.0, 13.0) == [None, 0.0]
    for n in range(3):
        zero.watch(n / 10, 13.0)
    assert zero.look_away() == 0.0
    assert zero.kg == 13.0


@given(
    st.lists(st.floats(1.0, 600.0).map(lambda kg: round(kg, 1)), min_size=1, max_size=60),
    st.floats(0.0, 80.0).map(lambda kg: round(kg, 1)),
)
def test_a_weight_is_the_same_whether_zero_was_known_from_the_first_reading_or_only_then(
    shown_kg: list[float], zero_kg: float
) -> None:
    late, known = Settling(0.1), Settling(0.1)
    for n, kg in enumerate(shown_kg):
        late.feed(n / 10, kg)
        known.feed(n / 10, kg - zero_kg)
    late.shift(zero_kg)
    assert late.track.bins() == pytest.approx(known.track.bins())
    assert late.first is None
    for settling in (late, known):
        for n in range(len(shown_kg), len(shown_kg) + 40):
            settling.feed(n / 10, 300.0)
    final = late.final()
    assert final.kg == pytest.approx(known.final().kg)
    assert final.grade == known.final().grade
