"""How sure a tag is changes with the stays after it: said anew once, when it is final, where it was far off."""

from dataclasses import replace

import pytest

from neckyoke.bridge.station.tags.pairing import WINDOW_STAYS, Pairing
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode


def stand(pairing: Pairing, number: int) -> list[Verdict]:
    """Let a stay of ten seconds come, its tag heard throughout; return what its end changes."""
    on = 14.0 * number
    pairing.began(number, on)
    for at in range(1, 9):
        pairing.read(on + at, "panel", TagCode(999, number))
    return pairing.ended(number, on + 10.0)


def said(pairing: Pairing, sure_percent: float) -> Verdict:
    """Let something else have been said of the first stay."""
    verdict = pairing._stays[0].verdict
    assert verdict is not None
    pairing._stays[0].verdict = replace(verdict, sure_percent=sure_percent)
    return verdict


def test_it_is_said_anew_when_it_is_final_and_not_before() -> None:
    pairing = Pairing({"panel": "platform"})
    stand(pairing, 1)
    said(pairing, 60.0)
    told = [[one.number for one in stand(pairing, number)] for number in range(2, WINDOW_STAYS + 2)]
    assert told == [[2], [3], [4], [1, 5]]
    assert pairing.is_final(1)
    held = pairing.stays[1].verdict
    assert held is not None
    assert held.sure_percent is not None
    assert held.sure_percent > 99
    assert [one.number for one in stand(pairing, 6)] == [6], "once"


@pytest.mark.parametrize(("sure_percent", "told"), [(60.0, [1]), (99.7, [])])
def test_at_the_end_of_the_run_too_and_only_where_it_was_far_off(sure_percent: float, told: list[int]) -> None:
    pairing = Pairing({"panel": "platform"})
    stand(pairing, 1)
    right = said(pairing, sure_percent)
    assert right.sure_percent is not None
    assert right.sure_percent >= 99.5
    assert [one.number for one in pairing.finish()] == told


def test_ten_minutes_after_its_end_too() -> None:
    pairing = Pairing({"panel": "platform"})
    stand(pairing, 1)
    said(pairing, 60.0)
    due = pairing.due
    assert due is not None
    assert pairing.settle(due - 0.1) == []
    assert [one.number for one in pairing.settle(due)] == [1]
