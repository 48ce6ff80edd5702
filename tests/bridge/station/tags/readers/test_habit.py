"""A person's habit: what is learned as running means, and a density whose whole is one, worked by hand.

How people read early and late is not published: the figures are assumptions (common practice, no source), and what is
checked is that they are applied as the module's page says.
"""

from math import exp

import pytest

from neckyoke.bridge.station.tags.readers.detections import Span
from neckyoke.bridge.station.tags.readers.habit import Habit

SPAN = Span(1, 100.0, 110.0)


def test_it_begins_with_a_guess_or_what_was_kept() -> None:
    assert Habit().kept == {"early": 0.1, "late": 0.1, "unread": 0.12, "away_s": 3.0}
    kept = {"early": 0.2, "late": 0.01, "unread": 0.3, "away_s": 1.5}
    assert Habit(kept).kept == kept


def test_what_is_learned_counts_beside_a_guess_of_thirty_stays_and_forty_slips() -> None:
    habit = Habit()
    habit.learn(-4.0)
    assert habit.early == pytest.approx((30 * 0.1 + 1) / 31)
    assert habit.late == pytest.approx(30 * 0.1 / 31)
    assert habit.unread == pytest.approx(30 * 0.12 / 31)
    assert habit.away_s == pytest.approx((40 * 3.0 + 4.0) / 41)
    habit.learn(2.0)
    assert habit.late == pytest.approx((30 * 0.1 + 1) / 32)
    assert habit.away_s == pytest.approx((40 * 3.0 + 4.0 + 2.0) / 42)
    habit.learn(0.0)
    assert [habit.early, habit.late] == pytest.approx([4.0 / 33, 4.0 / 33])
    assert habit.away_s == pytest.approx(126.0 / 42), "no slip"
    habit.learn(None)
    assert habit.unread == pytest.approx((30 * 0.12 + 1) / 34)
    assert habit.early == pytest.approx(4.0 / 33), "not read at all is neither early nor late"


def test_it_follows_a_change_of_hands_and_keeps_within_bounds() -> None:
    habit = Habit()
    for _ in range(300):
        habit.learn(-20.0)
    assert habit.early == 0.4
    assert habit.late == 0.005
    assert 14.0 < habit.away_s <= 15.0
    for _ in range(90):
        habit.learn(0.2)
    assert 0.1 < habit.early < 0.2, "ninety stays forget the most of it"
    assert 5.0 < habit.away_s < 7.0
    for _ in range(600):
        habit.learn(0.0)
    for _ in range(450):
        habit.learn(0.1)
    assert habit.away_s == pytest.approx(0.5, abs=0.1)


def test_of_many_stays_the_last_ninety_count() -> None:
    habit = Habit()
    for _ in range(100):
        habit.learn(-3.0)
        habit.learn(None)
    early, away_s, unread = habit.early, habit.away_s, habit.unread
    habit.learn(6.0)
    assert habit.early == pytest.approx(early * 89 / 90)
    assert habit.unread == pytest.approx(unread * 89 / 90)
    assert habit.away_s == pytest.approx(away_s + (6.0 - away_s) / 90)


def test_reads_are_spread_over_all_the_moments_there_are() -> None:
    from scipy.integrate import quad

    habit = Habit({"early": 0.2, "late": 0.1, "away_s": 3.0})
    before, _ = quad(lambda t: habit.density(t, SPAN), 0.0, 100.0 - 1e-9, limit=200)
    within, _ = quad(lambda t: habit.density(t, SPAN), 100.0, 110.0, points=[102.0, 109.0])
    after, _ = quad(lambda t: habit.density(t, SPAN), 110.0 + 1e-9, 210.0, limit=200)
    assert before == pytest.approx(0.2, rel=0.01)
    assert within == pytest.approx(0.7, rel=0.01)
    assert after == pytest.approx(0.1, rel=0.01)


@pytest.mark.parametrize(
    ("t", "expected"),
    [
        (105.0, 0.7 / 8.65),
        (102.0, 0.7 / 8.65),
        (101.0, 0.7 / 8.65 * 0.55),
        (100.0, 0.7 / 8.65 * 0.1),
        (109.0, 0.7 / 8.65),
        (110.0, 0.7 / 8.65 * 0.1),
        (109.5, 0.7 / 8.65 * 0.55),
        (97.0, 0.2 * (0.98 / (1 + exp(-3 / 0.3)) / 6 + 0.02 * exp(-1) / 3)),
        (94.0, 0.2 * (0.98 / 2 / 6 + 0.02 * exp(-2) / 3)),
        (119.0, 0.1 * (0.98 / (1 + exp(3 / 0.3)) / 6 + 0.02 * exp(-3) / 3)),
    ],
)
def test_how_dense_reads_are_by_when_they_come(t: float, expected: float) -> None:
    assert Habit({"early": 0.2, "late": 0.1, "away_s": 3.0}).density(t, SPAN) == pytest.approx(expected)


def test_a_stay_of_no_length_is_no_trouble_nor_a_read_far_off() -> None:
    habit = Habit()
    assert habit.density(100.0, Span(1, 100.0, 100.0)) == pytest.approx(0.8 * 0.1 / 0.5)
    assert habit.density(1e9, SPAN) < 1e-300


def test_an_animal_to_come_may_be_read_at_any_moment() -> None:
    habit = Habit({"early": 0.2, "away_s": 3.0})
    assert habit.coming() == pytest.approx(habit.density(100.0 - 1e-9, SPAN))
