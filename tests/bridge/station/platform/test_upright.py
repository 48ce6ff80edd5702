"""Whether a mob leans, known from the last animals that stood for long: what is fair is judged by that."""

import pytest

from neckyoke.bridge.station.platform.closing import Closing
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.platform.stay import Stay
from tests.bridge.station.platform.test_closing import CRUSH

UPRIGHT = [400.0, 401.0] * 30
LEANT = [*UPRIGHT, *[380.0] * 14]
SHORT = UPRIGHT[:24]


def close(closing: Closing, kgs: list[float], at: float) -> Stay:
    """Let a stay that showed these, ten a second, end."""
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    stay = Stay(CRUSH, 1, at, zero, closing.known)
    stay.began = True
    for n, kg in enumerate(kgs):
        stay.feed(at + n / 10, kg)
    stay.settled, stay.off = at + 1.5, at + len(kgs) / 10
    closing.end(stay, None)
    return stay


def mob(*stays: list[float]) -> Closing:
    """Let these stay one after the other."""
    closing = Closing()
    for n, kgs in enumerate(stays):
        close(closing, kgs, 20.0 * n)
    return closing


@pytest.mark.parametrize(
    ("stays", "leans"),
    [
        ([], False),
        ([LEANT] * 3, False),  # too few
        ([LEANT] * 4, True),
        ([UPRIGHT] * 4, False),
        ([LEANT, *[UPRIGHT] * 5], True),  # one of six
        ([LEANT, *[UPRIGHT] * 6], False),  # one of seven
        ([*[LEANT] * 5, *[UPRIGHT] * 14], False),  # long ago
        ([*[LEANT] * 5, *[UPRIGHT] * 12], True),
        ([*[LEANT] * 4, *[SHORT] * 15], True),  # short ones tell nothing
        ([*[LEANT] * 2, *[SHORT] * 2], False),
    ],
)
def test_a_mob_leans_where_one_in_seven_of_its_last_long_stays_did(stays: list[list[float]], *, leans: bool) -> None:
    assert mob(*stays).known.leans is leans


@pytest.mark.parametrize(("before", "leans"), [([UPRIGHT] * 4, False), ([LEANT] * 4, True)])
def test_a_whole_stay_is_judged_by_its_mob(before: list[list[float]], *, leans: bool) -> None:
    doubts = close(mob(*before), UPRIGHT, 500.0).final().doubts
    assert doubts is not None
    assert doubts.leans is leans
