"""A reader in the hand: what a read costs by its distance, worked by hand, and the order laid beside the stays.

The figures are this module's own assumptions (no study of how people miss with a stick is known): what is checked is
that they are applied as its page says.
"""

from math import inf, log

import pytest

from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.hand import align_reads, away_cost, away_s

SPAN = Span(1, 10.0, 20.0)


def reads(*times: float) -> list[Detection]:
    return [Detection(t, "stick", "hand") for t in times]


@pytest.mark.parametrize(
    ("times", "away"),
    [
        ((10.0,), 0.0),
        ((15.0,), 0.0),
        ((20.0,), 0.0),
        ((9.5,), 0.5),
        ((20.5,), 0.5),
        ((4.0, 23.0), 3.0),
        ((2.0, 15.0), 0.0),
    ],
)
def test_the_distance_is_that_of_the_nearest_read(times: tuple[float, ...], away: float) -> None:
    assert away_s(reads(*times), SPAN) == pytest.approx(away)


@pytest.mark.parametrize(
    ("away", "cost"),
    [
        (0.0, 0.0),
        (0.5, 0.025),
        (2.0, 0.1),
        (6.0, 0.3),
        (7.0, 0.35 + 0.6),
        (16.0, 0.8 + 6.0),
    ],
)
@pytest.mark.parametrize("slips", [0.02, 0.1, 0.5])
def test_a_slip_costs_its_odds_and_every_second_more_beyond_the_sixth_much_more(
    away: float, cost: float, slips: float
) -> None:
    expected = cost - log(slips) if away else 0.0
    assert away_cost(away, slips) == pytest.approx(expected)


def stays(*begins: float) -> list[Span]:
    return [Span(n, on, on + 10.0) for n, on in enumerate(begins)]


def test_what_is_read_too_far_away_is_not_meant_for_the_stay() -> None:
    spans = stays(0.0)
    # with one slip in ten: 0.05 a second, 0.6 more beyond the sixth, 2.30 for slipping: 9 at 15.84 s
    near = align_reads([reads(25.8)], spans, 0.1, [1.0], lambda *_: True)
    far = align_reads([reads(25.9)], spans, 0.1, [1.0], lambda *_: True)
    assert near.pairs[0, 0] == pytest.approx(0.05 * 15.8 + 0.6 * 9.8 - log(0.1))
    assert far.pairs == {}
    assert far.least == pytest.approx(3.9)


def test_a_read_skipped_costs_a_stay_unread_costs_and_what_may_not_be_is_no_pair() -> None:
    spans = stays(0.0, 20.0)
    aligned = align_reads([reads(5.0), reads(7.0), reads(25.0)], spans, 0.1, [1.0, 1.0], lambda *_: True)
    assert aligned.pairs[0, 0] == pytest.approx(3.9, abs=0.01)  # two reads wait, and the second stay is unread
    assert aligned.pairs[2, 1] == pytest.approx(4.6, abs=0.01)  # one of the first two stands nowhere
    barred = align_reads([reads(5.0)], spans[:1], 0.1, [1.0], lambda *_: False)
    assert barred.pairs == {}
    assert align_reads([], spans, 0.1, [1.0, inf], lambda *_: True).least == inf
    assert align_reads([], spans, 0.1, [1.0, 0.0], lambda *_: True).least == pytest.approx(3.9, abs=0.01)


def test_two_read_in_the_wrong_order_cost_a_change_of_place() -> None:
    spans = stays(0.0, 12.0)
    aligned = align_reads([reads(13.0), reads(13.5, 9.0)], spans, 0.1, [1.0, 1.0], lambda *_: True)
    assert aligned.pairs[0, 1] == pytest.approx(1.25, abs=0.01)
    assert aligned.pairs[1, 0] == pytest.approx(1.25, abs=0.01)
