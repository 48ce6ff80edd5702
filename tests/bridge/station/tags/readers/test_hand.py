"""A reader in the hand: what a read costs by its distance, and its odds by a habit, worked by hand.

The figures are this module's own assumptions (no study of how people miss with a stick is known): what is checked is
that they are applied as its page says.
"""

from math import log

import pytest

from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.habit import Habit
from neckyoke.bridge.station.tags.readers.hand import away_cost, away_s, in_turn, off_s, turn_odds

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


HABIT = Habit({"early": 0.2, "late": 0.1, "unread": 0.25, "away_s": 3.0})


def odds_of(
    tags: list[list[Detection]], spans: list[Span], barred: tuple[int, int] | None = None
) -> dict[tuple[int, int], float]:
    return turn_odds(tags, spans, HABIT, lambda tag, stay: (tag, stay) != barred)


def test_before_a_stay_is_below_nothing() -> None:
    assert off_s(reads(8.0, 24.0), SPAN) == -2.0
    assert off_s(reads(5.0, 24.0), SPAN) == 4.0
    assert off_s(reads(5.0, 12.0, 24.0), SPAN) == 0.0


def test_odds_are_those_of_a_read_against_one_of_nobody_here() -> None:
    spans = stays(0.0, 20.0)
    odds = odds_of([reads(5.0)], spans)
    chance = in_turn([reads(5.0)], spans, HABIT, lambda *_: True)
    within, before = (HABIT.density(5.0, span) for span in spans)
    mistaken = 0.01 / 2 / 3 / 0.25  # one read in a hundred is of a neighbour, and of those unread one in three can be
    stood = 3 * within / 1e-4  # read three times of four
    early = (3 * before + mistaken * within) / 1e-4
    assert odds == pytest.approx({(0, 0): stood, (0, 1): early})
    assert chance == pytest.approx({(0, 0): stood / (1 + stood + early), (0, 1): early / (1 + stood + early)})


def test_what_is_read_more_than_half_a_minute_away_is_not_meant_for_the_stay() -> None:
    spans = stays(100.0)
    assert odds_of([reads(70.0)], spans).keys() == {(0, 0)}
    assert odds_of([reads(140.0)], spans).keys() == {(0, 0)}
    assert odds_of([reads(69.9)], spans) == {}
    assert odds_of([reads(140.1)], spans) == {}


def test_a_neighbour_may_have_been_read_in_an_animal_s_place_and_its_own_in_none() -> None:
    spans = stays(0.0, 90.0, 180.0)  # so far apart that nobody reads early or late
    odds = odds_of([reads(95.0)], spans)
    mistaken = 0.01 / 2 / 3 / 0.25 * HABIT.density(95.0, spans[1]) / 1e-4
    assert odds[0, 0] == odds[0, 2] == pytest.approx(mistaken, rel=1e-3)
    assert odds[0, 1] == pytest.approx(3 * HABIT.density(95.0, spans[1]) / 1e-4)


def test_read_again_within_two_seconds_is_one_read_and_later_another() -> None:
    spans = stays(0.0, 60.0)
    once = odds_of([reads(5.0)], spans)[0, 0]
    assert odds_of([reads(5.0, 7.0)], spans)[0, 0] == pytest.approx(once), "pressed twice"
    assert odds_of([reads(5.0, 7.0, 8.9)], spans)[0, 0] == pytest.approx(once), "and a third time"
    assert odds_of([reads(5.0, 7.1)], spans)[0, 0] == pytest.approx(2 * once)
    assert odds_of([reads(0.0, 1.5)], spans)[0, 0] == pytest.approx(once), "by the one that fits better"


def test_after_the_last_stay_the_next_animal_may_have_been_read() -> None:
    spans = stays(0.0)
    odds = odds_of([reads(11.0)], spans)
    assert odds[0, 0] == pytest.approx(3 * HABIT.density(11.0, spans[0]) / (1e-4 + HABIT.coming()))
    followed = odds_of([reads(11.0)], stays(0.0, 90.0))
    assert followed[0, 0] == pytest.approx(3 * HABIT.density(11.0, spans[0]) / 1e-4)
    assert odds_of([reads(10.0)], spans)[0, 0] == pytest.approx(3 * HABIT.density(10.0, spans[0]) / 1e-4)


def test_what_may_not_be_is_no_pair_and_nothing_read_is_no_trouble() -> None:
    spans = stays(0.0, 20.0)
    assert odds_of([reads(5.0), reads(25.0)], spans, barred=(0, 0)).keys() == {(0, 1), (1, 0), (1, 1)}
    assert odds_of([], spans) == odds_of([reads(5.0)], []) == {}
