"""Where the plateau lies, by examples: its ramps, what is cut off, what is the animal's own."""

import math

import pytest

from neckyoke.bridge.station.weight.plateau import Plateau, find_plateau, levels_of
from tests.bridge.station.weight.test_plateau_parts import ramp


def plateau(bins: list[float]) -> Plateau:
    found = find_plateau(bins)
    assert found is not None
    return found


@pytest.mark.parametrize(("up", "down"), [(4, 4), (10, 6), (20, 10), (8, 20)])
def test_ramps_are_measured_and_more_is_left_out_beside_slow_ones(up: int, down: int) -> None:
    bins = [*ramp(0, 400, up), *[400.0] * 40, *ramp(400, 0, down), 0.0]
    found = plateau(bins)
    first = next(n for n, kg in enumerate(bins) if kg >= 0.92 * 400)  # the ramps: from 60 % to 92 %, and to half
    foot = max(n for n in range(first) if bins[n] <= 0.6 * 400)
    last = max(n for n, kg in enumerate(bins) if kg >= 0.92 * 400)
    heel = next(n for n in range(last, len(bins)) if bins[n] <= 0.5 * 400)
    assert found.exit_s == pytest.approx((heel - last) / 10, abs=0.11)  # the level itself holds some ramp
    assert found.start == pytest.approx(first + round(0.6 * (first - foot)), abs=1)
    assert found.start + len(found.values) == pytest.approx(last - round(0.6 * (heel - last)) + 1, abs=1)
    assert set(found.values[2:-1]) == {400.0}
    assert found.span_s == pytest.approx(len(found.values) / 10)
    assert all(found.kept)
    assert not found.crowded
    assert not found.passing


def test_a_slow_approach_is_cut_off_and_does_not_speak_against_the_rest() -> None:
    rising = [400 - 60 * math.exp(-n / 6) for n in range(80)]
    found = plateau([*ramp(0, 340, 6), *rising, *ramp(400, 0, 6)])
    assert min(found.values) > 395
    assert min(found.cut) > 0.995 * 400


def test_what_was_cut_off_from_above_speaks_against_the_rest() -> None:
    falling = [400 + 24 * math.exp(-n / 6) for n in range(80)]
    found = plateau([*ramp(0, 424, 6), *falling, *ramp(400, 0, 6)])
    assert max(found.values) < 408
    assert len(found.cut) >= 5
    assert min(found.cut) > 400


def test_levels_join_when_they_come_again_and_know_their_places() -> None:
    bins = [*[400.0] * 20, *[640.0] * 15, *[404.0] * 20]
    low, high = sorted(levels_of(bins), key=lambda level: level.kg)
    assert low.kg == pytest.approx(402.0, abs=1.5)
    assert high.kg == pytest.approx(640.0, abs=8.0)
    assert [place[0] < 20 for place in low.places] == [True, False]
    assert low.lasts == sum(end - start for start, end in low.places)
    assert 8 <= high.lasts <= 10


def test_what_lasts_less_than_half_a_second_is_no_level() -> None:
    assert len(levels_of([*[400.0] * 30, *[700.0] * 6, *[400.0] * 30])) <= 2
    assert [round(level.kg) for level in levels_of([*[100.0] * 11, *[400.0] * 30])][-1] == 400
    assert levels_of([100.0, 150.0, 220.0, 320.0, 450.0]) == []


@pytest.mark.parametrize(
    ("half_kg", "half_bins", "whole_bins", "kg"),
    [
        (220.0, 30, 15, 400.0),  # half on for longer than on, but not for long
        (220.0, 39, 15, 400.0),
        (220.0, 60, 30, 220.0),  # nobody stands half on for six seconds
        (140.0, 30, 15, 140.0),  # no half: another, lighter animal was there for longer
        (300.0, 30, 15, 300.0),
        (220.0, 30, 9, 220.0),  # the higher was there for a moment only
        (146.0, 30, 15, 146.0),
        (155.0, 30, 15, 400.0),  # from 38 % to 72 % of the whole
        (280.0, 30, 15, 400.0),
        (290.0, 30, 15, 290.0),
    ],
)
def test_a_pause_half_on_is_told_from_an_animal(half_kg: float, half_bins: int, whole_bins: int, kg: float) -> None:
    bins = [
        *ramp(0, half_kg, 5),
        *[half_kg] * half_bins,
        *ramp(half_kg, 400, 4),
        *[400.0] * whole_bins,
        *ramp(400, 0, 4),
    ]
    own = [value for value, kept in zip(plateau(bins).values, plateau(bins).kept, strict=True) if kept]
    assert sorted(own)[len(own) // 2] == kg


def test_a_level_before_and_after_a_higher_one_is_no_half_of_it() -> None:
    bins = [*ramp(0, 300, 5), *[300.0] * 15, *[560.0] * 14, *[300.0] * 15, *ramp(300, 0, 5)]
    found = plateau(bins)
    own = [value for value, kept in zip(found.values, found.kept, strict=True) if kept]
    assert set(own) == {300.0}
    assert found.crowded


def test_beside_a_neighbours_feet_only_what_is_clear_of_them_is_the_animals() -> None:
    found = plateau([*ramp(0, 400, 5), *[400.0] * 20, *[520.0] * 12, *[400.0] * 20, *ramp(400, 0, 5)])
    own = [value for value, kept in zip(found.values, found.kept, strict=True) if kept]
    assert set(own) == {400.0}
    foreign = [n for n, kept in enumerate(found.kept) if not kept]
    feet = [n for n, kg in enumerate(found.values) if kg == 520.0]
    assert (feet[0] - foreign[0], foreign[-1] - feet[-1]) == (
        6,
        6,
    )  # as far as means of 0.8 s hold three tenths of them
    assert len(foreign) == len(feet) + 12
    assert found.crowded


def test_of_several_levels_that_a_pause_may_be_half_of_the_highest_is_the_animal() -> None:
    bins = [
        *ramp(0, 200, 4),
        *[200.0] * 35,
        *ramp(200, 300, 3),
        *[300.0] * 14,
        *ramp(300, 400, 3),
        *[400.0] * 16,
        100.0,
    ]
    found = plateau(bins)
    assert sorted(found.values)[len(found.values) // 2] == 400.0


@pytest.mark.parametrize(("after", "kg"), [(3, 300.0), (1, 560.0)])
def test_a_level_is_there_again_if_it_is_for_three_tenths_of_a_second(after: int, kg: float) -> None:
    bins = [*ramp(0, 300, 5), *[300.0] * 34, *[560.0] * 16, *[300.0] * after, 130.0, 20.0]
    found = plateau(bins)
    own = [value for value, kept in zip(found.values, found.kept, strict=True) if kept]
    assert sorted(own)[len(own) // 2] == kg


@pytest.mark.parametrize(
    ("before", "both", "after", "twofold"),
    [
        (15, 30, 15, True),  # a person for half the stay of a small animal: 52 -> 122 kg
        (0, 40, 20, False),  # stood half off at the end, for all that can be told
        (20, 40, 0, False),  # half on at the start
        (0, 40, 0, False),
        (9, 60, 9, False),  # too short a while to say anything against it
        (20, 40, 5, True),  # a moment is enough: a person who stepped off just before it left
        (5, 40, 20, True),
        (20, 40, 1, False),
        (0, 15, 20, True),  # longer than what was chosen: no pause
        (0, 20, 15, False),
    ],
)
def test_a_half_that_is_there_before_and_after_may_be_the_animal(
    before: int, both: int, after: int, *, twofold: bool
) -> None:
    found = plateau([*ramp(0, 60, 4), *[60.0] * before, *[122.0] * both, *[60.0] * after, *ramp(60, 0, 4)])
    own = [value for value, kept in zip(found.values, found.kept, strict=True) if kept]
    assert sorted(own)[len(own) // 2] == 122.0
    assert found.twofold is twofold


@pytest.mark.parametrize(
    ("lower_kg", "bins", "twofold"),
    [(30.0, 30, True), (95.0, 30, True), (30.0, 11, False), (60.0, 30, False), (78.0, 30, False), (55.0, 30, True)],
)
def test_what_stood_there_a_while_and_is_no_half_may_be_the_animal(
    lower_kg: float, bins: int, *, twofold: bool
) -> None:
    found = plateau([*ramp(0, lower_kg, 4), *[lower_kg] * bins, *[122.0] * 45, *ramp(122, 0, 4)])
    assert found.twofold is twofold


@pytest.mark.parametrize(("lower_kg", "twofold"), [(42.0, False), (60.0, False), (68.0, True), (80.0, True)])
def test_what_stands_there_last_weighs_no_more_than_hind_feet_carry(lower_kg: float, *, twofold: bool) -> None:
    """Fore feet come on first and leave first, and carry more than half (common practice, no source)."""
    found = plateau([*ramp(0, 122.0, 4), *[122.0] * 45, *[lower_kg] * 20, *ramp(lower_kg, 0, 4)])
    assert found.twofold is twofold


def test_something_more_beside_the_animal_does_not_make_it_twofold() -> None:
    found = plateau([*ramp(0, 400, 4), *[400.0] * 40, *[520.0] * 20, *[400.0] * 20, *ramp(400, 0, 4)])
    assert not found.twofold


@pytest.mark.parametrize(("bins", "passing"), [(20, True), (40, False)])
def test_a_short_plateau_beside_something_much_higher_is_passing(bins: int, *, passing: bool) -> None:
    found = plateau([*ramp(0, 220, 4), *[220.0] * bins, 300.0, *[400.0] * 5, *ramp(400, 0, 4)])
    assert found.passing is passing
    lower = plateau([*ramp(0, 220, 4), *[220.0] * bins, 240.0, *[280.0] * 5, *ramp(280, 0, 4)])
    assert not lower.passing


@pytest.mark.parametrize(
    ("other_kg", "bins", "crowded"),
    [
        (430.0, 20, False),
        (440.0, 20, True),
        (220.0, 20, False),
        (220.0, 60, True),
        (120.0, 20, True),
        (120.0, 12, False),
    ],
)
def test_another_level_means_that_more_stood_there_unless_it_is_a_pause(
    other_kg: float, bins: int, *, crowded: bool
) -> None:
    found = plateau(
        [*ramp(0, other_kg, 4), *[other_kg] * bins, *ramp(other_kg, 400, 4), *[400.0] * 90, *ramp(400, 0, 4)]
    )
    assert found.crowded is crowded


@pytest.mark.parametrize(
    ("lower_kg", "bins", "twofold"),
    [
        (374.0, 24, True),  # a light person beside a heavy animal for two thirds of its stay: either may be it
        (374.0, 14, False),  # for a fifth of what was chosen, or less: it creeps
        (374.0, 19, True),
        (388.0, 24, False),  # one level
    ],
)
def test_two_levels_a_light_person_apart_may_be_two(lower_kg: float, bins: int, *, twofold: bool) -> None:
    found = plateau([*ramp(0, lower_kg, 4), *[lower_kg] * bins, *[404.0] * 50, *ramp(404, 0, 4)])
    assert found.twofold is twofold


@pytest.mark.parametrize(("lower_kg", "bins", "twofold"), [(350.0, 24, True), (350.0, 9, False), (220.0, 24, False)])
def test_a_lower_level_in_the_middle_that_is_no_half_may_be_the_animal(
    lower_kg: float, bins: int, *, twofold: bool
) -> None:
    """One that threw itself about from 700 to 1000 kg seemed to stand at the one and at the other."""
    found = plateau([*ramp(0, 400, 4), *[400.0] * 30, *[lower_kg] * bins, *[400.0] * 30, *ramp(400, 0, 4)])
    assert found.twofold is twofold


@pytest.mark.parametrize(
    ("before", "higher_kg", "after", "twofold"),
    [
        (30, 430.0, 0, True),  # of one that paused half on, and was soon gone, a slow display shows no more
        (30, 400.0, 0, False),
        (0, 430.0, 30, False),  # it went before: a person stepped off
    ],
)
def test_a_level_that_is_outgrown_may_be_its_half(before: int, higher_kg: float, after: int, *, twofold: bool) -> None:
    bins = [*[340.0] * before, *ramp(340, higher_kg, 3), *[higher_kg] * 9, *[340.0] * after]
    found = plateau([*ramp(0, bins[0], 4), *bins, *ramp(bins[-1], 0, 4)])
    assert found.twofold is twofold
