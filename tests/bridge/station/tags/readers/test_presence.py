"""When a tag was heard: all that can be heard adds up to one, against a plain product of matrices, and by example.

How animals wait and linger is not published: the figures are the simulator's assumptions (common practice, no source).
"""

from itertools import product
from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.station.tags.readers import presence
from neckyoke.bridge.station.tags.readers.detections import Span
from neckyoke.bridge.station.tags.readers.presence import SLOT_S, Hears, roamed, stood

BEFORE, OWN, AFTER = Span(1, 0.0, 8.0), Span(2, 12.0, 22.0), Span(3, 25.0, 33.0)
HEARS = Hears(0.5, 0.0, 0.15, 0.05)


def every(start: float, end: float, step: float = 0.5) -> tuple[float, ...]:
    """Return moments in the middle of slots."""
    return tuple(start + 0.25 + step * n for n in range(int((end - start) / step)))


def test_all_that_can_be_heard_adds_up_to_one() -> None:
    own = Span(1, 4.0, 4.5)
    whole = 0.0
    for heard in product((False, True), repeat=14):  # from four seconds before until two after
        times = tuple(0.25 + SLOT_S * slot for slot, one in enumerate(heard) if one)
        whole += exp(stood(times, None, own, None, HEARS))
    assert whole == pytest.approx(1.0, abs=1e-3)


@given(
    st.sets(st.integers(0, 60), max_size=30),
    st.sampled_from([0.05, 0.3, 0.8]),
    st.sampled_from([0.0, 0.2, 0.5]),
    st.sampled_from([0.02, 0.2]),
)
def test_it_is_the_forward_sum_of_a_plain_product_of_matrices(
    slots: set[int], share: float, beside: float, missed: float
) -> None:
    import numpy as np

    hears = Hears(share, 0.0, beside, missed)
    times = tuple(0.25 + SLOT_S * slot for slot in sorted(slots))
    steps = presence._steps(presence.place(BEFORE, OWN, AFTER), beside)
    sums = []
    for rate in presence.TIMES:
        stands = min(presence.MOST, 1 - (1 - share) ** rate)
        near = 1 - (1 - stands) ** presence.NEAR
        now = np.array([1.0, 0, 0, 0, 0, 0])  # away, waits, stands, unheard, lingers, gone
        was = False
        for slot, step in enumerate(steps):
            waits, on, off, gone = (np.eye(6) for _ in range(4))
            waits[0, :2] = 1 - step.wait, step.wait
            back = presence.GLIMPSE_PER_S * SLOT_S
            waits[1] = [0, 0, 1 - missed, missed, 0, 0] if step.here else [back, 1 - back, 0, 0, 0, 0]
            on[0] = [1 - step.on, 0, step.on * (1 - missed), step.on * missed, 0, 0]
            off[2] = [0, 0, 1 - step.off, 0, step.off * beside, step.off * (1 - beside)]
            off[3] = [0, 0, 0, 1 - step.off, step.off * beside, step.off * (1 - beside)]
            gone[4] = [0, 0, 0, 0, 1 - step.gone, step.gone]
            hearing = np.array([0, near, stands, 0, near, 0])
            if slot in slots:
                said = hearing + was * presence.STICKS * (1 - hearing)
                said[[0, 3, 5]] = presence.NOISE
            else:
                said = (1 - hearing) * (1 - was * presence.STICKS * (hearing > 0))
            now = now @ waits @ on @ off @ gone * said
            was = slot in slots
        sums.append(now.sum())
    told = stood(times, BEFORE, OWN, AFTER, hears)
    assert told == pytest.approx(float(np.log(np.mean(sums))), abs=2e-3)  # what is over but for a thousandth is left


def best(heard: tuple[float, ...], hears: Hears = HEARS) -> str:
    """Return where it most likely stood: in one of the three stays, or in none."""
    after = Span(4, 36.0, 44.0)
    told = {
        "before": stood(heard, None, BEFORE, OWN, hears),
        "own": stood(heard, BEFORE, OWN, AFTER, hears),
        "after": stood(heard, OWN, AFTER, after, hears),
        "none": log(presence.PEN) + roamed(heard, hears.repeat_s),
    }
    return max(told, key=told.__getitem__)


@pytest.mark.parametrize(
    ("heard", "where"),
    [
        (every(12.0, 22.0), "own"),
        (every(5.0, 22.0), "own"),  # it waited before
        (every(12.0, 29.0), "own"),  # it lingered after
        (every(12.0, 21.0) + every(27.0, 33.0), "after"),  # it waited here, and was heard best there
        (every(0.0, 8.0) + every(12.0, 15.0), "before"),
        (every(17.0, 24.0), "after"),  # it came up late, and was not gone when the one before it was
        (every(2.0, 42.0), "none"),  # through all of them, as in the next pen
    ],
)
def test_it_stood_where_it_was_heard_from_the_first_foot_to_the_last(heard: tuple[float, ...], where: str) -> None:
    assert best(heard) == where


def test_of_a_reader_that_says_each_tag_once_silence_after_it_tells_nothing() -> None:
    once = HEARS._replace(repeat_s=60.0)
    soon, late = (stood((t,), BEFORE, OWN, AFTER, once) for t in (12.75, 20.75))
    assert soon > late + 3
    assert stood((12.75,), BEFORE, OWN, AFTER, HEARS) < soon - 4, "one that repeats it would have been heard again"


def test_heard_elsewhere_too_it_was_in_the_next_pen_meanwhile_but_noise_if_that_is_likelier() -> None:
    here = every(12.0, 22.0)
    alone = stood(here, BEFORE, OWN, AFTER, HEARS)
    once = stood((*here, 90.0), BEFORE, OWN, AFTER, HEARS)
    assert once == pytest.approx(alone + max(log(presence.PEN) + roamed((90.0,), 0.0), log(presence.NOISE)))
    assert stood((*here, *every(90.0, 99.0)), BEFORE, OWN, AFTER, HEARS) > alone + 18 * log(presence.NOISE)


def test_heard_nowhere_in_the_next_pen_is_no_evidence() -> None:
    assert roamed((), 0.0) == 0.0


def test_standing_unheard_is_missed_or_silent_in_every_slot() -> None:
    silent = sum(max(0.05, 0.5**rate) ** 20 for rate in presence.TIMES) / len(presence.TIMES)
    assert stood((), None, OWN, None, HEARS) == pytest.approx(log(0.05 + 0.95 * silent), abs=0.2)
