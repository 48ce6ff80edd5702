"""Laying tags beside stays in order, against every way of doing it by hand."""

import itertools
import random
from math import inf

import pytest

from neckyoke.bridge.station.tags.readers.alignment import Alignment, align, cheapest


def every_way(tags: int, stays: int) -> list[tuple[tuple[int, int], ...]]:
    ways = []
    for size in range(min(tags, stays) + 1):
        for chosen in itertools.combinations(range(tags), size):
            ways += [tuple(zip(chosen, at, strict=True)) for at in itertools.combinations(range(stays), size)]
    return ways


def cost_of(
    way: tuple[tuple[int, int], ...], pairs: dict[tuple[int, int], float], skip_tag: float, skip_stay: list[float]
) -> float:
    """Tags after the last pair still wait and cost nothing; every stay left out costs."""
    if any(pair not in pairs for pair in way):
        return inf
    last = max((tag for tag, _ in way), default=-1)
    held = {stay for _, stay in way}
    return (
        sum(pairs[pair] for pair in way)
        + skip_tag * (last + 1 - len(way))
        + sum(cost for stay, cost in enumerate(skip_stay) if stay not in held)
    )


@pytest.mark.parametrize("seed", range(40))
def test_the_costs_are_those_of_the_cheapest_of_all_ways(seed: int) -> None:
    rng = random.Random(seed)
    tags, stays = rng.randint(0, 4), rng.randint(1, 4)
    pairs = {
        (tag, stay): rng.choice([0.0, 0.7, 2.0, 5.0])
        for tag in range(tags)
        for stay in range(stays)
        if rng.random() < 0.7
    }
    skip_stay = [rng.choice([0.0, 1.5, 4.0]) for _ in range(stays)]
    aligned = align(pairs, [3.0] * tags, skip_stay)
    ways = {way: cost_of(way, pairs, 3.0, skip_stay) for way in every_way(tags, stays)}
    assert aligned.least == pytest.approx(min(ways.values()), abs=0.01)
    for pair in pairs:
        expected = min(cost for way, cost in ways.items() if pair in way)
        assert aligned.pairs[pair] == pytest.approx(expected, abs=0.01)
    for stay in range(stays):
        expected = min(cost for way, cost in ways.items() if all(at != stay for _, at in way))
        assert aligned.empty[stay] == pytest.approx(expected, abs=0.01)


def test_between_equal_ways_the_earlier_stay_stays_empty() -> None:
    aligned = align({(0, 0): 0.0, (0, 1): 0.0}, [9.0], [2.0, 2.0])
    assert aligned.extra(0, 1) == 0.0
    assert 0.0 < aligned.extra(0, 0) < 0.001
    assert aligned.margin(0, 1)[0] > 0 > aligned.margin(0, 0)[0]


def test_a_margin_names_what_the_stay_would_have_else() -> None:
    aligned = align({(0, 0): 0.0, (1, 0): 2.0}, [1.0, 1.0], [9.0])
    margin, rival = aligned.margin(0, 0)  # the other tag, and this one skipped
    assert margin == pytest.approx(3.0)
    assert rival == 1
    margin, rival = align({(0, 0): 0.0}, [1.0], [4.0]).margin(0, 0)
    assert margin == pytest.approx(4.0)
    assert rival is None


def test_of_several_ways_of_counting_the_cheapest_is_taken_pair_by_pair() -> None:
    one = align({(0, 0): 1.0, (0, 1): 4.0}, [9.0], [2.0, 2.0])
    other = align({(0, 1): 0.0}, [9.0], [2.0, 2.0])
    both = cheapest([one, other], [0.0, 0.5])
    assert both.pairs == pytest.approx({(0, 0): 3.0, (0, 1): 2.5}, abs=0.01)
    assert both.least == pytest.approx(2.5, abs=0.01)
    assert both.empty == pytest.approx([2.5, 3.0], abs=0.01)


def test_nothing_to_lay_is_no_trouble() -> None:
    assert align({}, [], []) == Alignment({}, [])
