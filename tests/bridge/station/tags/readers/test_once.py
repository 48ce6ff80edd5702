"""A reader that says each tag once: what is learned, as running means, and a density whose whole is one, by hand.

How often such readers hear a waiting animal is not published: the figures are assumptions (common practice, no source),
and what is checked is that they are applied as the module's page says.
"""

from math import exp

import pytest

from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.habit import reach
from neckyoke.bridge.station.tags.readers.once import Once, in_turn

SPAN = Span(1, 100.0, 110.0)
KEPT = {
    "again": 0.02,
    "said_early": 0.2,
    "said_late": 0.1,
    "unsaid": 0.25,
    "said_early_s": 6.0,
    "said_late_s": 3.0,
    "said_entry_s": 2.0,
}


def test_it_begins_with_a_guess_or_what_was_kept() -> None:
    assert Once().kept == {
        "again": 0.5,
        "said_early": 0.25,
        "said_late": 0.03,
        "unsaid": 0.15,
        "said_early_s": 8.0,
        "said_late_s": 3.0,
        "said_entry_s": 2.5,
    }
    assert Once(KEPT).kept == KEPT


def test_eight_stays_in_which_no_tag_was_heard_again_show_that_it_says_each_once() -> None:
    once = Once()
    for stay in range(1, 9):
        assert not once.known
        once.learn_again(again=False)
        assert once.again == pytest.approx(0.5 / (1 + stay))
    assert once.known
    once.learn_again(again=True)
    assert once.again == pytest.approx((0.5 + 1) / 10)
    assert not once.known, "and one in which one was, that it does not"


def test_it_is_found_out_however_long_it_was_otherwise() -> None:
    once = Once()
    for _ in range(500):
        once.learn_again(again=True)
    for _ in range(200):
        once.learn_again(again=False)
    assert once.known


def test_a_stay_teaches_as_likely_as_each_tag_is_its_own() -> None:
    once = Once()
    once.learn_turn([(0.6, 96.0), (0.3, 103.0)], SPAN)
    assert once.unsaid == pytest.approx((10 * 0.15 + 0.1) / 11)
    early = (10 * 0.25 + 0.6) / 10.6
    assert once.early == pytest.approx(early + 0.3 / 10.9 * (0 - early))
    assert once.late == pytest.approx(10 * 0.03 / 10.9)
    assert once.early_s == pytest.approx((3 * 8.0 + 0.6 * 4.0) / 3.6)
    assert once.entry_s == pytest.approx(2.5 + 0.05 * 0.3 * (3.5 - 2.5))
    once.learn_turn([(1.0, 112.0)], SPAN)
    assert once.late == pytest.approx((10 * 0.03 + 1) / 11.9)
    assert once.late_s == pytest.approx((3 * 3.0 + 2.0) / 4)
    once.learn_turn([], SPAN)
    assert once.unsaid == pytest.approx((10 * 0.15 + 0.1 + 0 + 1) / 13)


@pytest.mark.parametrize(
    ("t", "early", "late"), [(99.5, False, False), (99.4, True, False), (110.5, False, False), (110.6, False, True)]
)
def test_half_a_second_before_or_after_is_neither_early_nor_late(t: float, *, early: bool, late: bool) -> None:
    once = Once()
    once.learn_turn([(1.0, t)], SPAN)
    assert (once.early > 0.25) is early
    assert (once.late > 0.03) is late


def test_what_is_learned_keeps_within_bounds_and_follows_a_change() -> None:
    far, soon = Once(), Once()
    for _ in range(400):
        far.learn_turn([(1.0, 40.0)], SPAN)
        soon.learn_turn([(1.0, 99.6)], SPAN)
    assert (far.early, far.late, far.unsaid) == (0.4, 0.005, 0.005)
    assert far.early_s == pytest.approx(20.0, abs=0.1)
    assert soon.entry_s == pytest.approx(0.3, abs=0.01)
    for _ in range(200):
        far.learn_turn([(1.0, 200.0)], SPAN)
        soon.learn_turn([(1.0, 109.9)], SPAN)
    assert far.late == 0.4
    assert far.late_s == pytest.approx(10.0, abs=0.1)
    assert soon.entry_s == pytest.approx(8.0, abs=0.01)
    for _ in range(40):
        far.learn_turn([(1.0, 99.0)], SPAN)
    assert 7.0 < far.early_s < 9.0, "forty forget the most of it"


def test_of_many_stays_the_last_sixty_count_and_of_early_and_late_the_last_forty() -> None:
    once = Once()
    for _ in range(100):
        once.learn_turn([(1.0, 95.0)], SPAN)
        once.learn_turn([(1.0, 114.0)], SPAN)
        once.learn_turn([], SPAN)
        once.learn_again(again=True)
    was = once.kept
    once.learn_again(again=False)
    assert once.again == pytest.approx(was["again"] * 59 / 60)
    once.learn_turn([(1.0, 90.0)], SPAN)
    assert once.unsaid == pytest.approx(was["unsaid"] * 59 / 60)
    assert once.late == pytest.approx(was["said_late"] * 59 / 60)
    assert once.early_s == pytest.approx(was["said_early_s"] + (10.0 - was["said_early_s"]) / 40)
    once.learn_turn([(1.0, 117.0)], SPAN)
    assert once.late_s == pytest.approx(was["said_late_s"] + (7.0 - was["said_late_s"]) / 40)


@pytest.mark.parametrize(
    ("t", "expected"),
    [
        (99.5, 0.7 * (0.95 / 2 + 0.05 / 11)),
        (103.0, 0.7 * (0.95 * exp(-3.5 / 2) / 2 + 0.05 / 11)),
        (110.5, 0.7 * (0.95 * exp(-11 / 2) / 2 + 0.05 / 11)),
        (99.4, 0.2 * reach(0.6, 6.0, 0.25, 0.05)),
        (90.0, 0.2 * reach(10.0, 6.0, 0.25, 0.05)),
        (112.0, 0.1 * reach(2.0, 3.0, 0.25, 0.05)),
    ],
)
def test_how_dense_what_is_said_is_by_when_it_comes(t: float, expected: float) -> None:
    assert Once(KEPT).density(t, SPAN) == pytest.approx(expected)


def said(*times: float) -> list[Detection]:
    return [Detection(t, "panel", "platform") for t in times]


def chances(*tags: list[Detection], spans: list[Span], barred: object = None) -> dict[tuple[int, int], float]:
    return in_turn(tags, spans, Once(KEPT), lambda tag, stay: (tag, stay) != barred)


def test_alone_a_tag_has_its_odds_when_it_was_first_heard() -> None:
    odds = 3 * Once(KEPT).density(103.0, SPAN) / 1e-4  # said in three stays of four
    assert chances(said(103.0), spans=[SPAN]) == {(0, 0): pytest.approx(odds / (1 + odds))}
    assert chances(said(103.0, 109.0), spans=[SPAN]) == chances(said(103.0), spans=[SPAN])


@pytest.mark.parametrize(("t", "meant"), [(60.0, True), (59.9, False), (130.0, True), (130.1, False)])
def test_what_is_said_too_far_from_a_stay_is_not_meant_for_it(t: float, *, meant: bool) -> None:
    slow = Once({**KEPT, "said_early_s": 20.0, "said_late_s": 10.0})
    assert (in_turn([said(t)], [SPAN], slow, lambda *_: True) != {}) is meant


def test_what_may_not_be_is_no_pair() -> None:
    spans = [SPAN, Span(2, 114.0, 124.0)]
    found = chances(said(103.0), said(115.0), spans=spans, barred=(0, 1))
    assert found.keys() == {(0, 0), (1, 0), (1, 1)}
    assert found[1, 1] > 0.99


def test_a_tag_said_while_the_animal_before_stood_is_its_own_when_that_has_one() -> None:
    spans = [SPAN, Span(2, 114.0, 124.0)]
    waited = chances(said(100.5), said(107.0), spans=spans)
    alone = chances(said(107.0), spans=spans)
    assert waited[1, 1] > 0.95 > alone[0, 1], "the one before it has its tag, so it waited"
