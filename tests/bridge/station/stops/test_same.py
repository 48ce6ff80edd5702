"""Whether two parts of a stay around a stop are one animal's: each thing that is known by itself, and together.

Gone through by hand from the paragraphs of `stops/same.py`, which are rules of our own; its figures come from simulated
yards, so that they are asked of it here by name.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import inf
from typing import Any

import pytest

from neckyoke.bridge.events import Clock, Flag, Weighing, Weight
from neckyoke.bridge.station.stops.same import (
    ANOTHER,
    COMING_ON_S,
    HALF_S,
    LEAVING,
    SAME,
    STEPS_ON,
    STOP_S,
    TAGS_DIFFER,
    TAGS_SAME,
    WHO_KNOWS,
    Between,
    odds_another,
)
from neckyoke.bridge.station.stops.visits import WHY, WHY_TOO, Visit, Visits
from tests.support import events

ON = datetime(2026, 11, 24, 9, tzinfo=UTC)
A, B = "999000000000001", "999000000000002"
START = (Flag.ON_AT_START,)


def part(
    *, on_s: float = 0.0, off_s: float = 20.0, kg: float | None = 300.0, tag: str | None = A, **known: Any
) -> Weighing:
    made = events.weighing(1, tag=tag)
    at = {"on": ON + timedelta(seconds=on_s), "off": ON + timedelta(seconds=off_s), "settled": None}
    weight = Weight(kg=kg, grade=known.pop("grade", "good" if kg else "none"), span_s=known.pop("span_s", 5.0))
    return made.model_copy(update={"tag": made.tag if tag else None, "weight": weight, **at, **known})


def later(*, after_s: float = 30.0, lasts_s: float = 20.0, **known: Any) -> Weighing:
    return part(on_s=20.0 + after_s, off_s=20.0 + after_s + lasts_s, **{"flags": START, **known})


STEADY = Visits((Visit(10.0, 15.0),) * 20)
"""Nobody knows what this mob weighs; none of it stood there for as long as the parts below, so time tells nothing."""
AWAY = Between(30.0)
UNKNOWN = Clock.UNKNOWN
NOTHING = 1.0
UNTAGGED: dict[str, Any] = {"tag": None}
KG = (0.03 / 0.85, 0.045 / 0.11, 0.145 / 0.03, 0.43 / 0.005, 0.35 / 0.005)
"""Of any two so many are so alike, of the same one so many: within 0.4, 1, 3 and 10 %, and further apart."""
ROUGH_KG = (0.03 / 0.78, 0.045 / 0.10, 0.145 / 0.07, 0.43 / 0.025, 0.35 / 0.025)


def odds(past: dict[str, Any], now: dict[str, Any], between: Between = AWAY, visits: Visits = STEADY) -> float:
    return odds_another(part(**past), later(**now), between, visits)


@pytest.mark.parametrize(
    ("kg", "sure", "rough"),
    [(300.0, KG[0], ROUGH_KG[0]), (301.1, KG[0], ROUGH_KG[0]), (301.3, KG[1], ROUGH_KG[1]), (297.1, KG[1], ROUGH_KG[1]),
     (296.9, KG[2], ROUGH_KG[2]), (309.0, KG[2], ROUGH_KG[2]), (309.3, KG[3], ROUGH_KG[3]), (331.0, KG[3], ROUGH_KG[3]),
     (332.0, KG[4], ROUGH_KG[4]), (150.0, KG[4], ROUGH_KG[4])],
)  # fmt: skip
def test_weights_speak_by_how_alike_they_are_and_how_sure(kg: float, sure: float, rough: float) -> None:
    assert odds(UNTAGGED, {"kg": kg}) == pytest.approx(sure)
    assert odds(UNTAGGED, {"kg": kg, "grade": "fair"}) == pytest.approx(sure)
    assert odds(UNTAGGED, {"kg": kg, "grade": "poor"}) == pytest.approx(rough)
    assert odds({"tag": None, "grade": "poor"}, {"kg": kg}) == pytest.approx(rough)
    stood = replace(AWAY, stood_kg=(300.0, 17.0))
    assert odds({"tag": None, "kg": None}, {"kg": kg}, stood) == pytest.approx(max(NOTHING, rough))
    stood = replace(AWAY, stood_kg=(17.0, kg))
    assert odds(UNTAGGED, {"kg": None}, stood) == pytest.approx(rough)


@pytest.mark.parametrize(
    ("before", "kg", "known", "factor"),
    [
        (100.0, 165.1, {}, NOTHING),  # it had two or three of four feet on then
        (100.0, 219.0, {}, NOTHING),
        (100.0, 164.9, {}, ROUGH_KG[4]),
        (100.0, 221.0, {}, ROUGH_KG[4]),
        (200.0, 100.0, {}, ROUGH_KG[4]),  # it does not lift them and stand on
        (100.0, 200.0, {"off_s": HALF_S + 0.1}, ROUGH_KG[4]),  # nor stand so for long
        (100.0, 200.0, {"grade": "fair"}, KG[4]),  # it stood on all feet
    ],
)
def test_what_was_seen_for_a_moment_may_have_been_half_on(
    before: float, kg: float, known: dict[str, Any], factor: float
) -> None:
    past = {**UNTAGGED, "kg": before, "grade": "poor", "off_s": HALF_S, "flags": START, **known}
    visits = Visits((Visit(1.0, 2.0),) * 20)  # none lasted for so long: time tells nothing
    assert odds_another(part(**past), later(kg=kg), AWAY, visits) == pytest.approx(factor * time_of(past, visits))
    if not known:
        none = {**past, "kg": None, "grade": "none"}
        stood = replace(AWAY, stood_kg=(before, None))
        assert odds_another(part(**none), later(kg=kg), stood, visits) == pytest.approx(factor * time_of(past, visits))


def time_of(past: dict[str, Any], visits: Visits) -> float:
    """Return what time alone says."""
    known: dict[str, Any] = {**UNTAGGED, "kg": None, "grade": "none"}
    return odds_another(part(**{**past, **known}), later(**known), AWAY, visits)


def test_what_had_lifted_its_feet_as_the_box_stopped_was_leaving() -> None:
    assert odds(UNTAGGED, {}, replace(AWAY, left=True)) == pytest.approx(LEAVING * KG[0])


@pytest.mark.parametrize(
    ("before", "after", "quick"), [(60.0, 119.0, True), (60.0, 121.0, False), (121.0, None, False)]
)
def test_how_quick_they_may_be_is_told_by_the_heavier_of_both(before: float, after: float | None, quick: bool) -> None:  # noqa: FBT001
    past, now = {**UNTAGGED, "off_s": 1.0, "kg": before, "grade": "poor"}, {**UNTAGGED, "kg": after}
    alike = _ratio(before, after)
    assert (odds(past, now, Between(4.5), Visits()) / alike > 0.2) is quick


def _ratio(before: float, after: float | None) -> float:
    return NOTHING if after is None or 1.65 <= after / before <= 2.2 else ROUGH_KG[4]


@pytest.mark.parametrize("stood_kg", [(None, 300.0), (300.0, None), (300.0, -2.0), (0.0, 300.0)])
def test_where_nothing_stood_still_weights_tell_nothing(stood_kg: tuple[float | None, float | None]) -> None:
    none = {"tag": None, "kg": None}
    assert odds(none, none, replace(AWAY, stood_kg=stood_kg)) == NOTHING


@pytest.mark.parametrize(("span_s", "says"), [(0.7, False), (0.8, True)])
def test_a_weight_of_a_moment_does_not_tell_who_it_was(span_s: float, *, says: bool) -> None:
    barely = odds(dict(UNTAGGED, kg=300.0, grade="poor", span_s=span_s), dict(UNTAGGED, kg=332.0), AWAY, STEADY)
    none = odds(dict(UNTAGGED, kg=None), dict(UNTAGGED, kg=332.0), AWAY, STEADY)
    assert (barely > none) is says


def test_in_a_mob_of_one_weight_a_weight_tells_little() -> None:
    alike = Visits((Visit(10.0, 15.0, 300.0),) * 20)
    assert odds(UNTAGGED, {}, visits=alike) == pytest.approx(20.36 / 32 / 0.85)


@pytest.mark.parametrize(
    ("past", "now", "factor"),
    [
        ({}, {}, TAGS_SAME[0]),
        ({"flags": (Flag.TAG_DOUBTFUL,)}, {}, TAGS_SAME[1]),
        ({}, {"flags": (*START, Flag.TWO_TAGS)}, TAGS_SAME[1]),
        ({}, {"tag": B}, TAGS_DIFFER[0]),
        ({"flags": (Flag.TAG_DOUBTFUL,)}, {"tag": B}, TAGS_DIFFER[1]),
        ({}, {"tag": B, "flags": (*START, Flag.TWO_TAGS)}, TAGS_DIFFER[1]),
        ({"flags": (Flag.REPEAT,)}, {"tag": B}, TAGS_DIFFER[1]),  # it may be that of the animal before, still heard
        ({"flags": (Flag.REPEAT,)}, {}, TAGS_SAME[0]),
        ({}, {"tag": B, "flags": (*START, Flag.REPEAT)}, TAGS_DIFFER[0]),
        ({"flags": (Flag.SHORT,)}, {"tag": B}, TAGS_DIFFER[0]),  # a flag that says nothing of that
        ({"flags": (Flag.BY_PERSON,)}, {"tag": B}, NOTHING),  # it was given, and need not be what is heard
        ({"flags": (Flag.BY_PERSON,)}, {}, NOTHING),
        ({"tag": None}, {}, NOTHING),
        ({}, {"tag": None}, NOTHING),
    ],
)
def test_tags_speak_where_both_parts_have_one(past: dict[str, Any], now: dict[str, Any], factor: float) -> None:
    assert odds({"kg": None, **past}, {"kg": None, **now}) == pytest.approx(factor)


@pytest.mark.parametrize(
    ("past", "now", "away_s", "factor"),
    [
        ({}, {"flags": ()}, 30.0, inf),  # nobody stood there when the box was back
        ({}, {}, STOP_S, NOTHING),
        ({}, {}, STOP_S + 0.1, inf),
        # where no clock ran through, two that are right tell
        ({}, {"after_s": STOP_S}, None, NOTHING),
        ({}, {"after_s": STOP_S + 1}, None, inf),
        ({"clock": UNKNOWN}, {"after_s": STOP_S + 1}, None, WHO_KNOWS),
        ({}, {"clock": UNKNOWN}, None, WHO_KNOWS),
        ({}, {"after_s": -1.0}, None, WHO_KNOWS),  # a clock that went back tells nothing
        # of one seen for three seconds the visits speak: each lasts ten, and the next comes five seconds after
        ({"off_s": 3.0}, {}, 4.0, 0.1 / 20.1),
        ({"off_s": 3.0}, {}, 12.5, 10.1 / 4.02),
        ({"off_s": 3.0}, {"lasts_s": 1.0}, 12.5, (20 / 6 + 0.1) / 4.02),  # and left
        ({"off_s": 3.0}, {"lasts_s": 1.0, "flags": (*START, Flag.INTERRUPTED)}, 12.5, 10.1 / 4.02),
        # whose first foot was not seen may have been about to leave
        ({"off_s": 3.0, "flags": START}, {}, 8.0, 5.1 / 4.1),
        ({"off_s": 3.0, "flags": START, "why": WHY_TOO}, {}, 8.0, 5.1 / 4.1),
        ({"off_s": 3.0, "flags": START, "why": WHY}, {}, 4.0, 0.1 / 20.1),
    ],
)
def test_time_speaks_by_the_visits_of_the_station(
    past: dict[str, Any], now: dict[str, Any], away_s: float | None, factor: float
) -> None:
    none = {"tag": None, "kg": None}
    assert odds({**none, **past}, {**none, **now}, Between(away_s)) == pytest.approx(factor)


@pytest.mark.parametrize(
    ("flags", "off_s", "away_s", "factor"),
    [
        ((), 3.0, COMING_ON_S - 3.0, 0.1 / 20.1),  # it was coming on as the box stopped
        ((), 3.0, COMING_ON_S - 2.9, STEPS_ON * 0.1 / 20.1),
        (START, 0.7, 1.0, STEPS_ON * 0.1 / 18.1),
    ],
)
def test_what_steps_on_as_the_box_is_back_put_its_first_foot_there_just_now(
    flags: tuple[Flag, ...], off_s: float, away_s: float, factor: float
) -> None:
    past = {"tag": None, "kg": None, "flags": flags, "off_s": off_s}
    assert odds(past, {"tag": None, "kg": None}, Between(away_s, steps_on=True)) == pytest.approx(factor)


@pytest.mark.parametrize(
    ("past", "now", "between", "what"),
    [
        ({}, {}, AWAY, "same"),
        ({}, {}, Between(None), "same"),
        ({"clock": UNKNOWN}, {}, Between(None), "same"),  # the tag is enough
        ({"clock": UNKNOWN}, {"kg": None}, Between(None), "same"),
        ({"clock": UNKNOWN}, UNTAGGED, Between(None), "maybe"),  # the weight is not, where nobody knows for how long
        (UNTAGGED, {}, AWAY, "same"),
        (UNTAGGED, {"kg": 305.0}, AWAY, "maybe"),
        (UNTAGGED, {"kg": 330.0}, AWAY, "another"),
        (UNTAGGED, {"kg": 330.0, "grade": "poor"}, AWAY, "maybe"),
        ({}, {"tag": B}, AWAY, "maybe"),  # another tag, and the same weight
        ({}, {"tag": B, "kg": 330.0}, AWAY, "another"),
        ({}, {"kg": 330.0}, AWAY, "maybe"),  # the same tag, and another weight
    ],
)
def test_together_they_make_the_same_or_another_or_nobody_can_tell(
    past: dict[str, Any], now: dict[str, Any], between: Between, what: str
) -> None:
    found = odds(past, now, between)
    assert ("same" if found <= SAME else "maybe" if found < ANOTHER else "another") == what
