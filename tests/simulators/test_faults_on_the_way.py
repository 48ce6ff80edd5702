"""Faults: each spoils what it says and nothing else."""

from collections.abc import Iterable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.simulators.capture import Item
from neckyoke.simulators.wires.faults import (
    Fault,
    apply,
    cut,
    duplicate,
    flip,
    garbage,
    hang_up,
    mix,
    split,
    stall,
    wrong_baud,
)

FRAME = b"ST,GS,+00318.5kg\r\n"
TAG = b"999000000112233\r\n"


def day() -> list[Item]:
    scale: list[Item] = [(n / 10, "indicator", FRAME) for n in range(200)]
    return sorted([*scale, *((n / 7, "panel", TAG) for n in range(1, 140))])


def of(items: Iterable[Item], link: str) -> list[Item]:
    return [item for item in items if item[1] == link]


FAULTS: list[Fault] = [
    garbage("indicator", 0.5),
    flip("indicator", 0.5),
    cut("indicator", 0.5),
    wrong_baud("indicator"),
    duplicate("indicator", 0.5),
    split("indicator", delay_s=0.3),
    stall("indicator", 5.0, 3.0),
    stall("indicator", 5.0, 3.0, keep=False),
    hang_up("indicator", 5.0, 3.0),
]


@pytest.mark.parametrize("fault", FAULTS)
def test_other_links_are_left_alone_and_time_goes_forward(fault: Fault) -> None:
    spoilt = list(apply(day(), fault))
    assert of(spoilt, "panel") == of(day(), "panel")
    assert of(spoilt, "indicator") != of(day(), "indicator")
    assert all(a[0] <= b[0] for a, b in pairwise(spoilt))


@pytest.mark.parametrize("fault", FAULTS)
def test_the_same_fault_twice_is_the_same(fault: Fault) -> None:
    assert list(fault(day())) == list(fault(day()))


@given(st.integers(0, 1000), st.integers(1, 18), st.floats(0.0, 0.5))
def test_split_loses_and_shuffles_nothing(seed: int, most: int, delay_s: float) -> None:
    spoilt = list(apply(day(), split(None, most, delay_s, seed)))
    for link in ("indicator", "panel"):
        assert b"".join(data for _, _, data in of(spoilt, link)) == b"".join(data for _, _, data in of(day(), link))
    assert all(a[0] <= b[0] for a, b in pairwise(spoilt))


def test_cut_leaves_a_beginning() -> None:
    for _, _, data in of(apply(day(), cut("indicator", 1.0)), "indicator"):
        assert 0 < len(data) < len(FRAME)
        assert FRAME.startswith(data)


def test_garbage_comes_before_and_the_frame_is_whole() -> None:
    for _, _, data in of(apply(day(), garbage("indicator", 1.0)), "indicator"):
        assert data.endswith(FRAME)
        assert len(FRAME) < len(data) <= len(FRAME) + 40


def test_flip_turns_one_bit() -> None:
    for _, _, data in of(apply(day(), flip("indicator", 1.0)), "indicator"):
        assert sum((a ^ b).bit_count() for a, b in zip(data, FRAME, strict=True)) == 1


def test_stall_delivers_late_or_never() -> None:
    late = of(apply(day(), stall("indicator", 5.0, 3.0)), "indicator")
    assert len(late) == 200
    assert not any(5.0 <= t < 8.0 for t, _, _ in late)
    assert sum(t == 8.0 for t, _, _ in late) == 31
    assert len(of(apply(day(), stall("indicator", 5.0, 3.0, keep=False)), "indicator")) == 170


def test_hang_up_goes_and_comes() -> None:
    spoilt = of(apply(day(), hang_up("indicator", 5.0, 3.0)), "indicator")
    assert [t for t, _, data in spoilt if not data] == [5.0, 8.0]
    assert len(spoilt) == 172
    assert [item for item in apply([(1.0, "panel", TAG)], hang_up("indicator", 5.0, 3.0)) if not item[2]] == [
        (5.0, "indicator", b""),
        (8.0, "indicator", b""),
    ]


def test_two_devices_on_one_wire() -> None:
    mixed = of(apply(day(), mix("panel", "indicator")), "indicator")
    assert [data for _, _, data in mixed].count(TAG) == 139
    torn = [data for _, _, data in of(apply(day(), mix("panel", "indicator", tear=True)), "indicator")]
    assert TAG not in torn
    assert sum(data.count(TAG) for data in torn) >= 138
    assert any(TAG in data and not data.startswith(TAG) for data in torn)


def test_faults_follow_each_other() -> None:
    spoilt = list(apply(day(), cut("indicator", 0.1), split("indicator"), hang_up("panel", 3.0, 2.0)))
    assert len(of(spoilt, "panel")) == 139 - 14 + 2
