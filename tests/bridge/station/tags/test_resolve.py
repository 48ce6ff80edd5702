"""Who gets which tag within a person's word: the table at the head of the module, and margins that no closing grows."""

from math import inf
from typing import cast

import pytest

from neckyoke.bridge.events import Position
from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.resolve import LEAST_LEFT, NO_LIMITS, OVERTAKES, Resolution, WordLimits
from neckyoke.bridge.station.tags.scores import Decided, Score, Scorer, Scores
from neckyoke.protocols.tagcode import TagCode

SPANS = [Span(n + 1, 20.0 * n, 20.0 * n + 10.0) for n in range(3)]
GUESS = 1.2
NONE = Assigned(None, inf, None)


def heard(tag: int, *counts: int, position: Position = "platform") -> Pass:
    """Make a pass that was heard so often in each stay."""
    times = [20.0 * at + 1.0 + n for at, count in enumerate(counts) for n in range(count)]
    return Pass(TagCode(999, tag), [Detection(t, "reader", position) for t in times])


def limits(
    *passes: Pass,
    unsaid: dict[int, Assigned] | None = None,
    words: dict[int, int | None] | None = None,
    had: frozenset[tuple[int, int]] = frozenset(),
    said: frozenset[int] = frozenset(),
) -> WordLimits:
    assigned = dict.fromkeys(range(3), NONE) | (unsaid or {})
    given = {at: one.tag for at, one in assigned.items() if one.margin >= GUESS or one.rival is None}
    return WordLimits.of(assigned, given, words or {}, had, said, SPANS, passes)


@pytest.mark.parametrize(
    ("counts", "word", "kept"),
    [
        ((3, 1, 0), None, True),  # the tag that the stay would have had
        ((3, 3, 0), None, True),
        ((2, 3, 0), None, False),  # another stay heard more of it
        ((0, 0, 0), None, False),  # it was not heard where the person looked
        ((3, 1, 0), 1, True),  # they gave it another
        ((3, 1, 0), 0, False),  # they gave it that one
    ],
)
def test_a_tag_that_a_word_took_from_its_stay_walks_nowhere_unless_another_heard_more_of_it(
    counts: tuple[int, int, int], word: int | None, *, kept: bool
) -> None:
    would_have = {0: Assigned(0, 5.0, None)}
    assert limits(heard(1, *counts), heard(2, 1), unsaid=would_have, words={0: word}).kept == ({0} if kept else set())


def test_nor_does_the_tag_that_it_had_before_the_word() -> None:
    got = limits(heard(1, 3), heard(2, 1), words={0: None}, had=frozenset({(0, 0)}))
    assert got.kept == {0}


def test_a_word_gives_a_neighbour_nothing_that_it_did_not_hear() -> None:
    mine = heard(1, 3, 0, 0)
    assert limits(mine).barred == {(1, 0), (2, 0)}
    assert limits(mine, unsaid={1: Assigned(0, 5.0, None)}).barred == {(2, 0)}, "it would have had it anyway"
    assert limits(mine, unsaid={1: Assigned(0, 0.5, 1)}).barred == {(1, 0), (2, 0)}, "that was no fit"
    given = limits(mine, unsaid={1: Assigned(0, 5.0, None)}, said=frozenset({0}))
    assert given.barred == {(1, 0), (2, 0)}, "a person gave it to some stay"


@pytest.mark.parametrize("position", ["ahead", "hand"])
def test_where_order_decides_a_word_moves_those_behind(position: Position) -> None:
    assert limits(heard(1, 3, 0, 0, position=position)).barred == frozenset()


def test_what_is_barred_is_not_scored() -> None:
    scores: Scores = {(0, 0): Score({"a": 1.0}), (1, 0): Score({"a": 9.0})}
    assert WordLimits(barred=frozenset({(1, 0)})).allowed(scores) == {(0, 0): scores[0, 0]}
    assert NO_LIMITS.allowed(scores) is scores


class Table:
    """A scorer that knows its scores; what is decided moves them where order does: then `open` counts."""

    def __init__(self, scores: dict[tuple[int, int], float], free: dict[tuple[int, int], float] | None = None) -> None:
        self.scores, self.free = scores, free if free is not None else scores
        self.asked: list[Decided] = []
        self.kinds: dict[tuple[int, int], Score] = {}

    def score(self, _passes: object, decided: Decided) -> Scores:
        points = self.scores if len(self.asked) == 0 else self.free
        self.asked.append(decided)
        return {pair: self.kinds.get(pair) or Score({"a": value}) for pair, value in points.items()}


def resolved(
    table: Table, decided: Decided, words: dict[int, int | None] | None = None, *, ordered: bool = False
) -> Resolution:
    return Resolution.of(cast("Scorer", table), [], 3, decided, words or {}, ordered=ordered)


def test_a_margin_does_not_grow_because_a_neighbour_was_closed() -> None:
    rivals = {(0, 0): 5.0, (1, 0): 4.0, (1, 1): 3.0}
    open_ = resolved(Table(rivals), Decided()).at(1)
    assert open_ == Assigned(1, 3.0, None)
    closed = resolved(Table(rivals), Decided({0: 0}, frozenset({0})))
    assert closed.at(0) == Assigned(0, inf, None), "what is fixed is sure"
    assert closed.at(1) == open_
    worded = resolved(Table(rivals), Decided({0: 0}, frozenset({0})), {0: 0}).at(1)
    assert worded == Assigned(1, 3.0, None)


def test_a_tag_that_only_closing_gave_has_no_margin() -> None:
    rivals = {(0, 0): 3.0, (1, 0): 4.0}
    closed = resolved(Table(rivals), Decided({0: 0}, frozenset({0})))
    assert closed.at(1) == Assigned(None, 0.0, None)


def test_where_order_decides_all_is_scored_again_as_if_only_a_persons_word_stood() -> None:
    table = Table({(1, 1): 3.0}, {(1, 1): 2.0, (0, 0): 1.0})
    decided = Decided({0: 0, 2: None}, frozenset({0, 7}))
    got = resolved(table, decided, {2: None}, ordered=True)
    assert [(one.fixed, one.taken) for one in table.asked] == [
        ({0: 0, 2: None}, {0, 7}),
        ({2: None}, {7}),  # what closing took is free again
    ]
    assert got.at(1) == Assigned(1, 2.0, None)
    plain = Table({(1, 1): 3.0}, {(1, 1): 2.0})
    assert resolved(plain, decided, {2: None}).at(1).margin == 3.0
    assert len(plain.asked) == 1
    by_word = Table({(1, 1): 3.0}, {(1, 1): 2.0})
    assert resolved(by_word, Decided({2: None}), {2: None}, ordered=True).at(1).margin == 3.0
    assert len(by_word.asked) == 1, "nothing but words was fixed"


@pytest.mark.parametrize(
    ("order_margin", "heard_well", "expected"),
    [
        (1.5, False, (1, 1.5, 7, None)),
        (1.5, True, (1, 5.0, None, 2)),  # a panel knows better
        (6.0, False, (1, 5.0, None, 2)),
    ],
)
def test_it_is_no_surer_than_the_order_was(order_margin: float, expected: object, *, heard_well: bool) -> None:
    table = Table({(0, 1): 9.0, (2, 1): 4.0})
    table.kinds[0, 1] = Score({"a": 9.0}, (order_margin, 7), heard_well)
    got = resolved(table, Decided()).at(0)
    assert (got.tag, got.margin, got.rival, got.taker) == expected


def test_who_has_each_pass_is_told_by_the_numbers_of_stays() -> None:
    got = resolved(Table({(1, 1): 3.0}), Decided({0: 5, 2: None}, frozenset({5})))
    assert got.held(SPANS) == {5: 1, 1: 2}


def in_order(queue: float, apart: float) -> Score:
    return Score({"queue": queue, "heard": apart}, queue=queue)


@pytest.mark.parametrize(
    ("mine", "instead", "left"),
    [
        (6.0, 6.0, OVERTAKES),  # nothing but order tells them apart
        (6.0, 5.0, OVERTAKES + 2.0),  # what was heard does too
        (6.0, 8.0, LEAST_LEFT),  # or speaks for an overtaking
        (6.0, 0.5, 12.0),  # they are apart by more than order is sure of
    ],
)
def test_no_order_is_surer_than_that_two_may_overtake_each_other(mine: float, instead: float, left: float) -> None:
    table = Table({(0, 0): mine + 3, (1, 1): mine + 3, (0, 1): instead - 6, (1, 0): instead - 6})
    for pair, points in table.scores.items():
        table.kinds[pair] = in_order(3.0 if pair[0] == pair[1] else -6.0, mine if pair[0] == pair[1] else instead)
        assert table.kinds[pair].total == points
    got = resolved(table, Decided()).at(0)
    assert got.tag == 0
    assert got.margin == pytest.approx(min(left, mine + 3))
    assert (got.rival, got.taker) == ((1, 1) if left < mine + 3 else (None, None))
    table.kinds[1, 0].queue = 0.0
    assert resolved(table, Decided()).at(0).margin == pytest.approx(mine + 3), "it is in no order at that stay"
    for score in table.kinds.values():
        score.queue = 0.0
    assert resolved(table, Decided()).at(0).margin == pytest.approx(mine + 3), "of no reader ahead there is no order"
