"""Two parts of a stay around a stop: the rule whether they are one animal's, and what one weighing is made of both.

Gone through by hand from the paragraphs of `resume.py`, which are rules of our own.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Clock, DoseSaid, Finding, Flag, Gain, Weighing, Weight
from neckyoke.bridge.station.resume import COMING_ON_S, STEPPED_S, STOP_S, WHY, goes_on, joined
from tests.support import events

ON = datetime(2026, 11, 24, 9, tzinfo=UTC)
A, B = "999000000000001", "999000000000002"
START = (Flag.ON_AT_START,)


def part(
    *, on_s: float = 0.0, off_s: float = 20.0, kg: float | None = 300.0, tag: str | None = A, **known: Any
) -> Weighing:
    made = events.weighing(1, tag=tag)
    at = {"on": ON + timedelta(seconds=on_s), "off": ON + timedelta(seconds=off_s), "settled": None}
    weight = Weight(kg=kg, grade=known.pop("grade", "good" if kg else "none"))
    return made.model_copy(update={"tag": made.tag if tag else None, "weight": weight, **at, **known})


def later(*, after_s: float = 30.0, lasts_s: float = 20.0, **known: Any) -> Weighing:
    return part(on_s=20.0 + after_s, off_s=20.0 + after_s + lasts_s, **{"flags": START, **known})


SOME, TURN_S = 30.0, 6.0
UNKNOWN = Clock.UNKNOWN


@pytest.mark.parametrize(
    ("past", "now", "away_s", "same"),
    [
        # nobody stood there when the box was back
        ({}, {"flags": ()}, SOME, False),
        # how long it was away, told or by two clocks that are right
        ({}, {}, STOP_S, True),
        ({}, {}, STOP_S + 0.1, False),
        ({}, {"after_s": STOP_S}, None, True),
        ({}, {"after_s": STOP_S + 1}, None, False),
        ({"clock": UNKNOWN}, {"after_s": STOP_S + 1}, None, True),
        ({"clock": UNKNOWN}, {"tag": None}, None, False),  # by weight alone only where the time is known
        ({}, {"tag": None}, None, True),
        ({}, {"tag": None, "clock": UNKNOWN}, None, False),
        ({}, {"tag": None, "after_s": -1.0}, None, False),  # a clock that went back tells nothing
        # tags that are sure decide
        ({}, {"kg": 200.0}, SOME, True),
        ({}, {"tag": B}, SOME, False),
        ({"flags": (Flag.TAG_DOUBTFUL,)}, {"kg": 200.0}, SOME, True),
        ({"flags": (Flag.TAG_DOUBTFUL,)}, {"tag": B}, SOME, True),
        ({"flags": (Flag.TAG_DOUBTFUL,)}, {"tag": B, "kg": 200.0}, SOME, False),
        ({}, {"tag": B, "flags": (*START, Flag.TWO_TAGS)}, SOME, True),
        ({"flags": (Flag.REPEAT,)}, {"tag": B}, SOME, False),  # a flag that says nothing of that
        ({"flags": (Flag.BY_PERSON,)}, {"tag": B}, SOME, True),  # it was given, and need not be what is heard
        ({"flags": (Flag.BY_PERSON,)}, {"tag": B, "kg": 200.0}, SOME, False),
        # weights decide, within one in a hundred
        ({"tag": None}, {"kg": 303.0}, SOME, True),
        ({"tag": None}, {"kg": 303.1}, SOME, False),
        ({"tag": None}, {"kg": 297.0}, SOME, True),
        # a poor one does not speak against, within one in ten; nor for it: then there was no time for another
        ({"tag": None, "grade": "poor"}, {"kg": 320.0}, 1.0, False),
        ({"tag": None, "grade": "poor", "off_s": 3.0}, {"kg": 320.0, "lasts_s": 6.0}, 1.0, True),
        ({"tag": None, "off_s": 3.0}, {"kg": 333.3, "grade": "poor", "lasts_s": 6.0}, 1.0, True),
        ({"tag": None, "off_s": 3.0}, {"kg": 333.4, "grade": "poor", "lasts_s": 6.0}, 1.0, False),
        ({"tag": None, "off_s": 3.0}, {"kg": 320.0, "lasts_s": 6.0}, 1.0, False),
        # no weight at all
        ({"tag": None, "kg": None, "off_s": 5.0}, {}, TURN_S + STEPPED_S - 5.0, True),
        ({"tag": None, "kg": None, "off_s": 5.0}, {}, TURN_S + STEPPED_S - 4.9, False),
        ({"tag": None, "off_s": 5.0}, {"kg": None}, TURN_S + STEPPED_S - 5.0, True),
        ({"tag": None, "kg": None}, {"lasts_s": TURN_S - 1.0}, 1.0, True),
        ({"tag": None, "kg": None}, {"lasts_s": TURN_S - 0.9}, 1.0, False),
        ({"tag": None, "kg": None}, {"lasts_s": 2.0, "flags": (*START, Flag.INTERRUPTED)}, 1.0, False),
    ],
)
def test_whether_two_parts_are_one_animals(
    past: dict[str, Any], now: dict[str, Any], away_s: float | None, *, same: bool
) -> None:
    assert goes_on(part(**past), later(**now), away_s, TURN_S) is same


@pytest.mark.parametrize(
    ("past", "now", "away_s", "turn_s", "same"),
    [
        # nobody takes so long to come on, whatever the weights; but one that is heard to be the same did
        ({}, {}, COMING_ON_S - 4.0, 9.0, True),
        ({}, {}, COMING_ON_S - 3.9, 9.0, False),
        ({"kg": None}, {}, COMING_ON_S - 3.9, 9.0, False),
        ({"kg": None, "flags": START}, {}, COMING_ON_S - 3.9, 9.0, False),
        ({"tag": A}, {"tag": A}, COMING_ON_S - 3.9, 9.0, True),
        # what only steps on now may have put its first foot there this moment
        ({"kg": None, "off_s": 2.5}, {}, 0.5, 3.0, True),
        ({"kg": None, "off_s": 2.5}, {}, 0.6, 3.0, False),
    ],
)
def test_whether_what_steps_on_as_the_box_is_back_was_there_before(
    past: dict[str, Any], now: dict[str, Any], away_s: float, turn_s: float, *, same: bool
) -> None:
    before, after = part(**{"tag": None, "off_s": 4.0, **past}), later(**{"tag": None, **now})
    assert goes_on(before, after, away_s, turn_s, steps_on=True) is same


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
