"""The chance of each pair of all orders: against every way written out one by one, as fractions."""

import itertools
import random
from fractions import Fraction
from math import prod

import pytest

from neckyoke.bridge.station.tags.readers.chances import chances

Way = tuple[tuple[int, int], ...]


def in_order(tags: int, stays: int) -> list[Way]:
    """Return every way to lay some of the tags beside as many of the stays, none overtaking."""
    return [
        tuple(zip(chosen, at, strict=True))
        for size in range(min(tags, stays) + 1)
        for chosen in itertools.combinations(range(tags), size)
        for at in itertools.combinations(range(stays), size)
    ]


def with_swaps(way: Way) -> list[Way]:
    """Return a way with any of its pairs that follow each other changed over, no pair twice."""
    if len(way) < 2:
        return [way]
    (tag, stay), (after, later), *rest = way
    kept = [((tag, stay), *others) for others in with_swaps(way[1:])]
    if (after, later) != (tag + 1, stay + 1):
        return kept
    return kept + [((tag, later), (after, stay), *others) for others in with_swaps(tuple(rest))]


@pytest.mark.parametrize("seed", range(60))
def test_a_chance_is_the_share_of_all_ways_that_have_the_pair(seed: int) -> None:
    rng = random.Random(seed)
    tags, stays = rng.randint(1, 4), rng.randint(1, 4)
    odds = {
        (tag, stay): rng.choice([1, 3, 20, 500]) for tag in range(tags) for stay in range(stays) if rng.random() < 0.7
    }
    ways = {
        frozenset(way): prod(odds.get(pair, 0) for pair in way)
        for plain in in_order(tags, stays)
        for way in with_swaps(plain)
    }
    whole = sum(ways.values())
    found = chances(odds, tags, stays)
    assert found.keys() == odds.keys()
    for pair, chance in found.items():
        assert chance == pytest.approx(float(Fraction(sum(of for way, of in ways.items() if pair in way), whole)))


def test_alone_a_pair_has_its_own_odds() -> None:
    assert chances({(0, 0): 3.0}, 1, 1) == {(0, 0): pytest.approx(0.75)}
    assert chances({}, 0, 0) == {}
    assert chances({}, 3, 2) == {}


def test_ten_ways_a_little_worse_outweigh_the_best() -> None:
    # a tag as likely in ten stays is a tenth each stay's, though each one way is as good as any other
    found = chances({(0, stay): 1000.0 for stay in range(10)}, 1, 10)
    assert list(found.values()) == pytest.approx([1000 / 10001] * 10)


def test_a_crowd_of_tags_neither_overflows_nor_vanishes() -> None:
    odds = {(tag, stay): 1e5 for tag in range(200) for stay in range(20)}
    found = chances(odds, 200, 20)
    for stay in range(20):
        assert sum(found[tag, stay] for tag in range(200)) == pytest.approx(1.0, abs=0.01)
