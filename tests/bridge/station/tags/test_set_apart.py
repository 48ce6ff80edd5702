"""A tag that two stays share: one of them loses it when a person says that they are two animals, and has it again."""

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.pairing import WINDOW_S, Pairing
from neckyoke.bridge.station.tags.verdict import Verdict
from tests.bridge.station.tags.test_shared import A, B, codes, stood

ALL_ALONG = {1: ((A, 5.2, 12.8), (A, 15.2, 24.8)), 2: ((A, 4.0, 12.8), (A, 15.2, 22.8))}
"""By which of both shares the tag that is dealt to the other."""


def told(now: dict[int, Verdict], changed: list[Verdict]) -> dict[int, Verdict]:
    return now | {one.number: one for one in changed}


def shared(which: int) -> tuple[Pairing, dict[int, Verdict]]:
    pairing, _, now = stood(*ALL_ALONG[which])
    assert [number for number, one in now.items() if one.shared] == [which]
    assert codes(now) == [A, A]
    return pairing, now


@pytest.mark.parametrize("final", [False, True])
@pytest.mark.parametrize("which", [1, 2])
def test_it_is_the_first_one_s_then_and_both_s_again_when_that_is_taken_back(*, final: bool, which: int) -> None:
    pairing, now = shared(which)
    t = 700.0 if final else 30.0
    now = told(now, pairing.settle(t))
    parted = told(now, pairing.apart(t, 2, another=True))
    assert codes(parted) == [A, None], "the second was asked about the tag of the first, and is not that one"
    assert Flag.TAG_DOUBTFUL in parted[1].flags
    assert Flag.NO_TAG in parted[2].flags
    assert pairing.apart(t, 2, another=True) == [], "it is so already"
    parted = told(parted, pairing.settle(700.0))
    assert codes(parted) == [A, None], "also when it is final"
    assert codes(told(parted, pairing.apart(702.0, 2, another=False))) == [A, A]


def test_while_it_stands_there_it_is_shown_so() -> None:
    pairing = Pairing({"panel": "platform"})
    pairing.began(1, 5.0)
    for n in range(20):
        pairing.read(5.2 + 0.4 * n, "panel", A)
    (first,) = pairing.ended(1, 13.0)
    pairing.began(2, 15.0)
    for n in range(10):
        pairing.read(15.2 + 0.4 * n, "panel", A)
    assert pairing.show(2, 19.2, maybe_same=True, again=True)[-1].code == A
    changed = pairing.apart(19.3, 2, another=True)
    assert told({1: first}, changed)[1].code == A
    assert pairing.believe(2, 19.3).code is None


@pytest.mark.parametrize("final", [False, True])
@pytest.mark.parametrize("which", [1, 2])
def test_a_word_on_its_tag_stands_over_it(*, final: bool, which: int) -> None:
    pairing, now = shared(which)
    if final:
        now = told(now, pairing.settle(30.0 + WINDOW_S))
    now = told(now, pairing.word(700.0, which, B))
    assert told(now, pairing.apart(701.0, 2, another=True))[which].code == B
    assert told(now, pairing.apart(702.0, 2, another=False))[which].code == B


def test_nothing_is_taken_from_those_that_share_nothing() -> None:
    pairing, _, now = stood((A, 5.2, 12.8), (B, 15.2, 24.8))
    assert pairing.apart(30.0, 2, another=True) == []
    assert codes(told(now, pairing.settle(30.0 + WINDOW_S))) == [A, B]
    assert pairing.apart(700.0, 2, another=True) == []
