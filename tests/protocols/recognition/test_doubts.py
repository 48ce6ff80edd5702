"""What readings say against the layout that gave them, at its limits."""

from itertools import accumulate

import pytest

from neckyoke.protocols.readings import Condition, Mode, WeightReading
from neckyoke.protocols.recognition.doubts import Doubt, falls_deep, find_doubts, least_sure, roughness
from neckyoke.protocols.recognition.finding import Sure


def of(*some: tuple[int, float]) -> list[WeightReading]:
    """Make so many readings of each weight."""
    return [WeightReading(kg) for times, kg in some for _ in range(times)]


@pytest.mark.parametrize(
    ("readings", "deep"),
    [
        (of((6, -90.0), (94, 400.0)), True),  # more than a twentieth, and more than a fifth of the heaviest
        (of((5, -90.0), (95, 400.0)), False),  # a twentieth may be damage
        (of((6, -80.0), (94, 400.0)), False),
        (of((6, -90.0), (89, 400.0), (5, 900.0)), True),  # so may one at the other end
        (of((6, -90.0), (88, 400.0), (6, 900.0)), False),
        (of((2, -90.0), (36, 400.0)), True),
        (of((2, -90.0), (34, 400.0), (2, 500.0)), False),
        (of((20, -90.0), (20, 0.0)), True),  # an untared platform shows as little, and then a weight
        ([WeightReading(None)] * 9, False),
        ([], False),
    ],
)
def test_many_weights_far_below_nought_are_noticed(readings: list[WeightReading], *, deep: bool) -> None:
    assert falls_deep(readings) is deep
    assert falls_deep(readings[::-1]) is deep


def test_a_weight_is_as_rough_as_its_usual_step_is_of_its_range() -> None:
    assert roughness(of((3, 0.0), (1, 10.0), (4, 20.0), (1, 30.0))) == pytest.approx(10 / 30)
    assert roughness(of((9, 400.0))) == 0.0
    swaying = of((1, 0.0), *[(1, 10.0), (1, 11.0)] * 9)
    assert roughness(swaying) == pytest.approx(1 / 11)
    assert roughness([*swaying, *of((1, 10.0))]) == 1.0  # of twenty the outermost does not count
    assert roughness([]) == 0.0


@pytest.mark.parametrize(
    ("calm", "restless", "step", "doubted"),
    [(5, 5, 1.0, True), (4, 5, 1.0, False), (5, 4, 1.0, False), (5, 5, 2.0, False)],
)
def test_frames_called_stable_that_change_more_are_noticed_from_five_of_each_kind(
    calm: int, restless: int, step: float, *, doubted: bool
) -> None:
    steps = [(True, 2.0)] * calm + [(False, step)] * restless
    weights = accumulate((one for _, one in steps), initial=100.0)
    stable = [True, *(stable for stable, _ in steps)]
    doubts = find_doubts([WeightReading(kg, f"{kg:.1f}", stable=so) for kg, so in zip(weights, stable, strict=True)])
    assert any("stable change more" in doubt.text for doubt in doubts) is doubted


def shown(*texts: str, stable: bool | None = None, mode: Mode | None = None) -> list[WeightReading]:
    """Make a reading of each text, as a device shows it."""
    return [WeightReading(float(text.replace(",", ".")), text, stable=stable, mode=mode) for text in texts]


def climbing(count: int, step: float = 1.0, begin: float = 100.0) -> list[str]:
    """Show a weight that goes up by one step from frame to frame."""
    return [f"{begin + at * step:.1f}" for at in range(count)]


STILL = "The weight hardly changed"
POINT = "No decimal point is sent"
ORDER = "its digits may stand in another order"
ALWAYS = "Every frame is called stable although the weight changed"
CALM = "Frames called stable change more"
MINUS = "No weight is above nought"
TURNS = "Gross and net weights come in turn"


def said(readings: list[WeightReading]) -> list[str]:
    """Return what is doubted, each by its telling words."""
    doubts = [doubt.text for doubt in find_doubts(readings)]
    return [words for words in (STILL, POINT, ORDER, ALWAYS, CALM, MINUS, TURNS) if any(words in one for one in doubts)]


@pytest.mark.parametrize(
    ("readings", "doubted"),
    [
        (shown(*climbing(30)), []),
        (shown(), [STILL, POINT]),
        (shown("400.0", "400.5"), [STILL]),  # two values are no change
        (shown("400.0", "400.5", "401.0"), []),
        (shown(*["400.0"] * 27, "400.5", "401.0", "400.5"), []),  # nine tenths alike
        (shown(*["400.0"] * 28, "400.5", "401.0"), [STILL]),
        (shown(*(f"{at}" for at in range(100, 130))), [POINT]),
        (shown(*(f"{at}" for at in range(100, 129)), "129.0"), []),
        (shown(*(f"{at},5" for at in range(100, 130))), []),
        (shown(*climbing(21)[:10], *["109.0"] * 20, stable=True), []),  # nine steps are not many
        (shown(*climbing(22)[:11], *["110.0"] * 20, stable=True), [ALWAYS]),
        (shown(*climbing(11), *["110.0"] * 29, stable=True), [ALWAYS]),  # ten of 39 steps: more than a quarter
        (shown(*climbing(11), *["110.0"] * 31, stable=True), []),
        ([*shown(*climbing(96), stable=True), *shown(*climbing(4, begin=196.0))], [ALWAYS]),
        ([*shown(*climbing(95), stable=True), *shown(*climbing(5, begin=195.0))], []),  # a twentieth not
        (shown(*["0.0"] * 30, *climbing(9), stable=True), []),  # standing at nought is none
        (shown(*climbing(30), stable=False), []),
        (shown(*climbing(30, -1.0, -100.0)), [MINUS]),
        (shown(*climbing(30, -1.0, 0.0)), [MINUS]),  # nought is no weight
        (shown(*climbing(30, -1.0, 1.0)), []),  # one that is
        (shown(*climbing(30, -0.1, -0.1)), [MINUS]),
        (shown(*climbing(11, -1.0, 0.0)), [MINUS]),
        (shown(*climbing(10, -1.0, 0.0)), []),  # nine below it are not many
        ([*shown(*climbing(29), mode=Mode.GROSS), *shown("128.0", mode=Mode.NET)], [TURNS]),
        (shown(*climbing(30), mode=Mode.NET), []),
        ([*shown(*climbing(15), mode=Mode.GROSS), *shown(*climbing(15))], []),
        (shown(*["100.0", "400.0", "250.0"] * 5), [ORDER]),  # half of the range from frame to frame
        (shown(*["100.0", "400.0", "250.0"] * 3, "250.0"), []),  # nine steps are not many
        (shown(*["100.0", "400.0", "250.0"] * 3, "250.0", "100.0", "400.0"), [ORDER]),
        (shown(*(f"{kg}.0" for kg in (100, 130, 160, 190, 200, 170, 140, 110) * 5)), []),  # three tenths of it
        (shown(*(f"{kg}.0" for kg in (100, 131, 162, 193, 200, 169, 138, 107) * 5)), [ORDER]),
        (shown(*(f"{at}.0"[::-1] for at in range(100, 140))), [ORDER]),  # ten times smoother turned round
        (shown(*(f"-{f'{at}.0'[::-1]}" for at in range(100, 140))), [ORDER, MINUS]),  # with a sign before
    ],
)
def test_what_speaks_against_a_layout_is_said(readings: list[WeightReading], doubted: list[str]) -> None:
    assert said(readings) == doubted


def test_only_numbers_in_good_order_are_looked_at() -> None:
    good = shown(*climbing(30))
    over = [WeightReading(None, condition=Condition.OVERLOAD), WeightReading(9999.0, "9999", condition=Condition.ERROR)]
    assert said([*over, *good, *over]) == said(good) == []
    assert said(over * 20) == [STILL, POINT]


@pytest.mark.parametrize(("other", "turned"), [(2, True), (3, False)])
def test_digits_are_turned_round_where_nine_in_ten_numbers_are_equally_long(other: int, *, turned: bool) -> None:
    backwards = [f"{at}.0"[::-1] for at in range(100, 118)]
    assert (said(shown(*backwards[: 20 - other], *["0.10"] * other)) == [ORDER]) is turned


@pytest.mark.parametrize(("count", "doubted"), [(20, []), (40, [ORDER])])
def test_digits_must_be_more_than_twice_as_smooth_turned_round(count: int, doubted: list[str]) -> None:
    """Weights from 100 kg up by ones, sent backwards: 001, 101, … 901, 011.

    Without the outermost twentieth, 20 of them step by 100 of 890 as they come and by 1 of 17 turned round (0.112 and
    0.059), 40 of them by 100 of 890 and by 1 of 35 (0.029).
    """
    assert said(shown(*(f"{at}"[::-1] + ".0" for at in range(100, 100 + count)))) == doubted


def test_the_least_sure_doubt_counts() -> None:
    likely, unsure = Doubt("a"), Doubt("b", Sure.UNSURE)
    assert [least_sure(some) for some in ((), (likely,), (likely, unsure, likely), (unsure,))] == [
        Sure.SURE,
        Sure.LIKELY,
        Sure.UNSURE,
        Sure.UNSURE,
    ]
