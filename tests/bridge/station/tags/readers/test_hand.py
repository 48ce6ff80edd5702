"""A reader in the hand: what a read costs by its distance, and its odds by a habit, worked by hand.

The figures are this module's own assumptions (no study of how people miss with a stick is known): what is checked is
that they are applied as its page says.
"""

from math import log

import pytest

from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.habit import Habit
from neckyoke.bridge.station.tags.readers.hand import away_cost, away_s, in_turn, off_s

SPAN, SPAN_0 = Span(1, 10.0, 20.0), Span(0, 0.0, 10.0)


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


HABIT = Habit({"early": 0.2, "late": 0.1, "unread": 0.25, "away_s": 3.0})


def chances_of(
    tags: list[list[Detection]], spans: list[Span], barred: tuple[int, int] | None = None
) -> dict[tuple[int, int], float]:
    return in_turn(tags, spans, HABIT, lambda tag, stay: (tag, stay) != barred)


WORKS, MISSED, MISTAKEN, STRAY = 0.79, 0.04 / 0.79, 0.02, 1e-4
"""Of four stays one was not read by this habit: of four in a hundred the tag works all the same."""


def alone(t: float, span: Span, nobody: float = STRAY) -> float:
    """Return the chance of a read with one stay alone."""
    own = WORKS * (1 - MISSED) * (1 - MISTAKEN) * HABIT.density(t, span) / nobody
    return own / (own + WORKS * MISSED + 1 - WORKS)


def test_before_a_stay_is_below_nothing() -> None:
    assert off_s(reads(8.0, 24.0), SPAN) == -2.0
    assert off_s(reads(5.0, 24.0), SPAN) == 4.0
    assert off_s(reads(5.0, 12.0, 24.0), SPAN) == 0.0


def test_alone_a_read_has_its_odds_against_one_of_nobody_here() -> None:
    assert chances_of([reads(5.0)], stays(0.0)) == {(0, 0): pytest.approx(alone(5.0, SPAN_0))}


def test_a_read_before_a_stay_is_early_where_the_one_before_has_its_own() -> None:
    spans = stays(0.0, 14.0)
    both, early = chances_of([reads(3.0), reads(9.6)], spans), chances_of([reads(9.6)], spans)
    assert both[0, 0] > 0.99
    assert both[1, 1] > 0.95 > early[0, 1]


def test_what_is_read_more_than_half_a_minute_away_is_not_meant_for_the_stay() -> None:
    far = Habit({"early": 0.4, "late": 0.4, "away_s": 15.0})
    for t, meant in ((70.0, True), (140.0, True), (69.9, False), (140.1, False)):
        assert (in_turn([reads(t)], stays(100.0), far, lambda *_: True) != {}) is meant


def test_a_neighbour_may_have_been_read_in_an_animal_s_place_where_it_was_not_read_itself() -> None:
    spans = stays(0.0, 90.0, 180.0)  # so far apart that nobody reads early or late
    found = chances_of([reads(95.0)], spans)
    here = HABIT.density(95.0, spans[1]) / STRAY
    unread = WORKS * MISSED + 1 - WORKS
    own = WORKS * (1 - MISSED) * (1 - MISTAKEN) * here * unread**2
    other = (1 - MISSED) * MISTAKEN / 2 * here * WORKS * MISSED * unread
    assert found[0, 0] == pytest.approx(found[0, 2])
    assert found[0, 0] == pytest.approx(other / (own + 2 * other + unread**3), rel=1e-3)
    assert found[0, 1] == pytest.approx(own / (own + 2 * other + unread**3), rel=1e-3)
    read = chances_of([reads(5.0), reads(95.0), reads(185.0)], spans)
    assert read[1, 1] > 0.999 > found[0, 1], "it cannot be theirs"


def test_read_again_within_two_seconds_is_one_read_and_later_another() -> None:
    spans = stays(0.0)
    once = chances_of([reads(5.0)], spans)[0, 0]
    assert chances_of([reads(5.0, 7.0)], spans)[0, 0] == pytest.approx(once), "pressed twice"
    assert chances_of([reads(5.0, 7.0, 8.9)], spans)[0, 0] == pytest.approx(once), "and a third time"
    assert chances_of([reads(5.0, 7.1)], spans)[0, 0] > once
    assert chances_of([reads(0.0, 1.9)], spans)[0, 0] == pytest.approx(alone(1.9, SPAN_0)), (
        "by the one that fits better"
    )


def test_after_the_last_stay_the_next_animal_may_have_been_read() -> None:
    spans = stays(0.0)
    assert chances_of([reads(11.0)], spans)[0, 0] == pytest.approx(alone(11.0, SPAN_0, STRAY + HABIT.coming()))
    assert chances_of([reads(10.0)], spans)[0, 0] == pytest.approx(alone(10.0, SPAN_0))
    assert chances_of([reads(11.0)], stays(0.0, 90.0))[0, 0] > 0.98


def test_what_may_not_be_is_no_pair_and_nothing_read_is_no_trouble() -> None:
    spans = stays(0.0, 12.0)
    assert chances_of([reads(9.0), reads(13.0)], spans, barred=(0, 0)).keys() == {(0, 1), (1, 0), (1, 1)}
    assert chances_of([], spans) == chances_of([reads(5.0)], []) == {}
