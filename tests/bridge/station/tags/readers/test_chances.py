"""The chance of each pair of all ways: against every way written out one by one, from the table of the module."""

import itertools
import random
from collections.abc import Iterator

import pytest

from neckyoke.bridge.station.tags.readers.chances import MOST_READS, MOST_STATES, Manner, Read, _Ways, chances

PERSON, PANEL = Manner(0.8, 0.1, 0.05), Manner(1.0, 0.2)
AGAIN = 0.1


def owners(tags: int, stays: int) -> Iterator[tuple[int | None, ...]]:
    """Yield every way to deal tags to stays, no tag twice."""
    for way in itertools.product([None, *range(tags)], repeat=stays):
        has = [tag for tag in way if tag is not None]
        if len(has) == len(set(has)):
            yield way


def likely(reads: list[Read], own: tuple[int | None, ...], meant: tuple[int | None, ...], manner: Manner) -> float:
    """Return how likely a way is: whose tag each stay has, and which read was meant for each."""
    works, missed, mistaken = manner
    whole = 1.0
    for stay, n in enumerate(meant):
        beside = {own[at] for at in (stay - 1, stay + 1) if 0 <= at < len(own)} - {None}
        if n is None:
            whole *= works * missed if own[stay] is not None else works * missed + 1 - works
        elif reads[n].tag == own[stay]:
            whole *= works * (1 - missed) * (1 - mistaken) * reads[n].odds.get(stay, 0.0)
        elif reads[n].tag in beside:
            told = (1 - missed) * mistaken / 2 * reads[n].odds.get(stay, 0.0)
            whole *= told * works if own[stay] is not None else told
        else:
            return 0.0
    for stay, tag in enumerate(own):
        its = [n for n, read in enumerate(reads) if read.tag == tag]
        if tag is not None and not set(its) & set(meant):
            return 0.0
        for n in set(its) - set(meant):
            whole *= 1 + AGAIN * reads[n].odds.get(stay, 0.0)
    return whole


def by_hand(reads: list[Read], tags: int, stays: int, manner: Manner) -> dict[tuple[int, int], float]:
    whole, shares = 0.0, dict.fromkeys(itertools.product(range(tags), range(stays)), 0.0)
    for own in owners(tags, stays):
        for meant in itertools.product([None, *range(len(reads))], repeat=stays):
            said = [n for n in meant if n is not None]
            if len(said) == len(set(said)) and (weight := likely(reads, own, meant, manner)):
                whole += weight
                for stay, tag in enumerate(own):
                    if tag is not None:
                        shares[tag, stay] += weight
    return {pair: share / whole for pair, share in shares.items()}


@pytest.mark.parametrize("manner", [PERSON, PANEL])
@pytest.mark.parametrize("seed", range(30))
def test_a_chance_is_the_share_of_all_ways_that_have_the_pair(seed: int, manner: Manner) -> None:
    rng = random.Random(seed)
    tags, stays = rng.randint(1, 3), rng.randint(1, 4)
    reads = [
        Read(tag, {stay: rng.choice([0.5, 3.0, 20.0, 500.0]) for stay in range(stays) if rng.random() < 0.7})
        for tag in range(tags)
        for _ in range(rng.choice([1, 1, 1, 2]))
    ][:4]
    found = chances(reads, stays, manner, lambda *_: True)
    for pair, expected in by_hand(reads, tags, stays, manner).items():
        assert found.get(pair, 0.0) == pytest.approx(expected, abs=1e-3)


def test_alone_a_pair_has_its_own_odds() -> None:
    def all_may(*_: int) -> bool:
        return True

    manner = Manner(1.0, 0.5)
    assert chances([Read(0, {0: 3.0})], 1, manner, all_may) == {(0, 0): pytest.approx(0.75)}
    assert chances([], 0, manner, all_may) == chances([], 2, manner, all_may) == {}
    assert chances([Read(0, {})], 2, manner, all_may) == {}
    assert chances([Read(0, {0: 3.0})], 1, manner, lambda *_: False) == {}


def test_ten_ways_a_little_worse_outweigh_the_best() -> None:
    # a tag as likely in ten stays is a tenth each stay's, though each one way is as good as any other
    found = chances([Read(0, dict.fromkeys(range(10), 1000.0))], 10, Manner(1.0, 0.5), lambda *_: True)
    assert list(found.values()) == pytest.approx([1000 / 10001] * 10)


def test_a_read_that_only_a_later_stay_explains_is_waited_for() -> None:
    # most of the odds lie in the last stay: until then the way looks bad beside one in which each is spoken for at once
    reads = [Read(n, {stay: 1e4 if stay == 3 + n else 3.0 for stay in range(8)}) for n in range(3)]
    found = chances(reads, 8, Manner(0.9, 0.05, 0.02), lambda *_: True)
    assert min(found[n, 3 + n] for n in range(3)) > 0.99


def test_a_crowd_of_tags_neither_overflows_nor_vanishes() -> None:
    reads = [Read(tag, dict.fromkeys(range(20), 1e5)) for tag in range(200)]
    found = chances(reads, 20, PERSON, lambda *_: True)
    for stay in range(20):
        assert 0.0 <= sum(found.get((tag, stay), 0.0) for tag in range(200)) <= 1.0 + 1e-9


def test_of_a_tag_said_a_thousand_times_the_reads_that_fit_best_tell() -> None:
    """A reader that was left on: each read more was a way more, and the sum took hours."""
    best = [Read(0, {0: 40.0 - n, 1: 4.0 - n}) for n in range(MOST_READS)]
    many = [*(Read(0, {0: 30.0, 1: 1.0}) for _ in range(1000)), *best, Read(1, {1: 20.0})]
    few = by_hand([*best, Read(1, {1: 20.0})], 2, 2, PERSON)
    found = chances(many, 2, PERSON, lambda _, __: True)
    assert {pair: found.get(pair, 0.0) for pair in few} == pytest.approx(few, abs=1e-4)


def test_where_nothing_can_be_told_the_states_of_a_stay_are_few(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = dict[int, int]()
    onward = _Ways.onward

    def counted(self: _Ways, stay: int, state: tuple[int, int, int]) -> Iterator[tuple[tuple[int, int, int], float]]:
        asked[stay] = asked.get(stay, 0) + 1
        return onward(self, stay, state)

    monkeypatch.setattr(_Ways, "onward", counted)
    reads = [Read(tag, dict.fromkeys(range(6), 5.0)) for _ in range(MOST_READS) for tag in range(12)]
    found = chances(reads, 6, PERSON, lambda _, __: True)
    assert max(asked.values()) == MOST_STATES
    assert all(sum(found.get((tag, stay), 0.0) for tag in range(12)) <= 1 for stay in range(6))
