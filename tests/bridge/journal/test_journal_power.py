"""The power is cut at any moment below our own schema and statements.  The full count: tests/bench/journal.py."""

import random

import pytest

from tests.support.power_day import check_cut, day

CUTS = 120


def test_no_power_cut_loses_what_was_acknowledged() -> None:
    chance = random.Random(7)
    tape, known = day(commits=150, seed=7)
    moments = [0, 1, len(tape.operations), *(chance.randrange(len(tape.operations)) for _ in range(CUTS))]
    for moment in moments:
        check_cut(tape, known, moment, chance)


def test_the_tape_can_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    """With commits that are not synced, the same cuts do lose events: the check above can fail."""
    monkeypatch.setattr(
        "neckyoke.bridge.journal.store.PRAGMAS", ("pragma journal_mode = wal", "pragma synchronous = normal")
    )
    tape, known = day(commits=40, seed=8)
    with pytest.raises(AssertionError, match="cut at"):
        check_cut(tape, known, known[-1].moment, random.Random(8))
