"""The chance that a tag is wrong: the regression against scipy.special.expit, its features one by one, what is said.

How well it is calibrated is measured on drawn yards by tests/bench/pairing.py --drawn.
"""

from math import exp, log, log1p
from unittest.mock import Mock

import pytest

from neckyoke.bridge.station.tags import doubt
from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.doubt import (
    HAND,
    HAND_BIAS,
    LOOSE,
    ONCE,
    ONCE_BIAS,
    ORDER,
    PANEL,
    PANEL_BIAS,
    PLACED,
    STEADY,
    STRAY,
    wrong_percent,
)
from neckyoke.bridge.station.tags.readers.closer import Around
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.bridge.station.tags.verdict import sure_percent
from neckyoke.protocols.tagcode import TagCode

SPANS = [Span(1, 0.0, 10.0), Span(2, 14.0, 24.0), Span(3, 28.0, 38.0)]
MODELS = {"panel": ReaderModel(kept={"share": 0.5}), "stick": ReaderModel(), "race": ReaderModel()}
AT = {"panel": "platform", "stick": "hand", "race": "ahead"}


def one(tag: int, *heard: tuple[float, str]) -> Pass:
    return Pass(TagCode(999, tag), [Detection(t, link, AT[link]) for t, link in heard])  # type: ignore[arg-type]


def panel(*times: float) -> list[tuple[float, str]]:
    return [(t, "panel") for t in times]


def wrong(
    mine: Pass,
    *others: Pass,
    margin: float = 5.0,
    taker: int | None = None,
    score: Score | None = None,
    given: dict[int, int | None] | None = None,
) -> float:
    got = Assigned(0, margin, None, taker)
    return wrong_percent(1, SPANS, [mine, *others], got, score, MODELS, Around(given or {}), steady=False)


def told(features: dict[str, float]) -> float:
    from scipy.special import expit

    every = CLOSER | features
    return float(100 * expit(PANEL_BIAS + sum(PANEL[name] * value for name, value in every.items())))


CLOSER = {"closer": -2.0}
"""What the tests take a closer look to say: the logarithm of the odds against."""


@pytest.fixture(autouse=True)
def looked_closer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every closer look say the same."""
    from scipy.special import expit

    monkeypatch.setattr(doubt, "look", lambda *_: float(1 - expit(CLOSER["closer"])))


WELL = panel(14.5, 15.5, 16.5, 17.5, 18.5)
THROUGH = panel(14.5, 16.5, 18.5, 20.5, 22.5)
NEW = {"margin": 5.0, "new": 1.0}
ALONE = NEW | {"thin": 1.0}
RACE = {"closer_race": -2.0}


@pytest.mark.parametrize(
    ("heard", "others", "expected"),
    [
        (WELL, [], NEW),
        ([(10.5, "panel"), *WELL], [], NEW | {"new": 0.0}),
        ([(9.0, "panel"), *WELL], [], NEW | {"new": 0.0, "before": 1.0}),
        ([*WELL, (29.0, "panel")], [], NEW),  # of the next stay the closer look tells
        (panel(19.0, 20.0, 21.0, 22.0), [], NEW),
        (panel(19.0, 20.0, 21.0), [], NEW),
        (panel(19.0), [], ALONE),
        (panel(9.0), [], {"margin": 5.0, "before": 1.0}),
        (WELL, [one(2, (20.0, "panel")), one(3, (30.0, "panel"))], NEW),
        (WELL, [one(1, (70.0, "panel"))], NEW | {"elsewhere": 1.0}),
        (THROUGH, [one(1, (70.0, "panel"))], NEW | {"elsewhere": 1.0}),  # there it stood in no stay
        (THROUGH, [one(1, *panel(28.5, 37.5))], NEW),  # it went round again
        ([(5.0, "race"), *WELL], [], NEW | RACE),
        (WELL, [one(2, (5.0, "race"))], NEW | RACE | {"only_near": 1.0}),
    ],
)
def test_each_feature_counts_with_its_weight(
    heard: list[tuple[float, str]], others: list[Pass], expected: dict[str, float]
) -> None:
    assert wrong(one(1, *heard), *others) == pytest.approx(told(expected))


@pytest.mark.parametrize(("chance", "least"), [(0.9, 1.2), (0.73, 3.24), (0.99999, 0.0)])
def test_no_margin_makes_it_surer_than_a_share_of_what_the_closer_look_says(
    monkeypatch: pytest.MonkeyPatch, chance: float, least: float
) -> None:
    """Drawn yards: the look said 27 in a hundred, and the order ahead gave it a margin of twelve points."""
    monkeypatch.setattr(doubt, "look", lambda *_: chance)
    said = wrong(one(1, (5.0, "race"), *WELL), margin=11.9)
    assert said == pytest.approx(least) if least else 0.0 < said < 0.1


def test_one_heard_once_and_never_by_the_reader_ahead_may_be_in_the_next_pen() -> None:
    race, margin = one(2, (5.0, "race")), 14.0
    assert wrong(one(1, *panel(15.0)), race, margin=margin) == STRAY == 2.5
    assert wrong(one(1, *panel(15.0)), margin=margin) < 0.5, "no reader stands ahead"
    assert wrong(one(1, *panel(15.0, 16.0)), race, margin=margin) < 0.5
    assert wrong(one(1, (5.0, "race"), *panel(15.0)), race, margin=margin) < 0.5
    assert wrong(one(1, *panel(15.0)), race, margin=-9.0) > STRAY, "it is no surer for it"


def test_a_reader_that_says_each_tag_once_makes_a_late_read_doubtful_and_one_beside_the_stay() -> None:
    MODELS["panel"].share = 0.1
    late, soon, beside = wrong(one(1, *panel(21.5))), wrong(one(1, *panel(14.1))), wrong(one(1, *panel(12.0)))
    MODELS["panel"].share = 0.5
    once = {"margin": 5.0}
    assert late == pytest.approx(told(once | {"late_once": 0.75, "new": 1.0}))
    assert late > 2 * soon
    assert beside == pytest.approx(told(once))


def test_the_margin_counts_to_fourteen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doubt, "look", lambda *_: 0.999)
    looked = {"closer": log(0.001 / 0.999)}
    assert wrong(one(1, *WELL), margin=7.9) == pytest.approx(told({**NEW, **looked, "margin": 7.9}))
    assert wrong(one(1, *WELL), margin=14.0) == wrong(one(1, *WELL), margin=99.0) < wrong(one(1, *WELL), margin=13.9)


def test_a_closer_look_is_taken_where_the_margin_is_not_great(monkeypatch: pytest.MonkeyPatch) -> None:
    """More than a chance of one in a hundred thousand is never left."""
    looked = Mock(return_value=0.0)
    monkeypatch.setattr(doubt, "look", looked)
    few, many, race = one(1, *WELL[:3]), one(1, *WELL), one(2, (5.0, "race"))
    for margin, expected in ((7.9, 3), (8.0, 2), (11.9, 2), (12.0, 0)):
        looked.reset_mock()
        wrong(few, margin=margin)
        wrong(many, margin=margin)
        wrong(many, race, margin=margin)
        assert looked.call_count == expected
    unseen = wrong(many, margin=8.0)
    assert unseen == pytest.approx(told({**NEW, "margin": 8.0, "closer": log(1e-5 / (1 - 1e-5))}))


def test_another_stay_that_would_take_it_and_an_order_that_was_unsure_count() -> None:
    plain = wrong(one(1, (5.0, "race"), *WELL), score=Score(order_margin=(4.0, None)))
    assert wrong(one(1, (5.0, "race"), *WELL), score=Score(order_margin=(9.0, None))) == plain
    unsure = wrong(one(1, (5.0, "race"), *WELL), score=Score(order_margin=(1.0, None)))
    assert unsure == pytest.approx(told({**NEW, **RACE, "unordered": 1.0}))
    assert wrong(one(1, *WELL), score=Score(order_margin=(1.0, None))) == pytest.approx(told(NEW)), "no order told"
    assert wrong(one(1, *WELL), taker=0) == pytest.approx(told({**NEW, "taker": 1.0}))
    assert wrong(one(1, *WELL), taker=2) == pytest.approx(told({**NEW, "taker": 1.0}))


def test_what_the_other_stays_got_counts() -> None:
    other = one(2, (20.0, "panel"))
    assert wrong(one(1, *WELL), other, given={2: 1}) == pytest.approx(told(NEW)), "the next stay has the other tag"
    assert wrong(one(1, *WELL), given={1: 0, 2: None}) == pytest.approx(told(NEW)), "said often, it may have none"


@pytest.mark.parametrize("chance", [0.2, 0.9, 0.99])
@pytest.mark.parametrize(
    ("mine", "given", "features"),
    [
        (panel(15.0), None, {"new": 1.0, "soon": log1p(1.0 / 4.0)}),
        (panel(5.0), None, {"before": 1.0}),
        (panel(19.0), {1: 0, 2: None}, {"new": 1.0, "soon": log1p(5.0 / 4.0), "late_next": 0.5}),
    ],
)
def test_said_once_the_chance_of_all_orders_tells_with_what_stood_beside(
    mine: list[tuple[float, str]], given: dict[int, int | None] | None, features: dict[str, float], chance: float
) -> None:
    from scipy.special import expit, logit

    told = sum(ONCE[name] * value for name, value in features.items())
    told += ONCE["closer"] * CLOSER["closer"]
    said = expit(ONCE_BIAS + ONCE["unlikely"] * logit(1 - chance) + ONCE["neighbours"] * 0.15 + told)
    for margin in (1.0, 9.0):
        found = wrong(one(1, *mine), score=Score(chance=chance), given=given, margin=margin)
        assert found == pytest.approx(100 * float(said))


@pytest.mark.parametrize(
    ("mine", "given", "power"),
    [
        (panel(5.0), None, -1.69),  # heard while the one before stood
        (panel(15.0), None, 0.92 * log1p(0.25) - 1.76),  # first heard here, one second on
        (panel(19.0), {1: 0, 2: None}, 0.92 * log1p(1.25) - 1.76 + 2.68 / 2),  # half way on, and the next has none
    ],
)
def test_said_once_the_figures_are_those_that_were_fitted(
    mine: list[tuple[float, str]], given: dict[int, int | None] | None, power: float
) -> None:
    odds_against = (0.1 / 0.9) ** 0.44 * exp(-0.33 + 7.3 * 0.15 - 2.0 * 0.36 + power)
    found = wrong(one(1, *mine), score=Score(chance=0.9), given=given)
    assert found == pytest.approx(100 * odds_against / (1 + odds_against))


@pytest.mark.parametrize(("chance", "percent"), [(0.0, 100.0), (0.5, 50.0), (0.99, 1.0), (0.998, 0.2), (1.0, 0.1)])
def test_read_by_hand_alone_the_chance_of_all_orders_tells(chance: float, percent: float) -> None:
    mine = one(1, (16.0, "stick"))
    assert wrong(mine, score=Score(chance=chance)) == pytest.approx(percent)
    past = one(1, (16.0, "stick"), (5.0, "race"))
    assert wrong(past, score=Score(chance=chance)) == pytest.approx(percent)


@pytest.mark.parametrize("given", [{0: None, 1: 0}, {0: 3, 1: 0, 2: 4}, {1: 0}])
def test_what_is_read_by_hand_alone_is_as_sure_as_of_all_ways_but_never_quite(given: dict[int, int | None]) -> None:
    mine = one(1, (16.0, "stick"))
    others = [one(tag, (90.0 + tag, "stick")) for tag in range(2, 6)]
    said = [wrong(mine, *others, score=Score(chance=chance), given=given) for chance in (0.99999, 0.9995, 0.998, 0.9)]
    assert said == pytest.approx([0.1, 0.1, 0.2, 10.0])


@pytest.mark.parametrize(("t", "away"), [(15.0, 0.0), (13.0, 1.0), (24.5, 1.0)])
def test_a_read_by_hand_is_doubted_by_its_margin_and_more_outside_the_stay(t: float, away: float) -> None:
    from scipy.special import expit

    said = 100 * expit(HAND_BIAS + 7.0 * HAND["margin"] + 1.0 * HAND["beyond"] + away * HAND["away"])
    assert wrong(one(1, (t, "stick")), margin=7.0) == pytest.approx(said)


def test_order_alone_is_doubted_more_where_another_is_nearly_as_likely_and_not_a_steady_lag() -> None:
    mine, got = one(1, (5.0, "race")), Assigned(0, 99.0, None)
    assert wrong(mine, margin=99.0) == wrong(mine, margin=2.5) == ORDER == 1.6
    assert wrong(mine, margin=2.4) == LOOSE == 35.0
    assert wrong_percent(1, SPANS, [mine], got, None, MODELS, steady=True) == STEADY


@pytest.mark.parametrize(
    ("given", "placed"),
    [
        ({0: 1, 1: 0, 2: 2}, True),
        ({0: 1, 1: 0}, False),  # the next has not been yet
        ({0: 1, 1: 0, 2: None}, False),
        ({0: None, 1: 0, 2: 2}, False),
        ({0: 1, 1: 0, 2: 3}, False),  # by order alone too: the two may have changed places
        ({0: 4, 1: 0, 2: 2}, False),  # a person reads whom they like
        ({0: 5, 1: 0, 2: 2}, True),
        ({0: 6, 1: 0, 2: 2}, False),  # heard here as well: this may be its own
        ({0: 1, 1: 0, 2: 7}, False),
        ({0: 8, 1: 0, 2: 2}, True),  # heard here as well, but more in its own
    ],
)
def test_who_came_between_two_that_the_platform_heard_changed_places_with_nobody(
    given: dict[int, int | None], *, placed: bool
) -> None:
    others = [
        one(2, *panel(5.0)),
        one(3, *panel(33.0)),
        one(4, (12.0, "race")),
        one(5, (5.0, "stick")),
        one(6, (1.0, "race"), *panel(5.0)),
        one(7, *panel(5.0, 15.0)),
        one(8, *panel(20.0, 33.0)),
        one(9, *panel(3.0, 5.0, 15.0)),
    ]
    mine = one(1, (5.0, "race"))
    assert wrong(mine, *others, margin=2.5, given=given) == (PLACED if placed else ORDER)
    assert wrong(mine, *others, margin=2.4, given=given) == LOOSE


def test_every_weight_is_of_a_feature_that_is_made() -> None:
    made = doubt.heard_features(1, SPANS, [one(1, *WELL)], Assigned(0, 5.0, None), None, MODELS)
    assert set(PANEL) | set(ONCE) == set(made)


@pytest.mark.parametrize(
    ("chance", "sure"), [(0.0, 99.9), (0.05, 99.9), (0.11, 99.8), (1.0, 99.0), (33.33, 66.6), (100.0, 0.0)]
)
def test_what_is_said_is_rounded_down_and_never_all_of_it(chance: float, sure: float) -> None:
    assert sure_percent(chance) == sure
