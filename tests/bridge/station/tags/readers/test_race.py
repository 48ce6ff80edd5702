"""A reader ahead: the last coming of a tag, stays counted, and what each lag in stays costs, worked by hand."""

import pytest

from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.race import align_queue, apart, begun_between, came_alone, last_passage
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel


@pytest.mark.parametrize(
    ("times", "last"),
    [
        ((5.0,), 5.0),
        ((5.0, 6.0, 9.0), 5.0),
        ((5.0, 8.0), 5.0),
        ((5.0, 8.1), 8.1),
        ((5.0, 6.0, 20.0, 21.0), 20.0),
        ((5.0, 9.0, 20.0), 20.0),
    ],
)
def test_a_tag_came_past_last_where_it_had_been_gone_for_more_than_three_seconds(
    times: tuple[float, ...], last: float
) -> None:
    assert last_passage([Detection(t, "race", "ahead") for t in times]) == last


@pytest.mark.parametrize(
    ("t", "on", "stays"), [(5.0, 30.0, 3), (10.0, 30.0, 2), (10.1, 30.0, 2), (29.0, 30.0, 1), (30.0, 30.0, 0)]
)
def test_stays_that_began_since_are_counted_with_its_own(t: float, on: float, stays: int) -> None:
    assert begun_between(t, on, [10.0, 20.0, 30.0, 40.0]) == stays


def cost(came: float, turn: int, places: int, at: int = 5) -> float:
    """Return what it costs that a tag came past at a time and stands in a stay, so many after the race was empty."""
    began = [20.0 * n for n in range(1, 9)]
    span = Span(at, began[at], began[at] + 10.0, turn)
    aligned = align_queue([came], [span], began, ReaderModel(places), [1.0], lambda *_: 0.0)
    return aligned.pairs[0, 0]


@pytest.mark.parametrize(
    ("lag", "expected"),
    [(3, 0.0), (2, 2.5), (1, 3.5), (4, 5.0), (5, 10.0)],  # three places: when one is free; later; sooner
)
def test_a_full_race_lets_one_past_when_one_steps_on(lag: int, expected: float) -> None:
    assert cost(120.0 - 20.0 * lag + 5.0, turn=6, places=3) == pytest.approx(expected)


@pytest.mark.parametrize(("lag", "expected"), [(2, 0.0), (1, 0.3), (3, 5.0)])
def test_while_the_race_fills_it_comes_past_when_it_likes(lag: int, expected: float) -> None:
    assert cost(120.0 - 20.0 * lag + 5.0, turn=2, places=3) == pytest.approx(expected)


def test_a_stay_without_a_tag_from_here_and_a_tag_that_backed_out_cost_what_the_page_says() -> None:
    began = [20.0, 40.0]
    spans = [Span(1, 20.0, 30.0, 5), Span(2, 40.0, 50.0, 6)]
    one = align_queue([25.0], spans, began, ReaderModel(1), [1.0, 1.0], lambda *_: 0.0)
    assert one.pairs[0, 1] == pytest.approx(3.5, abs=0.01)
    two = align_queue([24.0, 25.0], spans[1:], began, ReaderModel(1), [1.0], lambda *_: 0.0)
    assert two.pairs[0, 0] == pytest.approx(0.0, abs=0.01)  # the other still waits
    assert two.pairs[1, 0] == pytest.approx(6.0, abs=0.01)  # the first backed out
    assert align_queue([45.0], spans[1:], began, ReaderModel(1), [1.0], lambda *_: 0.0).pairs == {}  # came after it


def test_what_other_readers_know_makes_a_pair_cheaper_and_what_cannot_be_is_none() -> None:
    began, spans = [20.0, 40.0], [Span(2, 40.0, 50.0, 6)]
    cheap = align_queue([25.0], spans, began, ReaderModel(1), [1.0], lambda *_: 4.0)
    assert cheap.pairs[0, 0] == pytest.approx(-4.0)
    assert align_queue([25.0], spans, began, ReaderModel(1), [1.0], lambda *_: None).pairs == {}


def test_a_steady_lag_makes_a_pair_cheaper_by_its_points() -> None:
    began, spans, model = [20.0, 40.0], [Span(2, 40.0, 50.0, 6)], ReaderModel(1)
    for _ in range(9):
        model.lag.learn(2.0)
    aligned = align_queue([38.0], spans, began, model, [1.0], lambda *_: 0.0)
    assert aligned.pairs[0, 0] == pytest.approx(-model.lag.points(2.0, 15.0))


def test_while_the_race_fills_each_stay_later_costs_a_little_more() -> None:
    assert cost(120.0 - 20.0 + 5.0, turn=3, places=3) == pytest.approx(0.6)
    assert cost(120.0 - 20.0 + 5.0, turn=4, places=3) == pytest.approx(3.5), "it is full"


def test_a_stay_decided_without_a_tag_from_here_costs_nothing() -> None:
    began, spans = [20.0, 40.0], [Span(1, 20.0, 30.0, 5), Span(2, 40.0, 50.0, 6)]
    one = align_queue([25.0], spans, began, ReaderModel(1), [0.0, 1.0], lambda *_: 0.0)
    assert one.pairs[0, 1] == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(
    ("when", "alone"),
    [
        ((25.0, 45.0), True),
        ((25.0, 45.0, 65.0, 66.0), True),
        ((20.1, 40.1), True),  # just after the stay before began, and after its own
        ((40.0, 60.0), True),  # as it stepped on, and as the next did
        ((20.0, 45.0), False),  # one that came past as the stay before began was on its way before
        ((25.0, 26.0, 45.0), False),  # two
        ((45.0,), False),  # none
        ((25.0, 65.0), False),  # nobody came past while it stood: it was no animal, or the next has no tag
        ((25.0, 40.0), False),
        ((25.0, 60.1), False),
    ],
)
def test_where_one_fits_one_comes_past_in_each_stay(when: tuple[float, ...], *, alone: bool) -> None:
    assert came_alone(when, 40.0, [20.0, 40.0, 60.0, 80.0]) is alone


def test_the_first_and_the_last_stay_known_have_no_bound_before_or_after() -> None:
    assert came_alone([5.0, 25.0], 20.0, [20.0, 40.0])
    assert not came_alone([5.0, 6.0, 25.0], 20.0, [20.0, 40.0])
    assert came_alone([25.0, 99.0], 40.0, [20.0, 40.0])
    assert not came_alone([25.0], 40.0, [20.0, 40.0])


@pytest.mark.parametrize(("lag", "expected"), [(3, 0.0), (2, -2.5), (1, -3.5), (4, -5.0), (5, -10.0)])
def test_by_itself_a_coming_is_worth_what_its_lag_costs_whatever_the_others_say(lag: int, expected: float) -> None:
    began = [20.0 * n for n in range(1, 9)]
    spans = [Span(n, began[n], began[n] + 10.0, n + 1) for n in range(8)]
    came = 120.0 - 20.0 * lag + 5.0
    found = apart([1.0, came], [(1, 5)], spans, began, ReaderModel(3))
    assert found == {(1, 5): pytest.approx(expected)}
    unknown = apart([1.0, came], [(1, 5)], spans, began, ReaderModel())
    assert unknown == {(1, 5): pytest.approx(-0.1 * lag)}, "any number of places may be, each more costs a little"


def test_by_itself_a_coming_is_worth_its_steady_lag_too() -> None:
    model = ReaderModel(1, {"lag_s": 3.0, "lag_scale_s": 0.6})
    spans = [Span(1, 20.0, 30.0, 5), Span(2, 40.0, 50.0, 6)]
    found = apart([37.0], [(0, 1)], spans, [20.0, 40.0], model)
    assert found == {(0, 1): pytest.approx(model.lag.points(3.0, 15.0))}
    assert found[0, 1] > 1.0
