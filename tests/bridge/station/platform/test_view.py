"""The live view: what a person at the crush would say of the platform at this moment."""

import pytest

from neckyoke.bridge.station.platform.happenings import SettledAt
from neckyoke.bridge.station.settings import Memory
from neckyoke.protocols.readings import Condition, Mode, WeightReading
from tests.bridge.station.platform.test_platform_table import feed, feed_from, platform


def test_before_anything_came_nothing_is_known() -> None:
    seen = platform(Memory(zero_kg=3.0)).view
    assert (seen.state, seen.number, seen.on, seen.kg, seen.settled_kg, seen.grade) == ("empty", *[None] * 5)
    assert (seen.zero_kg, seen.moving, seen.overload, seen.last_t) == (3.0, None, False, None)
    assert platform().view.zero_kg is None


def test_a_bump_is_no_stay_yet() -> None:
    on = platform()
    feed(on, (2, 1.0), (0.4, 300.0))
    seen = on.view
    assert (seen.state, seen.number, seen.on, seen.kg) == ("arriving", None, None, 299.0)
    assert seen.zero_kg == 1.0
    assert seen.last_t == pytest.approx(2.3)


def test_an_animal_that_stands_has_a_number_its_beginning_and_once_settled_its_weight() -> None:
    on = platform(Memory(number=16))
    feed(on, (2, 1.0), (1.0, 301.0))
    standing = on.view
    assert (standing.number, standing.on, standing.kg) == (17, 2.0, 300.0)
    (told,) = (one for one in feed_from(on, 3.0, (4.0, 301.0), (0.1, 306.25)) if isinstance(one, SettledAt))
    settled = on.view
    assert (settled.state, settled.number, settled.on) == ("settled", 17, 2.0)
    assert (settled.kg, settled.settled_kg, settled.grade) == (305.25, told.weight.kg, told.weight.grade)
    assert settled.settled_kg == 300.0
    feed_from(on, 7.1, (2, 1.0))
    gone = on.view
    assert (gone.state, gone.number, gone.on, gone.settled_kg, gone.grade, gone.kg) == ("empty", *[None] * 4, 0.0)


@pytest.mark.parametrize(
    ("shown", "stood_kg"),
    [
        (((0.9, 300.0),), (300.0, 300.0)),
        (((0.3, 300.0), (0.3, 250.0), (0.3, 200.0)), (None, None)),  # it began, and stood still for half a second never
        (((0.5, 300.0), (0.3, 250.0), (0.3, 200.0)), (300.0, 300.0)),
        (((1.0, 200.0), (2.0, 300.0)), (200.0, 300.0)),
        (((1.0, 200.0), (2.0, 300.0), (0.3, 200.0)), (200.0, 300.0)),
        (((2.0, 300.0), *((0.1, 300.0 - 5.0 * n) for n in range(40))), (300.0, None)),  # it sinks for too long
    ],
)
def test_what_stood_still_for_a_moment_first_and_last_is_known_before_a_weight_is(
    shown: tuple[tuple[float, float], ...], stood_kg: tuple[float | None, float | None]
) -> None:
    on = platform(Memory(zero_kg=1.0))
    feed(on, (2, 1.0), *((s, kg + 1.0) for s, kg in shown))
    seen, ended = on.view, on.open
    assert ended is not None
    assert (ended.stood.first_kg, ended.stood.last_kg) == stood_kg
    assert seen.stood_kg == stood_kg[1]
    feed_from(on, 20.0, (2, 1.0))
    assert on.view.stood_kg is None


def test_a_settled_weight_is_shown_to_ten_grams() -> None:
    on = platform()
    feed(on, (2, 0.0), *[(0.1, 300.0 + n % 3 / 10) for n in range(50)])
    kg = on.view.settled_kg
    assert kg is not None
    assert kg == round(kg, 2)


@pytest.mark.parametrize(("stable", "moving"), [(True, False), (False, True), (None, None)])
def test_whether_it_moves_is_what_the_indicator_says(*, stable: bool | None, moving: bool | None) -> None:
    on = platform()
    on.weight(0.0, WeightReading(0.0, stable=stable))
    assert on.view.moving is moving


def test_too_much_is_shown_as_such_and_no_number_made_up() -> None:
    on = platform()
    feed(on, (2, 0.0))
    on.weight(2.0, WeightReading(None, condition=Condition.OVERLOAD))
    assert (on.view.overload, on.view.kg, on.view.last_t) == (True, None, 2.0)
    on.weight(2.1, WeightReading(0.0))
    assert not on.view.overload


def test_a_tare_is_no_weight_and_not_shown() -> None:
    on = platform()
    feed(on, (2, 0.0))
    on.weight(2.0, WeightReading(55.0, mode=Mode.TARE))
    assert on.view.kg == 0.0
    assert on.view.last_t == pytest.approx(1.9)


@pytest.mark.parametrize(("kg", "leaves"), [(300.0, False), (190.0, False), (170.0, True), (40.0, True)])
def test_most_feet_are_lifted_where_much_less_is_seen_than_stood_there(kg: float, *, leaves: bool) -> None:
    on = platform(Memory(zero_kg=1.0))
    feed(on, (2, 1.0), (2, 301.0), (0.3, kg + 1.0))
    assert on.open is not None
    assert (on.view.leaves, on.open.stood.leaves) == (leaves, leaves)
