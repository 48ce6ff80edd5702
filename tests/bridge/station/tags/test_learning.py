"""What a stay teaches of each reader: when it does, what, and that a guess teaches nothing it would repeat."""

import math
from typing import Any

import pytest

from neckyoke.bridge.events import Position
from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.learning import learn_final, learn_pair, note_order, note_turns
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.readers.habit import Habit
from neckyoke.bridge.station.tags.readers.once import Once
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.bridge.station.tags.stays import OpenStay, ReaderLink
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

AT: dict[str, Position] = {"panel": "platform", "gate": "platform", "race": "ahead", "stick": "hand"}
SPAN = Span(3, 100.0, 110.0, 5)
BEGAN = [40.0, 60.0, 80.0, 100.0]


def one(tag: int, link: str, *times: float) -> Pass:
    return Pass(TagCode(999, tag), [Detection(t, link, AT[link]) for t in times])


class Station:
    """Readers with fresh models, and one stay that has just ended."""

    def __init__(self, *links: str) -> None:
        self.readers = {link: ReaderLink(AT[link], heard=99.0) for link in links}
        self.models = {link: ReaderModel() for link in links}
        self.stay = OpenStay(3, 100.0, 5, off=110.0)

    def pair(self, *passes: Pass, margin: float = 9.0, tag: int | None = 0) -> None:
        learn_pair(self.models, self.readers, self.stay, SPAN, passes, Assigned(tag, margin, None))

    def note(self, mine: Pass | None) -> None:
        note_order(self.readers, self.stay, SPAN, mine, BEGAN)


def near(start: float, towards: float, part: float) -> Any:
    """Return a figure that has gone so far of the way."""
    return pytest.approx(start + part * (towards - start))


def test_a_clear_pair_teaches_how_much_of_a_stay_is_heard_and_how_soon() -> None:
    at = Station("panel")
    at.pair(one(1, "panel", 102.5, 103.5, 104.5, 105.5))
    assert at.models["panel"].share == near(0.3, 0.4, 0.1)  # four slots of ten
    assert at.models["panel"].entry_s == near(4.0, 2.5, 0.1)


@pytest.mark.parametrize(("margin", "teaches"), [(4.5, True), (4.4, False), (math.inf, True)])
def test_what_was_guessed_teaches_no_share(margin: float, *, teaches: bool) -> None:
    at = Station("panel")
    at.pair(one(1, "panel", 102.5), margin=margin)
    assert (at.models["panel"].share != 0.3) is teaches
    assert (at.models["panel"].entry_s != 4.0) is teaches
    assert at.models["panel"].beside == near(0.15, 0.02, 0.05), "that no neighbour was heard is no guess"


@pytest.mark.parametrize(("first_t", "teaches"), [(98.9, False), (99.0, True), (110.0, True), (110.4, False)])
def test_how_soon_it_is_heard_is_told_by_what_came_with_the_animal(first_t: float, *, teaches: bool) -> None:
    at = Station("panel")
    at.pair(one(1, "panel", first_t))
    assert (at.models["panel"].entry_s != 4.0) is teaches


def test_a_neighbour_heard_by_this_reader_in_the_stay_teaches_that_neighbours_are() -> None:
    mine = one(1, "panel", 103.0)
    for other, towards in (
        (one(2, "panel", 109.0), 0.6),
        (one(2, "panel", 110.2), 0.02),  # after it
        (one(2, "panel", 99.5), 0.02),  # before
        (one(2, "gate", 109.0), 0.02),  # by another reader
    ):
        at = Station("panel", "gate")
        at.pair(mine, other)
        assert at.models["panel"].beside == near(0.15, towards, 0.05)
        assert at.models["gate"].beside == 0.15, "it did not hear this one"


def test_nothing_is_learned_while_it_stands_nor_twice_nor_of_a_stay_without_a_tag() -> None:
    heard = one(1, "panel", 102.5)
    open_stay, judged, untagged = Station("panel"), Station("panel"), Station("panel")
    open_stay.stay.off = None
    open_stay.pair(heard)
    judged.stay.taught = True
    judged.pair(heard)
    untagged.pair(heard, tag=None)
    for at in (open_stay, judged, untagged):
        assert at.models["panel"].kept == ReaderModel().kept


def test_a_reader_ahead_learns_the_seconds_from_its_last_coming_to_the_first_foot() -> None:
    at = Station("race", "panel")
    for _ in range(12):
        at.pair(one(1, "race", 80.0, 92.0, 93.0))
    assert at.models["race"].lag.known is not None
    assert at.models["race"].lag.known[0] == pytest.approx(8.0)
    assert at.models["panel"].kept == ReaderModel().kept, "which did not hear it"


def test_a_tag_that_came_past_only_after_the_first_foot_teaches_no_lag() -> None:
    at = Station("race")
    for _ in range(12):
        at.pair(one(1, "race", 101.0))
    assert at.models["race"].lag.known is None


def test_a_tag_read_by_hand_or_ahead_teaches_a_panel_nothing() -> None:
    at = Station("panel", "stick")
    at.pair(one(1, "stick", 103.0))
    assert at.models["panel"].kept == at.models["stick"].kept == ReaderModel().kept


def test_what_order_would_teach_is_noted_until_the_tag_is_final() -> None:
    at = Station("race", "stick", "panel")
    at.note(one(1, "race", 61.0))
    assert (at.stay.lags, at.stay.slips) == ({"race": 2}, {"stick": None})
    at.note(one(1, "stick", 112.0))
    assert (at.stay.lags, at.stay.slips) == ({}, {"stick": 2.0})
    at.note(one(1, "stick", 105.0))
    assert at.stay.slips == {"stick": 0.0}
    at.note(one(1, "panel", 105.0))
    assert (at.stay.lags, at.stay.slips) == ({}, {"stick": None})
    at.note(None)
    assert (at.stay.lags, at.stay.slips) == ({}, {"stick": None})


@pytest.mark.parametrize(("lag", "counts"), [(4, True), (5, False), (6, False)])
def test_what_came_while_the_race_was_filling_teaches_no_places(lag: int, *, counts: bool) -> None:
    at = Station("race")
    at.stay.lags = {"race": lag}  # of the fifth stay since the race was empty
    for _ in range(12):
        learn_final(at.models, at.readers, at.stay)
    assert (at.models["race"].usual == lag) is counts


def test_a_slip_is_learned_when_the_tag_is_final() -> None:
    for off, towards in ((-2.0, 0.8), (2.0, 0.8), (0.0, 0.01)):
        at = Station("stick")
        at.stay.slips = {"stick": off}
        learn_final(at.models, at.readers, at.stay)
        assert at.models["stick"].slips == near(0.1, towards, 0.03)
        habit = Habit()
        habit.learn(off)
        assert at.models["stick"].habit.kept == habit.kept


def test_what_turns_would_teach_is_noted_of_a_reader_that_says_each_tag_once() -> None:
    at = Station("panel", "stick")
    passes = [one(1, "panel", 103.0, 104.0), one(2, "panel", 96.0), one(3, "stick", 99.0), one(4, "panel", 105.0)]
    scores = {(4, 0): Score(chance=0.7), (4, 1): Score(chance=0.2), (4, 2): Score(chance=0.1), (4, 3): Score()}
    scores |= {(3, 1): Score(chance=0.8)}
    note_turns(at.models, at.readers, at.stay, 4, passes, scores)
    assert at.stay.turns == {}, "it may say them again"
    at.models["panel"].once.again = 0.01
    note_turns(at.models, at.readers, at.stay, 4, passes, scores)
    assert at.stay.turns == {"panel": [(0.7, 103.0), (0.2, 96.0)]}
    at.stay.off = 110.0
    learn_final(at.models, at.readers, at.stay)
    once = Once({"again": 0.01})
    once.learn_turn([(0.7, 103.0), (0.2, 96.0)], at.stay.span(None))
    assert at.models["panel"].once.kept == once.kept


@pytest.mark.parametrize(("reads", "again"), [((1,), False), ((1, 1), True), ((2,), True)])
def test_a_pair_shows_whether_a_reader_says_a_tag_again(reads: tuple[int, ...], *, again: bool) -> None:
    at = Station("panel")
    mine = one(1, "panel", *(102.0 + 2 * n for n in range(len(reads))))
    for heard, count in zip(mine.heard, reads, strict=True):
        heard.reads = count
    at.pair(mine)
    assert at.models["panel"].once.again == pytest.approx((0.5 + again) / 2)


def test_a_stay_that_nobody_read_teaches_that_some_are_unread() -> None:
    at = Station("stick")
    at.stay.slips = {"stick": None}
    learn_final(at.models, at.readers, at.stay)
    assert at.models["stick"].slips == 0.1
    assert at.models["stick"].habit.unread == pytest.approx((30 * 0.12 + 1) / 31)


@pytest.mark.parametrize(
    ("verdict", "towards"), [(Verdict(3, TagCode(999, 1)), 0.02), (Verdict(3, None), 0.5), (None, 0.5)]
)
def test_a_final_stay_without_a_tag_was_perhaps_missed(verdict: Verdict | None, towards: float) -> None:
    at = Station("panel", "race")
    at.stay.verdict = verdict
    learn_final(at.models, at.readers, at.stay)
    assert at.models["panel"].missed == near(0.05, towards, 0.03)
    assert at.models["race"].missed == 0.05, "one ahead hears none that stands"


def test_one_that_lost_its_tag_to_a_word_when_it_was_final_was_not_missed_for_that() -> None:
    at = Station("panel")
    at.stay.verdict, at.stay.reopened, at.stay.lags = Verdict(3, None), True, {"panel": 2}
    learn_final(at.models, at.readers, at.stay)
    assert at.models["panel"].kept == ReaderModel().kept


def test_of_a_reader_that_never_spoke_and_of_a_persons_word_nothing_is_learned() -> None:
    for mute, word in ((True, False), (False, True)):
        at = Station("panel")
        at.stay.word = word
        if mute:
            at.readers["panel"].heard = None
        learn_final(at.models, at.readers, at.stay)
        assert at.models["panel"].missed == 0.05
