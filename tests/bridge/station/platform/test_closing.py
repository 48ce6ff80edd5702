"""What the mob weighs, which stay came before, and residue: what a stay leaves behind."""

from dataclasses import replace

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.platform.closing import Closing, came_back
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.platform.happenings import SettledAt, ZeroMoved
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.platform.stay import Stay
from neckyoke.bridge.station.settings import Memory, Settings
from tests.bridge.station.platform.test_platform_table import Shown, ends, feed, platform, ramp

CRUSH = Settings("larkmoor", "crush", "indicator")


def over(closing: Closing, kg: float, at: float = 0.0, *, seen: bool = True, unsure_kg: float = 0.0) -> list[str]:
    """Let a stay of so many kilograms end; return the grades told."""
    zero = Zero(CRUSH, None)
    zero.set(0.0, seen=seen)
    stay = Stay(CRUSH, 1, at, zero)
    stay.began, stay.unsure_kg = True, unsure_kg
    for n in range(40):
        stay.feed(at + n / 10, kg)
    stay.settled, stay.off = at + 2.0, at + 4.0
    return [one.weight.grade for one in closing.end(stay, None)]


@pytest.mark.parametrize(
    ("zero_kg", "kg", "grade"), [(0.0, 30.0, "good"), (0.2, 30.0, "good"), (5.0, 30.0, "fair"), (5.0, 300.0, "good")]
)
def test_what_lies_on_the_platform_is_known_to_half_a_step_of_the_display(
    zero_kg: float, kg: float, grade: str
) -> None:
    """Half a kilogram of 30 is 1.7 %; an empty platform that shows nothing was set to a quarter of that."""
    crush = replace(CRUSH, interval_kg=0.5)
    zero = Zero(crush, None)
    zero.set(zero_kg)
    stay = Stay(crush, 1, 0.0, zero)
    for n in range(60):
        stay.feed(n / 10, zero_kg + kg + 0.1 * (n % 3))
    assert stay.final().grade == grade


def test_the_mob_is_known_from_five_animals_that_are_alike() -> None:
    closing = Closing()
    for n, kg in enumerate((380.0, 390.0, 400.0, 410.0)):
        assert over(closing, kg, 10.0 * n) == ["good"]
        assert closing.usual_kg() is None
    over(closing, 420.0, 50.0)
    assert closing.usual_kg() == 400.0


def test_a_mob_of_cows_and_calves_has_no_usual_weight() -> None:
    closing = Closing()
    for n, kg in enumerate((600.0, 90.0, 620.0, 95.0, 610.0, 88.0)):
        over(closing, kg, 10.0 * n)
    assert closing.usual_kg() is None


@pytest.mark.parametrize(("apart_kg", "known"), [(78.0, True), (82.0, False)])
def test_the_quarters_of_a_mob_lie_within_three_tenths_of_its_middle(apart_kg: float, *, known: bool) -> None:
    closing = Closing()  # quartiles by the usual rule: of 400 -+ a and 400 -+ a / 2, at three quarters of a
    for n, part in enumerate((-1.0, -0.5, 0.0, 0.5, 1.0)):
        over(closing, 400.0 + part * apart_kg, 10.0 * n)
    assert (closing.usual_kg() is not None) is known


def test_only_the_last_fifteen_count_and_poor_weights_do_not() -> None:
    closing = Closing()
    for n in range(20):
        over(closing, 300.0, 10.0 * n)
    for n in range(5):
        assert over(closing, 900.0, 210.0 + 10 * n, unsure_kg=18.0) == ["poor"]
    assert closing.usual_kg() == 300.0
    for n in range(15):
        over(closing, 400.0, 300.0 + 10 * n)
    assert closing.usual_kg() == 400.0


def test_a_stay_whose_zero_was_not_seen_waits_for_it_for_three_seconds() -> None:
    closing = Closing()
    assert over(closing, 400.0, 0.0) == ["good"]
    before = closing.former
    assert over(closing, 300.0, 10.0, seen=False) == []
    assert closing.waiting is not None
    assert closing.former is closing.waiting is not before
    assert closing.meet(16.9) == []
    assert [one.weight.grade for one in closing.meet(17.0)] == ["poor"]
    assert closing.let_go() == []


def test_zero_that_moved_is_told_once_and_only_where_it_matters() -> None:
    for moved_kg, told in ((0.9, 0), (1.1, 1), (-1.1, 1)):
        closing = Closing()
        assert closing.moved(1.0, 5.0, sinks=False) == []
        over(closing, 400.0)
        found = closing.moved(6.0, moved_kg, sinks=False)
        assert len(found) == told
        assert all(Flag.ZERO_MOVED in one.flags and one.weight.zero_moved_kg == moved_kg for one in found)
        assert closing.moved(7.0, 9.0, sinks=False) == []


@pytest.mark.parametrize(("kg", "grade"), [(500.0, "good"), (499.0, "good"), (501.0, "poor"), (700.0, "poor")])
def test_what_outweighs_all_of_the_last_animals_by_a_quarter_may_be_more_than_an_animal(kg: float, grade: str) -> None:
    closing = Closing()
    for n in range(7):
        assert over(closing, 400.0 - n, 10.0 * n) == ["good"]
    assert over(Closing(), kg) == ["good"]
    over(closing, 390.0, 70.0)
    assert over(closing, kg, 80.0) == [grade]
    assert over(closing, kg, 90.0) == ["good"]  # a second one is an animal


def test_of_fewer_than_eight_animals_none_is_too_heavy() -> None:
    closing = Closing()
    for n in range(7):
        over(closing, 400.0, 10.0 * n)
    assert over(closing, 700.0, 80.0) == ["good"]


def stood(kg: float, seconds: float, at: float, *, settled: bool = True) -> Stay:
    zero = Zero(CRUSH, None)
    zero.set(0.0)
    stay = Stay(CRUSH, 1, at, zero)
    for n in range(round(10 * seconds)):
        stay.feed(at + n / 10, kg)
    stay.settled, stay.off = at + 1.0 if settled else None, at + seconds
    return stay


@pytest.mark.parametrize(
    ("before", "after", "same"),
    [
        ((400.0, 4.0, True), (402.0, 4.0, 3.0), True),  # within 0.6 % of the second: SAME
        ((400.0, 4.0, True), (397.0, 4.0, 3.0), False),
        ((400.0, 4.0, True), (402.0, 4.0, 3.1), False),  # it took too long: CAME_BACK_S
        ((30.0, 4.0, True), (30.5, 4.0, 1.0), True),  # one interval, of an animal so light
        ((30.0, 4.0, True), (31.0, 4.0, 1.0), False),
        ((400.0, 0.7, False), (300.0, 4.0, 1.0), True),  # a foot tried it first, and was not weighed
        ((400.0, 0.7, True), (400.0, 4.0, 1.0), False),  # too short to say so
        ((400.0, 4.0, False), (300.0, 0.0, 1.0), True),  # of the second nothing is known
        ((400.0, 4.0, True), (300.0, 0.0, 1.0), False),
    ],
)
def test_who_comes_on_again_at_once_is_told_by_the_weight_or_by_one_that_was_none(
    before: tuple[float, float, bool], after: tuple[float, float, float], *, same: bool
) -> None:
    (first_kg, first_s, settled), (kg, seconds, apart_s) = before, after
    first = stood(first_kg, first_s, 10.0, settled=settled)
    assert came_back(stood(kg, seconds, first.off + apart_s), first) is same
    assert not came_back(stood(kg, seconds, 20.0), None)


# -- residue, through the platform


def wavering(kg: float, seconds: float = 1.6) -> list[Shown]:
    return [(0.1, kg + n % 2 / 2) for n in range(round(10 * seconds))]


@pytest.mark.parametrize("kg", [14.0, 30.0, 55.0])
def test_what_wavers_as_it_comes_to_rest_is_residue_after_a_second(kg: float) -> None:
    got = feed(platform(), (2, 0.0), (5, 400.0), *wavering(kg), (4, 300.0 + kg), (2, kg))
    first, second = ends(got)
    assert first.weight.kg == 400.0
    assert second.weight.kg == pytest.approx(300.0, abs=0.5)
    assert second.weight.zero_kg == pytest.approx(kg, abs=0.5)


def test_what_is_left_and_rises_again_is_a_light_animal() -> None:
    shown = [(2.0, 0.0), (5.0, 400.0), (0.4, 30.0), *ramp(30, 58, 0.4), (4.0, 58.0), (2.0, 0.0)]
    first, second = ends(feed(platform(), *shown))
    assert (first.weight.kg, second.weight.kg, second.weight.zero_kg) == (400.0, 58.0, 0.0)


def test_an_animal_that_comes_to_what_stood_a_while_is_unsure_by_it() -> None:
    for stands_s, grade, first in ((0.6, "poor", "poor"), (0.3, "good", "fair")):
        shown = [(2.0, 0.0), (5.0, 400.0), (0.1, 21.0), (stands_s, 20.0), *ramp(20, 60, 0.4), (6.0, 60.0), (2.0, 0.0)]
        got = feed(platform(), *shown)
        _, second = ends(got)
        assert (second.weight.kg, second.weight.grade) == (60.0, grade)
        # the first weight, by which a dose is measured out, promises no more of such a zero than the last one does
        assert {one.weight.grade for one in got if isinstance(one, SettledAt) and one.number == 2} - {"poor"} == (
            set() if first == "poor" else {first}
        )


def test_residue_is_told_of_the_stay_that_left_it() -> None:
    got = feed(platform(), (2, 0.0), (5, 400.0), *wavering(20.0))
    assert [(one.number, one.weight.zero_moved_kg) for one in got if isinstance(one, ZeroMoved)] == [(1, 20.5)]


SHEEP = Settings("larkmoor", "crush", "indicator", capacity_kg=300.0, interval_kg=0.2, smallest_kg=16.0)


@pytest.mark.parametrize("gate_kg", [8.2, 10.0, 13.0, 15.8])
def test_a_gate_hung_on_a_platform_is_its_zero_whatever_an_instrument_may_be_zeroed(gate_kg: float) -> None:
    """Of 300 kg an instrument may be zeroed by 12, and of a sheep of 60 the gate is more than a seventh."""
    shown = [(2.0, 0.0), (5.0, 60.0), (4.5, gate_kg), (5.0, 70.0 + gate_kg), (2.0, gate_kg), (5.0, 50.0 + gate_kg)]
    first, *others = ends(feed(Platform(SHEEP, Memory()), *shown, (2.0, gate_kg)))
    assert (first.weight.kg, first.weight.grade) == (60.0, "good")
    assert [(one.weight.kg, one.weight.grade) for one in others] == [(70.0, "good"), (50.0, "good")]
    assert all(Flag.ZERO_OFF in one.flags for one in others)


@pytest.mark.parametrize(("left_kg", "stands_s"), [(16.0, 4.0), (13.0, 2.8)])
def test_what_weighs_as_much_as_an_animal_or_stood_no_longer_than_a_hind_foot_is_no_gate(
    left_kg: float, stands_s: float
) -> None:
    shown = [(2.0, 0.0), (5.0, 60.0), (stands_s, left_kg), (5.0, 70.0), (2.0, 0.0)]
    got = ends(feed(Platform(SHEEP, Memory()), *shown))
    assert {one.weight.zero_kg for one in got} == {0.0}


@pytest.mark.parametrize(("more_kg", "lingers"), [(12.5, True), (13.0, False)])
def test_what_was_left_is_an_animal_once_it_is_half_the_smallest_one_more(more_kg: float, *, lingers: bool) -> None:
    """The smallest animal weighs 25 kg."""
    stay = stood(20.0 + more_kg, 2.0, 10.0)
    stay.linger(20.0, None)
    stay.grow()
    assert stay.lingers is lingers


@pytest.mark.parametrize(("waver_kg", "residue"), [(0.5, True), (1.5, True), (2.0, False)])
def test_what_was_left_is_residue_once_it_has_kept_within_three_intervals_for_a_second(
    waver_kg: float, *, residue: bool
) -> None:
    stay = stood(20.0 + waver_kg, 0.8, 10.0)
    for n in range(8):
        stay.feed(10.8 + n / 10, 20.0)
    stay.linger(20.0, None)
    assert stay.is_residue(11.6, 20.0, stood(400.0, 4.0, 5.0)) is residue
    assert not stay.is_residue(11.6, 20.0, stood(130.0, 4.0, 5.0)), "it is as much as a tenth and a half of that"
    assert not stay.is_residue(11.6, 20.0, None)


@pytest.mark.parametrize(
    ("zero_kg", "shown_kg", "zeroed"),
    [(12.5, 0.0, False), (13.0, 0.0, True), (-13.0, 0.5, True), (13.0, -0.5, True), (13.0, 1.0, False)],
)
def test_an_indicator_was_zeroed_where_it_shows_none_of_what_was_half_the_smallest_animal(
    zero_kg: float, shown_kg: float, *, zeroed: bool
) -> None:
    zero = Zero(CRUSH, None)
    zero.set(zero_kg)
    assert Stay(CRUSH, 1, 0.0, zero).was_zeroed(shown_kg) is zeroed


@pytest.mark.parametrize(
    ("half_kg", "animals", "kg", "poor"),
    [
        (230.0, 8, 441.0, True),
        (230.0, 5, 441.0, True),
        (230.0, 4, 441.0, False),  # too few are known
        (230.0, 8, 401.0, True),
        (230.0, 8, 399.0, False),  # no heavier than the heaviest
        (80.0, 8, 441.0, False),  # no half
        (80.0, 8, 501.0, True),  # so heavy is none of them, paused or not
        (80.0, 7, 501.0, False),
        (280.0, 8, 499.0, True),
    ],
)
def test_one_heavier_than_its_mob_that_seems_to_pause_half_on_may_be_a_person_and_an_animal(
    half_kg: float, animals: int, kg: float, *, poor: bool
) -> None:
    def one(kg: float, half_kg: float = 0.0) -> list[Shown]:
        half = [*ramp(0, half_kg, 0.3), (1.0, half_kg)] if half_kg else []
        return [(2.0, 0.0), *half, *ramp(half_kg, kg, 0.4), (4.0, kg), *ramp(kg, 0, 0.4), (2.0, 0.0)]

    mob = [one(400.0 - 10 * n) for n in range(animals)]
    got = ends(feed(platform(), *(shown for animal in [*mob, one(kg, half_kg)] for shown in animal)))
    assert got[-1].weight.kg == kg
    assert (got[-1].weight.grade == "poor") is poor


def moving(kg: float, seconds: float) -> list[Shown]:
    """Show this for so long, but for a step of the display: one number that stands may be held."""
    return [(0.1, kg + 0.5 * (n % 2)) for n in range(round(10 * seconds))]


@pytest.mark.parametrize(
    ("kg", "animals", "seconds", "grade"),
    [
        (441.0, 5, 1.6, "poor"),  # no more than fair, and heavier than any by a tenth
        (441.0, 4, 1.6, "fair"),
        (439.0, 5, 1.6, "fair"),
        (441.0, 5, 4.0, "good"),
        (499.0, 8, 4.0, "good"),
        (501.0, 8, 4.0, "poor"),  # by a quarter
    ],
)
def test_one_far_heavier_than_its_mob_may_be_an_animal_and_a_person(
    kg: float, animals: int, seconds: float, grade: str
) -> None:
    def one(kg: float, seconds: float = 4.0) -> list[Shown]:
        return [(2.0, 0.0), *ramp(0, kg, 0.4), *moving(kg, seconds), *ramp(kg, 0, 0.4), (2.0, 0.0)]

    mob = [one(400.0 - 10 * n) for n in range(animals)]
    got = ends(feed(platform(), *(shown for animal in [*mob, one(kg, seconds)] for shown in animal)))
    assert got[-1].weight.kg == pytest.approx(kg, abs=0.5)
    assert got[-1].weight.grade == grade


@pytest.mark.parametrize(("seconds", "grade"), [(2.0, "fair"), (4.2, "poor")])
def test_a_level_that_lasted_for_the_least_part_of_a_stay_promises_nothing(seconds: float, grade: str) -> None:
    shown = [(2.0, 0.0), *ramp(0, 400, seconds), *moving(400.0, 1.1), *ramp(400, 0, 0.3), (2.0, 0.0)]
    (got,) = ends(feed(platform(), *shown))
    assert got.weight.kg == pytest.approx(400.0, abs=0.5)
    assert got.weight.grade == grade
