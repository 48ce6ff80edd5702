"""The stay's state table, by examples: what is shown, and what must come of it."""

from collections.abc import Iterable
from itertools import pairwise

import pytest

from neckyoke.bridge.events import Attention, Flag
from neckyoke.bridge.station.platform.happenings import Began, Ended, Happening, SettledAt, ZeroMoved
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.platform.table import TABLE, Deed, Found, Sight
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.protocols.readings import KG_PER, Condition, Mode, WeightReading

Shown = tuple[float, float | None]
"""Seconds of this, at ten readings a second."""

CATTLE = Settings(site="larkmoor", name="crush", scale="indicator")


def platform(memory: Memory | None = None, **settings: float) -> Platform:
    return Platform(Settings("larkmoor", "crush", "indicator", **settings), memory or Memory())  # type: ignore[arg-type]


def readings(shown: Iterable[Shown], hz: float = 10.0) -> list[tuple[float, WeightReading]]:
    kgs = [kg for seconds, kg in shown for _ in range(round(seconds * hz))]
    return [(n / hz, WeightReading(kg)) for n, kg in enumerate(kgs)]


def feed(on: Platform, *shown: Shown, hz: float = 10.0) -> list[Happening]:
    return [one for t, reading in readings(shown, hz) for one in on.weight(t, reading)]


def ends(happenings: Iterable[Happening]) -> list[Ended]:
    return [one for one in happenings if isinstance(one, Ended)]


def only(happenings: Iterable[Happening]) -> Ended:
    (ended,) = ends(happenings)
    return ended


def ramp(start: float, end: float, seconds: float = 1.0) -> list[Shown]:
    steps = round(seconds * 10)
    return [(0.1, start + (end - start) * (n + 1) / steps) for n in range(steps)]


@pytest.mark.parametrize("hz", [5, 8, 10, 25])
@pytest.mark.parametrize("seconds", [5, 8])
def test_a_load_put_down_is_weighed_exactly_and_early(hz: float, seconds: float) -> None:
    got = feed(platform(), (1, 0.0), (seconds, 318.5), (1, 0.0), hz=hz)
    assert [type(one) for one in got] == [Began, SettledAt, Ended]
    settled, ended = got[1], got[2]
    assert isinstance(settled, SettledAt)
    assert isinstance(ended, Ended)
    assert (ended.weight.kg, ended.weight.grade, ended.flags) == (318.5, "good", ())
    assert settled.weight.kg == 318.5
    assert settled.t <= 1 + 2.8
    assert (ended.on, ended.off) == (1.0, 1.0 + seconds)
    assert ended.weight.spread_kg == ended.weight.restlessness_percent == 0.0


def test_readings_that_arrive_in_bursts_give_the_same_weight() -> None:
    smooth = readings([(2, 0.0), (6, 318.5), (2, 0.0)])  # one burst alone shows no platform that stays quiet
    on = platform()
    got = [one for n, (_, reading) in enumerate(smooth) for one in on.weight(float(n // 10), reading)]
    assert (only(got).weight.kg, only(got).weight.grade) == (318.5, "good")


def test_pounds_come_back_as_pounds() -> None:
    kg = 702 * KG_PER["lb"]
    ended = only(feed(platform(interval_kg=KG_PER["lb"]), (1, 0.0), (6, kg), (1, 0.0)))
    assert ended.weight.kg is not None
    assert round(ended.weight.kg / KG_PER["lb"], 1) == 702.0


def test_the_end_comes_with_the_reading_that_shows_it() -> None:
    on = platform()
    feed(on, (1, 0.0), (5, 400.0))
    (ended,) = on.weight(6.0, WeightReading(0.5))
    assert isinstance(ended, Ended)
    assert ended.off == 6.0


def test_a_bump_is_no_stay_and_takes_no_number() -> None:
    on = platform()
    assert feed(on, (2, 0.0), (0.4, 60.0), (2, 0.0), (0.2, 200.0), (2, 0.0)) == []
    assert on.number == 0


def test_a_person_who_stood_there_for_a_moment_is_a_short_stay() -> None:
    ended = only(feed(platform(), (2, 0.0), (1.2, 82.0), (2, 0.0)))
    assert Flag.SHORT in ended.flags
    assert ended.weight.grade != "good"


def test_a_pause_half_on_is_superseded() -> None:
    shown = [(1.0, 0.0), *ramp(0, 220, 0.6), (2.5, 220.0), *ramp(220, 400, 0.6), (5.0, 400.0), (1.0, 0.0)]
    got = feed(platform(), *shown)
    assert (only(got).weight.kg, only(got).weight.grade, only(got).flags) == (400.0, "good", ())
    firsts = [one.weight for one in got if isinstance(one, SettledAt)]
    assert firsts[-1].kg == 400.0
    assert all(first.grade == "poor" for first in firsts if first.kg == 220.0)


def test_half_off_and_back_is_one_stay_that_came_back() -> None:
    shown = [
        (1.0, 0.0),
        (5.0, 400.0),
        *ramp(400, 200, 0.5),
        (1.0, 200.0),
        *ramp(200, 400, 0.5),
        (4.0, 400.0),
        (1.0, 0.0),
    ]
    ended = only(feed(platform(), *shown))
    assert ended.weight.kg == 400.0
    assert Flag.CAME_BACK in ended.flags


def test_off_and_on_again_is_two_stays_and_the_second_says_so() -> None:
    first, second = ends(feed(platform(), (1, 0.0), (5, 400.0), (1.5, 0.0), (5, 400.5), (1, 0.0)))
    assert Flag.CAME_BACK not in first.flags
    assert Flag.CAME_BACK in second.flags


def test_animals_that_follow_without_a_gap_are_told_apart_by_the_dip() -> None:
    shown = [(1.0, 0.0), (5.0, 400.0), *ramp(400, 80, 0.8), *ramp(80, 310, 0.8), (5.0, 310.0), (1.0, 0.0)]
    first, second = ends(feed(platform(), *shown))
    assert (first.weight.kg, second.weight.kg) == (400.0, 310.0)
    assert first.off <= second.on
    assert Flag.CAME_BACK not in first.flags + second.flags


def test_animals_that_overlap_are_told_apart_by_their_weights() -> None:
    shown = [(1.0, 0.0), (5.0, 400.0), *ramp(400, 220, 0.5), *ramp(220, 520, 0.8), (5.0, 520.0), (1.0, 0.0)]
    first, second = ends(feed(platform(), *shown))
    assert (first.weight.kg, second.weight.kg) == (400.0, 520.0)


def test_a_second_animal_for_a_while_is_flagged_and_not_weighed_in() -> None:
    shown = [(1.0, 0.0), (6.0, 400.0), (2.0, 730.0), (4.0, 400.0), (1.0, 0.0)]
    ended = only(feed(platform(), *shown))
    assert ended.weight.kg == 400.0
    assert Flag.CROWDED in ended.flags


def test_leaning_lowers_the_grade_and_not_the_weight() -> None:
    shown = [(1.0, 0.0), (4.0, 400.0), (3.0, 380.0), (2.0, 400.0), (1.0, 0.0)]
    ended = only(feed(platform(), *shown))
    assert ended.weight.kg == pytest.approx(400.0, abs=1.0)
    assert ended.weight.grade != "good"
    assert Flag.LEANING in ended.flags


def test_a_display_held_through_the_stay_promises_nothing() -> None:
    shown = [(1.0, 0.0), *ramp(0, 360, 0.9), (2.4, 372.0), *ramp(400, 406, 0.3), (0.3, 398.0), (1.0, 0.0)]
    ended = only(feed(platform(), *shown))
    assert ended.weight.grade == "poor"
    assert Flag.FROZEN in ended.flags


# -- zero


def test_residue_is_told_and_the_next_animal_is_weighed_without_it() -> None:
    got = feed(platform(), (2, 0.0), (5, 400.0), (4, 4.0), (5, 354.0), (3, 4.0))
    first, second = ends(got)
    assert (first.weight.kg, first.weight.zero_kg, second.weight.kg, second.weight.zero_kg) == (400.0, 0.0, 350.0, 4.0)
    (moved,) = [one for one in got if isinstance(one, ZeroMoved)]
    assert (moved.number, moved.weight.zero_moved_kg, moved.weight.kg) == (1, 4.0, 400.0)
    assert Flag.ZERO_MOVED in moved.flags


def test_much_that_is_left_behind_is_no_animal() -> None:
    got = feed(platform(), (2, 0.0), (5, 400.0), (5, 31.0), (5, 381.0), (3, 31.0))
    first, second = ends(got)
    assert (first.weight.kg, second.weight.kg) == (400.0, 350.0)
    assert [one.about for one in got if isinstance(one, Attention)] == ["zero-off"]
    assert Flag.ZERO_OFF in second.flags


def test_zero_is_taken_when_asked_only_from_an_empty_quiet_platform() -> None:
    on = platform()
    feed(on, (2, 1.5))
    assert on.zero(2.0).done
    assert on.zero_kg == 1.5
    feed(on, (3, 400.0))
    assert not on.zero(3.0).done
    assert on.zero_kg == 1.5


# -- indicators and their troubles


def test_a_tare_message_is_no_reading() -> None:
    on = platform()
    feed(on, (1, 0.0))
    assert on.weight(1.1, WeightReading(300.0, mode=Mode.TARE)) == []
    assert on.view.kg == 0.0


def test_overload_is_flagged_and_the_stay_kept() -> None:
    on = platform(capacity_kg=500.0)
    got = feed(on, (1, 0.0))
    over = WeightReading(None, condition=Condition.OVERLOAD)
    got += [one for n in range(30) for one in on.weight(1 + n / 10, over)]
    got += on.weight(4.0, WeightReading(0.0))
    ended = only(got)
    assert (ended.weight.kg, ended.weight.grade) == (None, "none")
    assert Flag.OVERLOAD in ended.flags


def test_more_than_the_platform_bears_is_no_weight_to_trust_and_told_once() -> None:
    on = platform(capacity_kg=500.0)  # whoever forgot the point that is not sent sees every weight tenfold
    got = feed(on, (2, 0.0), (8, 3120.0), (2, 0.0), (8, 2875.0), (2, 0.0), (8, 312.0), (2, 0.0))
    first, second, mended = (one for one in got if isinstance(one, Ended))
    assert [(one.weight.grade, Flag.OVERLOAD in one.flags) for one in (first, second)] == [("poor", True)] * 2
    assert (mended.weight.grade, mended.flags) == ("good", ())
    told = [one for one in got if isinstance(one, Attention)]
    assert [(one.about, one.over) for one in told] == [("beyond", False), ("beyond", True)]
    assert "3120 kg, more than capacity_kg = 500" in told[0].text


def test_up_to_nine_intervals_above_capacity_are_still_a_weight() -> None:
    # "No indication above Max + 9 e": OIML R 76-1:2006, 4.2.3, from a public document that restates it
    on = platform(capacity_kg=500.0, interval_kg=0.5)
    ended = only(feed(on, (2, 0.0), (8, 504.5), (2, 0.0)))
    assert (ended.weight.grade, ended.flags) == ("good", ())


def test_blank_units_while_it_moves_hide_no_animal() -> None:
    ended = only(feed(platform(), (1, 0.0), (6, None), (1, 0.0)))
    assert (ended.weight.kg, ended.weight.grade) == (None, "none")
    calm = only(feed(platform(), (1, 0.0), (1.5, None), (3, 400.0), (1, None), (1, 0.0)))
    assert calm.weight.kg == 400.0


def test_a_short_silence_is_survived_and_flagged() -> None:
    on = platform()
    got = feed(on, (1, 0.0), (4, 400.0))
    got += on.advance(5.0)
    got += on.advance(9.0)
    got += [one for n in range(30) for one in on.weight(9 + n / 10, WeightReading(400.0))]
    got += on.weight(12.0, WeightReading(0.0))
    assert only(got).weight.kg == 400.0
    assert Flag.INDICATOR_LOST in only(got).flags


def test_a_long_silence_ends_the_stay_where_it_was_last_seen() -> None:
    on = platform()
    got = feed(on, (1, 0.0), (4, 400.0))
    assert ends(on.advance(14.8)) == []
    ended = only(on.advance(15.0))
    assert (ended.off, ended.weight.kg, ended.settled is not None) == (4.9, 400.0, True)
    assert ended.flags == (Flag.INDICATOR_LOST,)
    later = [one for n in range(30) for one in on.weight(20 + n / 10, WeightReading(400.0))]
    later += [one for n in range(20) for one in on.weight(23 + n / 10, WeightReading(0.0))]
    assert Flag.ON_AT_START in only(later).flags
    assert [one.number for one in [*got, *later] if isinstance(one, Began)] == [1, 2]


def test_stopping_ends_the_open_stay_interrupted() -> None:
    on = platform()
    feed(on, (1, 0.0), (0.7, 400.0))
    bump = on.open
    feed_from(on, 1.7, (0.3, 400.0))
    early = on.open
    assert bump is None
    assert early is not None
    assert (early.settled, early.weight.kg, early.weight.grade) == (None, 400.0, "poor")
    feed_from(on, 2.0, (3, 400.0))
    open_ended = on.open
    assert open_ended is not None
    (ended,) = on.finish(5.0)
    assert isinstance(ended, Ended)
    assert ended.weight.kg == open_ended.weight.kg == 400.0
    assert Flag.INTERRUPTED in ended.flags
    assert open_ended.flags == ended.flags


def feed_from(on: Platform, start: float, *shown: Shown) -> list[Happening]:
    return [one for t, reading in readings(shown) for one in on.weight(start + t, reading)]


def test_the_number_goes_on_from_memory() -> None:
    on = platform(Memory(number=41, zero_kg=2.0))
    ended = only(feed(on, (0.3, 2.0), (5, 402.0), (1, 2.0)))
    assert (ended.number, ended.weight.kg, ended.weight.zero_kg, on.number) == (42, 400.0, 2.0, 42)


def test_the_view_follows_the_states() -> None:
    on = platform()
    states = []
    for t, reading in readings([(1.0, 0.0), (5.0, 400.0), (0.5, 210.0), (1.0, 0.0)]):
        on.weight(t, reading)
        states.append(on.view.state)
    changes = [states[0], *(after for before, after in pairwise(states) if before != after)]
    assert changes == ["empty", "arriving", "standing", "settled", "leaving", "empty"]


def test_a_stay_of_hours_keeps_bounded_memory_and_ends_right() -> None:
    on = platform()
    feed(on, (1, 0.0), (3, 400.0))
    got = [one for n in range(2000) for one in on.weight(4 + 5.0 * n, WeightReading(400.0 + n % 2))]
    stay = on._stay
    assert stay is not None
    assert len(stay.settling.track) <= 6000
    assert ends(got) == []
    assert only(on.weight(4 + 10_000.5, WeightReading(0.0))).weight.kg == pytest.approx(400.5, abs=0.6)


def test_a_calf_that_follows_its_mother_closely_is_no_residue() -> None:
    shown = [(1.0, 0.0), (5.0, 520.0), *ramp(520, 20, 1.0), *ramp(20, 45, 0.5), (6.0, 45.0), (2.0, 0.0)]
    cow, calf = ends(feed(platform(), *shown))
    assert (cow.weight.kg, calf.weight.kg, calf.weight.zero_kg) == (520.0, 45.0, 0.0)


def test_every_state_has_an_answer_to_all_that_can_come() -> None:
    states = {state for state, _ in TABLE}
    assert states == {state for state, _ in TABLE.values()} == {"empty", "arriving", "standing", "settled", "leaving"}
    anywhere = {Sight.CLEAR, Sight.FULL, Sight.BLANK, Found.SILENT, Found.STOP}
    assert {(state, event) for state in states for event in anywhere} <= set(TABLE)
    assert all(TABLE[state, end][0] == "empty" for state in states for end in (Found.SILENT, Found.STOP))
    deeds = {deed for _, deed in TABLE.values()}
    assert deeds == set(Deed)
    assert set(Platform._DEEDS) == deeds
