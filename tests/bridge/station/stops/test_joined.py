"""One weighing of both parts of a stay around a stop: what it is made of.

Gone through by hand from `stops/joined.py`, whose rules are our own.
"""

from datetime import timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Clock, DoseSaid, Finding, Flag, Gain, Weight
from neckyoke.bridge.station.stops.joined import joined
from neckyoke.bridge.station.stops.visits import WHY
from tests.bridge.station.stops.test_same import ON, START, A, B, later, part

UNKNOWN = Clock.UNKNOWN


def finding(value: int, at_s: float) -> Finding:
    return Finding(name="teeth", value=value, by="person", at=ON + timedelta(seconds=at_s))


def test_one_weighing_has_the_place_of_the_first_part_and_whatever_either_has() -> None:
    gain = Gain(kg=3.0, days=20, since="2026-11-04")
    past = part(
        job="j1", job_number=7, revision=2, notes=("lame",), findings=(finding(2, 1.0),), animal={"visual": "47"}
    )
    past = past.model_copy(update={"settled": ON + timedelta(seconds=4), "number": 5, "weighing": "w5"})
    dose = DoseSaid(name="drench", given=False, at=ON)
    now = later(job="j2", job_number=9, notes=("coughs",), findings=(finding(4, 60.0),), doses_said=(dose,), gain=gain)
    now = now.model_copy(update={"settled": now.on + timedelta(seconds=3)})
    one = joined(past, now, 30.0)
    assert (one.weighing, one.number, one.job, one.job_number, one.revision) == ("w5", 5, "j1", 7, 3)
    assert (one.on, one.settled, one.off) == (past.on, past.settled, now.off)
    assert (one.notes, one.animal, one.gain) == (("lame", "coughs"), {"visual": "47"}, gain)
    assert (one.findings, one.doses_said, one.skipped) == ((finding(4, 60.0),), (dose,), ("drench",))
    assert one.why == WHY
    assert joined(past, now.model_copy(update={"why": "a note", "animal": {"visual": "48"}}), 30.0).why == "a note"
    said = past.model_copy(update={"doses_said": (dose,)})
    assert joined(said, now.model_copy(update={"doses_said": ()}), 30.0).doses_said == (dose,)
    unsettled = past.model_copy(update={"settled": None})
    assert joined(unsettled, now, 30.0).settled == now.settled
    assert joined(past, now.model_copy(update={"animal": {"visual": "48"}}), 30.0).animal == {"visual": "48"}


@pytest.mark.parametrize(
    ("before", "after", "kg"),
    [
        ("good", "good", 302.0),
        ("good", "fair", 300.0),
        ("fair", "good", 302.0),
        ("poor", "none", 300.0),
        ("none", "poor", 302.0),
    ],
)
def test_the_better_weight_counts_the_later_of_two_alike_by_the_first_that_was_shown(
    before: str, after: str, kg: float
) -> None:
    past = part(weight=Weight(kg=300.0, grade=before, first_kg=299.0))
    now = later(weight=Weight(kg=302.0, grade=after, first_kg=301.0))
    weight = joined(past, now, 30.0).weight
    assert (weight.kg, weight.first_kg) == (kg, 299.0)
    bare = part(weight=Weight(kg=300.0, grade=before))
    assert joined(bare, now, 30.0).weight.first_kg == (301.0 if kg == 302.0 else None)


@pytest.mark.parametrize(
    ("past", "now", "tag", "flags"),
    [
        (
            {"flags": (Flag.TAG_DOUBTFUL, Flag.INTERRUPTED)},
            {"tag": B},
            B,
            {Flag.INTERRUPTED, Flag.ON_AT_START},
        ),
        (
            {"flags": (Flag.TAG_DOUBTFUL,)},
            {"tag": None, "flags": (*START, Flag.NO_TAG)},
            A,
            {Flag.TAG_DOUBTFUL, *START},
        ),
        ({"flags": (Flag.BY_PERSON,)}, {"tag": B}, A, {Flag.BY_PERSON, *START}),
        (
            {"flags": (Flag.BY_PERSON,)},
            {"tag": B, "flags": (*START, Flag.BY_PERSON)},
            B,
            {Flag.BY_PERSON, *START},
        ),
        ({"flags": (Flag.CAME_BACK,)}, {"flags": (*START, Flag.REPEAT)}, A, {Flag.CAME_BACK, Flag.REPEAT, *START}),
    ],
)
def test_a_tag_comes_with_its_own_flags_and_a_persons_stands(
    past: dict[str, Any], now: dict[str, Any], tag: str, flags: set[Flag]
) -> None:
    one = joined(part(**past), later(**now), 30.0)
    assert one.tag is not None
    assert (one.tag.id, set(one.flags)) == (tag, flags)


@pytest.mark.parametrize(
    ("clock", "away_s", "late_s", "now_clock"),
    [
        (Clock.SYNCHRONISED, 10.0, 0.0, Clock.SYNCHRONISED),
        (Clock.SYNCHRONISED, None, 0.0, Clock.SYNCHRONISED),
        (UNKNOWN, 10.0, 20.0, Clock.SYNCHRONISED),  # it began twenty seconds later than was thought: 30 apart, not 10
        (UNKNOWN, None, 0.0, UNKNOWN),
    ],
)
def test_times_of_a_clock_that_was_not_known_are_made_from_the_later_part(
    clock: Clock, away_s: float | None, late_s: float, now_clock: Clock
) -> None:
    past = part(clock=clock).model_copy(update={"settled": ON + timedelta(seconds=4)})
    one = joined(past, later(), away_s)
    assert (one.on - ON, one.settled) == (timedelta(seconds=late_s), ON + timedelta(seconds=4 + late_s))
    assert one.clock is now_clock
