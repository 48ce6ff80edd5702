"""What is learned of a reader: an exponential average against its closed form, its bounds, and what is kept of it."""

import pytest

from neckyoke.bridge.station.settings import MOST_PLACES
from neckyoke.bridge.station.tags.readers.habit import Habit
from neckyoke.bridge.station.tags.readers.once import Once
from neckyoke.bridge.station.tags.readers.reader_model import KNOWN, ReaderModel


def average(start: float, weight: float, values: list[float]) -> float:
    """Return the exponential average in its closed form."""
    n = len(values)
    return start * (1 - weight) ** n + sum(
        weight * (1 - weight) ** (n - 1 - at) * value for at, value in enumerate(values)
    )


def test_what_is_assumed_of_a_reader_that_nobody_knows() -> None:
    told = {"share": 0.3, "beside": 0.15, "missed": 0.05, "slips": 0.1, "entry_s": 4.0}
    assert ReaderModel().kept == told | Habit().kept | Once().kept
    assert ReaderModel().usual is None


def test_shares_and_times_are_averaged_within_their_bounds() -> None:
    model = ReaderModel()
    for share in (0.5, 0.0, 1.0, 0.7):
        model.learn_share(share)
    assert model.share == pytest.approx(average(0.3, 0.1, [0.5, 0.03, 0.95, 0.7]))
    for after_s in (2.0, -1.0, 60.0):
        model.learn_entry(after_s)
    assert model.entry_s == pytest.approx(average(4.0, 0.1, [2.0, 0.3, 10.0]))


def test_what_happens_or_not_moves_its_rate_towards_a_value_that_is_neither_never_nor_always() -> None:
    model = ReaderModel()
    for yes in (True, False, False):
        model.learn_beside(others=yes)
        model.learn_missed(missed=yes)
        model.learn_slip(slipped=yes)
    assert model.beside == pytest.approx(average(0.15, 0.05, [0.6, 0.02, 0.02]))
    assert model.missed == pytest.approx(average(0.05, 0.03, [0.5, 0.02, 0.02]))
    assert model.slips == pytest.approx(average(0.1, 0.03, [0.8, 0.01, 0.01]))


def test_places_are_known_once_enough_pairs_have_shown_them_and_the_most_shown_are_taken() -> None:
    model, shown = ReaderModel(), []
    for stays in (3, 3, 2, 3, 3, 3, 3, 3):
        model.learn_queue(stays)
        shown.append((sum(model._came) >= KNOWN, model.usual))
    assert shown == [(False, None)] * 7 + [(True, 3)], "what the first of seven taught has faded a little"
    assert model.places() == {3: 0.0}


def test_more_places_than_there_can_be_are_counted_as_the_most() -> None:
    model = ReaderModel()
    for _ in range(9):
        model.learn_queue(MOST_PLACES + 5)
    assert model.usual == MOST_PLACES


def test_while_none_is_known_each_place_more_costs_a_little() -> None:
    assert ReaderModel().places() == pytest.approx({n: 0.1 * n for n in range(1, MOST_PLACES + 1)})


def test_the_next_run_begins_with_what_this_one_kept() -> None:
    model = ReaderModel()
    model.learn_share(0.9)
    for _ in range(9):
        model.learn_queue(4)
        model.lag.learn(2.5)
    assert model.kept["places"] == 4
    assert ReaderModel(kept=model.kept).kept == model.kept
    assert ReaderModel(2, model.kept).usual == 2, "a person's word goes before"
    assert ReaderModel(kept={"places": 0}).usual is None


def test_every_figure_that_was_kept_is_taken_up_again() -> None:
    kept = {"share": 0.61, "beside": 0.22, "missed": 0.13, "slips": 0.07, "entry_s": 2.5, "places": 3}
    kept |= {"early": 0.04, "late": 0.11, "unread": 0.2, "away_s": 2.0}
    kept |= {"again": 0.02, "said_early": 0.3, "said_late": 0.04, "unsaid": 0.2}
    kept |= {"said_early_s": 7.0, "said_late_s": 2.0, "said_entry_s": 1.5}
    assert ReaderModel(kept=kept).kept == kept
