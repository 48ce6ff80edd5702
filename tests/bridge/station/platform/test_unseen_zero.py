"""What is on when hearing begins, or begins again: nothing is promised until the empty platform was seen."""

import pytest

from neckyoke.bridge.events import Attention, Flag
from neckyoke.bridge.station.platform.happenings import Ended, SettledAt
from neckyoke.bridge.station.settings import Memory
from neckyoke.protocols.readings import Condition, WeightReading
from tests.bridge.station.platform.test_platform_table import Shown, ends, feed, feed_from, only, platform, ramp


def test_what_stands_there_at_the_start_is_weighed_by_the_platform_it_leaves() -> None:
    got = feed(platform(), (4, 362.5), (2, -45.0))
    ended = only(got)
    assert (ended.weight.kg, ended.weight.zero_kg) == (407.5, -45.0)
    assert ended.weight.grade == "fair"  # what it may have left behind cannot be told from what lay there before
    assert Flag.ON_AT_START in ended.flags
    assert all(one.weight.grade == "poor" for one in got if isinstance(one, SettledAt))


def test_without_an_empty_platform_to_see_its_weight_is_poor() -> None:
    on = platform()
    feed(on, (4, 362.5), (0.3, 0.0))
    (ended,) = on.advance(30.0)
    assert isinstance(ended, Ended)
    assert (ended.weight.kg, ended.weight.grade, ended.off) == (362.5, "poor", 4.0)


@pytest.mark.parametrize("offset", [-400.0, -45.0, -3.0, 8.0, 45.0, 75.0])
def test_an_old_tare_or_an_offset_is_seen_through(offset: float) -> None:
    shown = [(2.0, offset), *ramp(offset, 318.5 + offset), (5.0, 318.5 + offset), (2.0, offset)]
    got = feed(platform(), *shown)
    ended = only(got)
    assert (ended.weight.kg, ended.weight.zero_kg, ended.weight.grade) == (318.5, offset, "good")
    assert Flag.ON_AT_START not in ended.flags
    off = abs(offset) > 12.5
    assert (Flag.ZERO_OFF in ended.flags) == off
    told = [one for one in got if isinstance(one, Attention)]
    assert [one.about for one in told] == (["zero-off"] if off else [])
    assert all("zero the indicator" in one.text for one in told)


RAMP_KG = (69.0, 116.0, 178.0, 243.0, 301.0, 332.0, 344.5)
"""A ten-reading second of stepping on, heard from its middle."""


def up(kg: float, *shown: float) -> list[Shown]:
    """Step on as in these readings, and stand for five seconds."""
    return [*((0.1, at) for at in shown), (5.0, kg)]


@pytest.mark.parametrize("zero_kg", [None, 0.0, 69.0])
@pytest.mark.parametrize(
    ("kg", "shown"),
    [
        (344.3, RAMP_KG),  # came out as 275.3, good
        (300.0, (20.0, 75.0, 160.0, 240.0, 290.0)),  # as 280, good
        (100.0, (14.0, 38.0, 61.0, 80.0, 95.0)),
        (100.0, (80.0, 95.0)),
        (100.0, (10.0, 24.0, 50.0, 80.0, 95.0)),  # its first reading may be an empty platform's
    ],
)
def test_a_foot_on_its_way_up_is_not_taken_for_the_empty_platform(
    kg: float, shown: tuple[float, ...], zero_kg: float | None
) -> None:
    on = platform(Memory(zero_kg=zero_kg))
    got = feed(on, *up(kg, *shown), *ramp(kg, 0.0), (4.0, 0.0), *ramp(0.0, 250.0), (5.0, 250.0), (2.0, 0.0))
    first, second = ends(got)
    assert first.weight.kg == pytest.approx(kg, rel=0.01)
    assert first.weight.zero_kg == 0.0
    assert all(one.weight.grade == "poor" for one in got if isinstance(one, SettledAt) and one.number == 1)
    assert (second.weight.kg, second.weight.grade) == (250.0, "good")
    assert on.zero_kg == 0.0


def test_after_a_silence_nothing_is_promised_until_the_empty_platform_was_seen() -> None:
    on = platform()
    feed(on, (2, 0.0))
    shown = [*up(300.0, 20.0, 75.0, 160.0, 240.0, 290.0), (0.4, 0.0), *ramp(0.0, 310.0, 0.5), (5.0, 310.0), (0.4, 0.0)]
    got = feed_from(on, 13.0, *shown)
    got += feed_from(on, 13.0 + sum(seconds for seconds, _ in shown), *ramp(0.0, 250.0, 0.5), (5.0, 250.0), (2.0, 0.0))
    before_it_left = [one.weight.grade for one in got if isinstance(one, SettledAt) and one.number == 1]
    assert set(before_it_left) == {"poor"}, "however long it stands"
    assert [(one.weight.kg, one.weight.grade) for one in ends(got)] == [
        (300.0, "good"),  # the platform rests for a moment where it was before the silence
        (310.0, "good"),
        (250.0, "good"),
    ]


@pytest.mark.parametrize(
    ("before_kg", "after_kg", "grade"),
    [
        (0.0, 0.0, "good"),
        (0.0, 1.0, "good"),
        (0.0, 4.0, "fair"),
        (4.0, 0.0, "fair"),
        (0.0, 8.0, "poor"),
        (None, 0.0, "fair"),
    ],
)
def test_how_sure_a_stay_is_that_was_on_at_the_start_is_told_by_the_zero_of_before_and_after(
    before_kg: float | None, after_kg: float, grade: str
) -> None:
    ended = only(
        feed(platform(Memory(zero_kg=before_kg)), (6, 400.0 + after_kg), (0.3, after_kg + 0.5), (3.5, after_kg))
    )
    assert ended.weight.grade == grade
    assert ended.weight.kg == pytest.approx(400.0, abs=0.5)
    assert ended.weight.zero_kg == pytest.approx(after_kg, abs=0.5)


def test_half_an_animal_at_the_start_is_not_taken_for_the_empty_platform_for_good() -> None:
    shown = [
        (2.2, 55.0),
        *ramp(55, 100, 0.5),
        (5.0, 100.0),
        *ramp(100, 55, 0.3),
        (1.5, 55.0),
        *ramp(55, 0, 0.3),
        (3, 0.0),
    ]
    on = platform()
    got = feed(on, *shown)
    assert all(one.weight.grade in {"poor", "none"} or one.weight.kg == 100.0 for one in ends(got))
    assert on.zero_kg == 0.0


@pytest.mark.parametrize(("seconds", "grade"), [(2.5, "poor"), (5.0, "good")])
def test_what_nobody_saw_leave_may_have_been_half_on(seconds: float, grade: str) -> None:
    on = platform()
    feed(on, (2, 0.0), *ramp(0.0, 220.0, 0.5), (seconds, 220.0))
    assert on.open is not None
    assert on.open.weight.grade == grade
    (ended,) = ends(on.advance(60.0))
    assert (ended.weight.kg, ended.weight.grade) == (220.0, grade)


def test_a_first_weight_after_a_silence_within_a_stay_does_not_reach_over_it() -> None:
    on = platform()
    feed(on, (2, 0.0), (1.2, 180.0))
    got = feed_from(on, 9.0, *[(0.1, 300.0 + n % 2 / 2) for n in range(20)])
    (first,) = (one for one in got if isinstance(one, SettledAt))
    assert first.weight.kg == pytest.approx(300.25, abs=0.1)
    assert first.weight.grade == "poor"


@pytest.mark.parametrize("condition", [Condition.OK, Condition.ERROR])
def test_a_reading_below_nothing_after_a_long_blank_is_no_weight(condition: Condition) -> None:
    on = platform()
    on.weight(0.0, WeightReading(31.0))
    for n in range(12):
        on.weight(4.0 + 4 * n, WeightReading(None, condition=condition))
    got = [*on.weight(48.1, WeightReading(-50.0)), *on.finish(49.0)]
    assert only(got).weight.grade in {"poor", "none"}


def test_a_quiet_light_animal_at_the_start_is_not_taken_for_an_offset() -> None:
    ended = only(feed(platform(), (4, 61.0), (3, 0.0)))
    assert (ended.weight.kg, ended.weight.zero_kg) == (61.0, 0.0)
    assert Flag.ON_AT_START in ended.flags


def test_a_person_zeroes_the_indicator_and_no_animal_comes_of_it() -> None:
    on = platform()
    got = feed(on, (3, -60.0), (4, 0.0), (5, 318.5), (2, 0.0))
    assert [one.about for one in got if isinstance(one, Attention)] == ["zero-off", "zero-off"]
    assert (only(got).weight.kg, only(got).weight.zero_kg) == (318.5, 0.0)


def test_a_load_that_never_moves_is_told_of() -> None:
    got = feed(platform(), (70, 260.0), (3, 0.0))
    told = [one for one in got if isinstance(one, Attention)]
    assert [(one.about, one.over) for one in told] == [("stuck", False), ("stuck", True)]
    assert len(ends(got)) == 1


def test_what_steps_on_below_zero_as_hearing_begins_is_no_empty_platform() -> None:
    """Where -300 was shown empty, the 136 kg that stood at -164 were zero, and the next 481 were 345, good."""
    on = platform()
    begins = [(0.1, -300.0 + kg) for kg in (0.5, 3.0, 7.5, 12.0, 18.5, 45.0, 90.0, 125.0)]
    got = feed(on, *begins, (6.0, -163.5), *ramp(-163.5, -276.5), *ramp(-276.5, 181.0), (6.0, 181.0), (5.0, -300.0))
    first, second = ends(got)
    assert (first.weight.grade, second.weight.grade) == ("poor", "poor")
    assert first.weight.kg == pytest.approx(136.5, rel=0.1)
    assert (second.weight.kg, second.weight.zero_kg) == (481.0, -300.0)
    assert all(one.weight.grade == "poor" for one in got if isinstance(one, SettledAt))
    assert on.zero_kg == -300.0


@pytest.mark.parametrize(
    ("lows", "then_kg", "empty"),
    [(2, 5.0, True), (3, 5.0, False), (9, 0.0, True)],  # the last: somebody zeroed the indicator
)
def test_two_low_readings_as_hearing_begins_are_a_swing(lows: int, then_kg: float, *, empty: bool) -> None:
    on = platform()
    feed(on, (0.1 * lows, -60.0), (2.5, then_kg))
    assert on.is_seen_empty == empty


@pytest.mark.parametrize("silent", [False, True])
def test_what_stands_still_below_zero_as_hearing_begins_and_leaves_is_no_empty_platform(*, silent: bool) -> None:
    """Where -300 was shown empty, 136 kg standing at -164 were zero, and the next, 481 at once, were 345, good."""
    shown = [(2.0, -163.5), *ramp(-163.5, -283.5), *ramp(-276.5, 181.0), (6.0, 181.0), (5.0, -300.0)]
    on = platform()
    if silent:
        feed(on, (2.0, 0.0))
    got = feed_from(on, 15.0 * silent, *shown)
    (ended,) = ends(got)
    assert (ended.weight.kg, ended.weight.zero_kg, ended.weight.grade) == (481.0, -300.0, "poor")
    assert all(one.weight.grade == "poor" for one in got if isinstance(one, SettledAt))
    assert on.zero_kg == -300.0


@pytest.mark.parametrize(
    ("shown", "empty"),
    [
        ((-170.0, -200.0), True),  # two are a swing
        ((-176.5, -190.0, -205.0), False),
        ((-175.5, -190.0, -205.0), True),  # within half the smallest animal it is next to nothing
        ((-163.5, -190.0, -205.0), True),
    ],
)
def test_three_readings_far_below_are_no_swing_of_what_stood_still_as_hearing_began(
    shown: tuple[float, ...], *, empty: bool
) -> None:
    on = platform()
    feed(on, (1.5, -163.5), *((0.1, kg) for kg in shown))
    assert (on.zero_kg is not None) is empty


def test_once_somebody_came_it_is_a_swing() -> None:
    on = platform()
    weighed = feed(on, (2.0, 0.0), *ramp(0.0, 250.0), (5.0, 250.0), *ramp(250.0, 0.0), (2.0, 0.0))
    assert only(weighed).weight.kg == 250.0
    t = 2.0 + 5.0 + 2.0 + 2.0
    feed_from(on, t, (0.1, -20.0), (0.1, -31.0), (0.1, -22.0))
    assert on.zero_kg == 0.0
