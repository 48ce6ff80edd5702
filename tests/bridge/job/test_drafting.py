"""Pens: half-open bands, first match, gaps and overlaps."""

from math import inf

import pytest

from neckyoke.bridge.job.drafting import Band, Rule, gaps, overlaps, pen_for

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


def test_overlapping_bands_are_found() -> None:
    found = list(overlaps((Rule("a", Band(300, 340)), Rule("b", Band(330, 400)), Rule("c", Band(340)))))
    assert [(i, j) for i, j, _ in found] == [(0, 1), (1, 2)]
    assert found[0][2] == "pens 'a' and 'b' both take animals from 330 to 340 kg"


def test_a_pen_after_the_rest_is_never_reached() -> None:
    found = list(overlaps((Rule("all"), Rule("b", Band(300)))))
    assert found == [(0, 1, "pen 'all' takes every animal, so none ever reaches pen 'b'")]


def test_rules_that_ask_for_different_things_may_meet() -> None:
    heifers = Rule("heifers", Band(300), match={"sex": ("heifer",)})
    assert not list(overlaps((heifers, *THREE)))
    assert not list(overlaps((Rule("slow", Band(300), Band(high=0.5)), Rule("fast", Band(300), Band(0.5)))))


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        (THREE, []),
        ((), []),
        ((Rule("a", Band(340)), Rule("b", Band(high=300))), ["animals from 300 to 340 kg"]),
        ((Rule("a", Band(200, 340)),), ["animals below 200 kg", "animals from 340 kg up"]),
        ((Rule("a", Band(0, inf)),), []),
        ((Rule("a", match={"sex": ("heifer",)}),), ["every weight"]),
    ],
)
def test_gaps_are_spelled(rules: tuple[Rule, ...], said: list[str]) -> None:
    assert gaps(rules) == said
