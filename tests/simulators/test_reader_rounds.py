"""A tag reader hears what is near, and says so again and again."""

import random
from itertools import pairwise

from neckyoke.simulators.crush.reader import ROUND_S, Nearness, Reader

STEADY = Reader(turn_chance=0.0)


def test_a_tag_in_range_repeats_every_round() -> None:
    near = [Nearness(10.0, 20.0, "a", chance=1.0, ramp_s=0.0)]
    times = [t for t, _ in STEADY.hear(near, random.Random(1))]
    assert 10.0 <= times[0] <= 10.0 + ROUND_S[1]
    assert times[-1] < 20.0
    # 53 to 73 ms a round: from memory, no source.
    assert all(0.053 <= b - a <= 0.073 for a, b in pairwise(times))


def test_a_reader_may_limit_its_repeats() -> None:
    near = [Nearness(0.0, 60.0, "a", chance=1.0, ramp_s=0.0)]
    times = [t for t, _ in Reader(repeat_s=5.0, turn_chance=0.0).hear(near, random.Random(1))]
    assert len(times) == 12
    assert all(b - a >= 5.0 for a, b in pairwise(times))


def test_fewer_reads_from_further_away() -> None:
    def reads(chance: float) -> int:
        return sum(1 for _ in STEADY.hear([Nearness(0.0, 60.0, "a", chance)], random.Random(1)))

    assert reads(0.05) < reads(0.3) / 2 < reads(0.9)


def test_one_tag_a_round_and_the_nearer_mostly_wins() -> None:
    near = [Nearness(0.0, 60.0, "near", 0.9), Nearness(0.0, 60.0, "far", 0.2)]
    heard = list(STEADY.hear(near, random.Random(1)))
    assert len({t for t, _ in heard}) == len(heard)
    tags = [tag for _, tag in heard]
    assert tags.count("near") > 3 * tags.count("far") > 0


def test_nobody_near_costs_no_rounds_and_gives_no_reads() -> None:
    near = [Nearness(0.0, 1.0, "a", 1.0), Nearness(1e9, 1e9 + 1.0, "b", 1.0)]
    heard = list(STEADY.hear(near, random.Random(1)))  # a billion seconds between: it must not be walked through
    assert {tag for _, tag in heard} == {"a", "b"}


def test_an_ear_turned_away_leaves_silences() -> None:
    near = [Nearness(0.0, 300.0, "a", 1.0, 0.0)]
    times = [t for t, _ in Reader(turn_chance=0.3).hear(near, random.Random(1))]
    assert max(b - a for a, b in pairwise(times)) > 0.5
