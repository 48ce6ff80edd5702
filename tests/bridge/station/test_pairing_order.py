"""Laying tags beside stays in order, against every way of doing it by hand."""

import itertools
import random
from math import inf

import pytest

from bridge.station.order import Laid, Lengths, lay


def every_way(tags: int, stays: int) -> list[tuple[tuple[int, int], ...]]:
    ways = []
    for size in range(min(tags, stays) + 1):
        for chosen in itertools.combinations(range(tags), size):
            ways += [tuple(zip(chosen, at, strict=True)) for at in itertools.combinations(range(stays), size)]
    return ways


def cost_of(
    way: tuple[tuple[int, int], ...], pairs: dict[tuple[int, int], list[float]], skip_tag: float, skip_stay: list[float]
) -> float:
    """Tags after the last pair still wait and cost nothing; every stay left out costs."""
    if any(pair not in pairs for pair in way):
        return inf
    last = max((tag for tag, _ in way), default=-1)
    held = {stay for _, stay in way}
    return (
        sum(pairs[pair][0] for pair in way)
        + skip_tag * (last + 1 - len(way))
        + sum(cost for stay, cost in enumerate(skip_stay) if stay not in held)
    )


@pytest.mark.parametrize("seed", range(40))
def test_the_costs_are_those_of_the_cheapest_of_all_ways(seed: int) -> None:
    rng = random.Random(seed)
    tags, stays = rng.randint(0, 4), rng.randint(1, 4)
    pairs = {
        (tag, stay): [rng.choice([0.0, 0.7, 2.0, 5.0])]
        for tag in range(tags)
        for stay in range(stays)
        if rng.random() < 0.7
    }
    skip_stay = [rng.choice([0.0, 1.5, 4.0]) for _ in range(stays)]
    laid = lay(pairs, [3.0] * tags, skip_stay)
    ways = {way: cost_of(way, pairs, 3.0, skip_stay) for way in every_way(tags, stays)}
    least = min(ways.values())
    for pair in pairs:
        expected = min(cost for way, cost in ways.items() if pair in way) - least
        assert laid.pairs[pair] == pytest.approx(expected, abs=0.01)
    for stay in range(stays):
        expected = min(cost for way, cost in ways.items() if all(at != stay for _, at in way)) - least
        assert laid.empty[stay] == pytest.approx(expected, abs=0.01)


def test_a_margin_names_what_the_stay_would_have_else() -> None:
    laid = lay({(0, 0): [0.0], (1, 0): [2.0]}, [1.0, 1.0], [9.0])
    margin, rival = laid.margin(0, 0)  # the other tag, and this one skipped
    assert margin == pytest.approx(3.0)
    assert rival == 1
    margin, rival = lay({(0, 0): [0.0]}, [1.0], [4.0]).margin(0, 0)
    assert margin == pytest.approx(4.0)
    assert rival is None


def test_two_read_in_the_wrong_order_are_put_right_when_that_is_cheaper() -> None:
    pairs = {(0, 0): [4.0], (1, 1): [4.0], (0, 1): [0.0], (1, 0): [0.0]}
    kept = lay(pairs, [9.0, 9.0], [9.0, 9.0])
    swapped = lay(pairs, [9.0, 9.0], [9.0, 9.0], swap=1.0)
    assert kept.pairs[0, 0] == pytest.approx(0.0, abs=0.01)
    assert swapped.pairs[0, 1] == pytest.approx(0.0, abs=0.01)
    assert swapped.pairs[1, 0] == pytest.approx(0.0, abs=0.01)
    assert swapped.pairs[0, 0] == pytest.approx(7.0, abs=0.01)


def test_a_queue_that_keeps_its_length_skips_the_stay_whose_animal_was_not_heard() -> None:
    # lengths 1 and 2; the second stay's own animal was never heard, the later ones all came two stays before their own
    lengths = Lengths(start=(inf, 0.0), longer=(5.0,), shorter=(5.0,))
    two, one = [2.0, 0.0], [0.0, 2.0]
    pairs = {(0, 0): two, (1, 1): one, (1, 2): two, (2, 2): one, (2, 3): two}
    laid = lay(pairs, [6.0] * 3, [4.0] * 4, lengths)
    assert [pair for pair, cost in laid.pairs.items() if cost < 1e-9] == [(0, 0), (1, 2), (2, 3)]


def test_nothing_to_lay_is_no_trouble() -> None:
    assert lay({}, [], []) == Laid({}, [])
