"""Pens: half-open bands, first match, gaps, and pens that nobody reaches."""

from itertools import product
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.job.pens.drafting import Band, Rule, gaps, never_reached, pen_for

THREE = (Rule("heavy", Band(340)), Rule("light", Band(high=300)), Rule("middle"))


@pytest.mark.parametrize(
    ("kg", "pen"), [(299.9, "light"), (300, "middle"), (339.9, "middle"), (340, "heavy"), (2000, "heavy")]
)
def test_an_animal_on_the_line_goes_up(kg: float, pen: str) -> None:
    """Half-open bands, equal goes up: common practice, no source."""
    assert pen_for(THREE, kg, None, {}) == pen


def test_an_animal_heavier_than_any_band_has_no_pen() -> None:
    assert pen_for((Rule("light", Band(high=300)),), 301, None, {}) is None


def test_details_and_columns_decide_whatever_their_case() -> None:
    rules = (Rule("heifers", match={"sex": ("heifer", "cow")}), Rule("rest"))
    assert pen_for(rules, 300, None, {"sex": " Heifer "}) == "heifers"
    assert pen_for(rules, 300, None, {"sex": "steer"}) == "rest"
    assert pen_for(rules, 300, None, {}) == "rest"


def test_an_unknown_gain_is_in_no_band() -> None:
    rules = (Rule("slow", gain=Band(high=0.5)), Rule("rest"))
    assert pen_for(rules, 300, 0.4, {}) == "slow"
    assert pen_for(rules, 300, 0.5, {}) == "rest"
    assert pen_for(rules, 300, None, {}) == "rest"


@pytest.mark.parametrize(
    "rules",
    [
        (Rule("heavy", Band(340)), Rule("slow", gain=Band(high=0)), Rule("rest")),
        (Rule("a", Band(high=300)), Rule("b", Band(high=340)), Rule("c")),
        (Rule("a", Band(300, 340)), Rule("b", Band(330, 400)), Rule("c", Band(340))),
        (Rule("heifers", Band(300), match={"sex": ("heifer",)}), *THREE),
        (Rule("slow", gain=Band(high=0.5)), Rule("fast", gain=Band(0.5)), Rule("unknown")),
        (Rule("sale", heads=20), Rule("rest")),
        (Rule("red", match={"colour": ("red",)}), Rule("any", match={"colour": ("red", "roan")}), Rule("rest")),
    ],
)
def test_bands_may_overlap_since_the_first_match_wins(rules: tuple[Rule, ...]) -> None:
    assert list(never_reached(rules)) == []


@pytest.mark.parametrize(
    ("rules", "unreached"),
    [
        ((Rule("all"), Rule("b", Band(300))), [1]),
        ((Rule("a", Band(high=300)), Rule("b", Band(300)), Rule("c", Band(250, 350))), [2]),
        ((Rule("a", Band(high=340)), Rule("b", Band(high=300))), [1]),
        ((Rule("slow", gain=Band(high=0.5)), Rule("fast", gain=Band(0.5)), Rule("rest"), Rule("x")), [3]),
        ((Rule("slow", gain=Band(high=0.5)), Rule("fast", gain=Band(0.5)), Rule("x", gain=Band(0.4, 0.6))), [2]),
        ((Rule("any", match={"colour": ("red", "roan")}), Rule("red", match={"colour": ("red",)})), [1]),
        ((Rule("rest"), Rule("heifers", match={"sex": ("heifer",)})), [1]),
    ],
)
def test_a_pen_that_no_animal_reaches_is_found(rules: tuple[Rule, ...], unreached: list[int]) -> None:
    assert [at for at, _ in never_reached(rules)] == unreached


BANDS = st.one_of(
    st.tuples(st.integers(-2, 3), st.integers(1, 4)).map(lambda pair: Band(pair[0], pair[0] + pair[1])),
    st.integers(-2, 3).map(Band),
    st.integers(-2, 3).map(lambda high: Band(high=high)),
)
RULES = st.lists(
    st.builds(
        Rule,
        pen=st.just("p"),
        kg=st.one_of(st.just(Band()), BANDS),
        gain=st.one_of(st.just(Band()), BANDS),
        match=st.sampled_from([{}, {"sex": ("a",)}, {"sex": ("a", "b")}]),
    ),
    max_size=5,
)


@settings(deadline=None)
@given(RULES)
def test_what_is_never_reached_is_what_no_animal_of_a_whole_herd_reaches(rules: list[Rule]) -> None:
    """The model sends every animal of a grid of weights, gains and sexes through the pens; c is a sex nobody asks for.

    Where only animals of one sex at a time are stopped, no rule is said to be unreached though none may reach it: the
    check looks at each rule before it alone for details.  So it is never wrong where it speaks.
    """
    reached = set()
    for kg, gain, sex in product(range(-4, 9), (None, *range(-4, 9)), ("a", "b", "c")):
        taken = next((at for at, rule in enumerate(rules) if rule.takes(kg, gain, {"sex": sex})), None)
        reached.add(taken)
    said = {at for at, _ in never_reached(rules)}
    assert not said & reached
    if all(not rule.match for rule in rules):
        assert said == set(range(len(rules))) - reached


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        (THREE, []),
        ((), []),
        ((Rule("a", Band(340)), Rule("b", Band(high=300))), ["animals from 300 to 340 kg"]),
        ((Rule("a", Band(200, 340)),), ["animals below 200 kg", "animals from 340 kg up"]),
        ((Rule("a", Band(0, inf)),), []),
        ((Rule("a", Band(0, 1)),), ["animals from 1 kg up"]),
        ((Rule("a", Band(1)),), ["animals below 1 kg"]),
        ((Rule("a", match={"sex": ("heifer",)}),), ["every weight"]),
    ],
)
def test_gaps_are_spelled(rules: tuple[Rule, ...], said: list[str]) -> None:
    assert gaps(rules) == said
