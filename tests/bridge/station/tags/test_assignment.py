"""The assignment against scipy's (scipy.optimize.linear_sum_assignment), and its margins against every other one."""

import itertools
import random

import pytest

from neckyoke.bridge.station.tags.assignment import Assignment


def table(seed: int, stays: int, tags: int) -> dict[tuple[int, int], float]:
    rng = random.Random(seed)
    values = (-4.0, 0.0, 0.5, 1.0, 2.0, 3.3, 7.0, rng.uniform(0, 9))
    return {(stay, tag): rng.choice(values) for stay in range(stays) for tag in range(tags) if rng.random() < 0.6}


def total(points: dict[tuple[int, int], float], assigned: dict[int, int | None]) -> float:
    return sum(points[stay, tag] for stay, tag in assigned.items() if tag is not None)


def every_assign(points: dict[tuple[int, int], float], stays: int, tags: int) -> list[dict[int, int | None]]:
    return [
        dict(enumerate(choice))
        for choice in itertools.product([None, *range(tags)], repeat=stays)
        if len({tag for tag in choice if tag is not None}) == sum(tag is not None for tag in choice)
        and all(tag is None or (stay, tag) in points for stay, tag in enumerate(choice))
    ]


def crowd(seed: int) -> dict[tuple[int, int], float]:
    """Give twelve stays and twelve tags points of which no two are equal."""
    rng = random.Random(seed)
    return {(stay, tag): rng.uniform(-3, 9) for stay in range(12) for tag in range(12)}


@pytest.mark.parametrize(
    ("stays", "tags", "points"),
    [
        *((1 + seed % 7, seed % 9, table(seed, 1 + seed % 7, seed % 9)) for seed in range(60)),
        *((12, 12, crowd(seed)) for seed in range(12)),
    ],
)
def test_no_assignment_has_more_points_than_scipys(stays: int, tags: int, points: dict[tuple[int, int], float]) -> None:
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    matrix = np.zeros((stays, tags + stays))  # one column more a stay: no tag
    for (stay, tag), value in points.items():
        matrix[stay, tag] = max(0.0, value)
    rows, columns = linear_sum_assignment(matrix, maximize=True)
    assignment = Assignment(range(stays), points)
    assigned = {stay: assignment.tag(stay) for stay in range(stays)}
    assert total(points, assigned) == pytest.approx(matrix[rows, columns].sum())
    held = [tag for tag in assigned.values() if tag is not None]
    assert len(held) == len(set(held))


@pytest.mark.parametrize("seed", range(30))
def test_a_margin_is_the_distance_to_the_best_assignment_that_gives_the_stay_anything_else(seed: int) -> None:
    stays, tags = 1 + seed % 3, 1 + seed % 4
    points = {pair: value for pair, value in table(seed, stays, tags).items() if value > 0}
    every = every_assign(points, stays, tags)
    best = max(total(points, one) for one in every)
    assignment = Assignment(range(stays), points)
    for stay in range(stays):
        got = assignment.at(stay)
        assert got.tag == assignment.tag(stay)
        others = [total(points, one) for one in every if one[stay] != got.tag]
        assert got.margin == pytest.approx(best - max(others)) if others else got.margin == float("inf")


@pytest.mark.parametrize("seed", range(30))
def test_the_next_best_assignment_is_told_whole(seed: int) -> None:
    stays, tags = 2 + seed % 2, 1 + seed % 3
    points = {pair: value for pair, value in table(seed, stays, tags).items() if value > 0}
    every = every_assign(points, stays, tags)
    assignment = Assignment(range(stays), points)
    for stay in range(stays):
        got = assignment.at(stay)
        others = [one for one in every if one[stay] != got.tag]
        most = max((total(points, one) for one in others), default=0.0)
        takers = [
            next((other for other, tag in one.items() if got.tag is not None and tag == got.tag), None)
            for one in others
            if total(points, one) == pytest.approx(most) and one[stay] == got.rival
        ]
        assert not others or got.taker in takers
        assert got.taker_untagged == (got.taker is not None and assignment.tag(got.taker) is None)


def test_a_stay_with_nothing_to_have_is_sure_of_nothing() -> None:
    got = Assignment([4], {}).at(4)
    assert got.tag is None
    assert got.margin == float("inf")


def test_a_tag_that_fits_both_goes_where_it_has_more() -> None:
    assignment = Assignment([1, 2], {(1, 0): 3.0, (2, 0): 9.0})
    assert (assignment.tag(1), assignment.tag(2)) == (None, 0)
    assert assignment.at(2).margin == pytest.approx(6.0)


@pytest.mark.parametrize(("points", "tag"), [(-1.0, None), (0.0, None), (0.5, 0)])
def test_what_has_no_more_than_nothing_is_nobodys(points: float, tag: int | None) -> None:
    assert Assignment([1], {(1, 0): points}).tag(1) == tag
