"""The lag of a reader ahead, against scipy.stats.laplace, and the table in its page."""

import re
from math import exp, log

import pytest

from neckyoke.bridge.station.tags.readers import lag
from neckyoke.bridge.station.tags.readers.lag import KNOWN_PAIRS, LEAST_S, LONGEST_S, ODD, Lag, cycle_s


def learned(*lags_s: float) -> Lag:
    made = Lag({})
    for one in lags_s:
        made.learn(one)
    return made


def test_nothing_is_known_of_few_pairs_and_nothing_weighed_by_it() -> None:
    few = learned(*[2.0] * (KNOWN_PAIRS - 1))
    assert few.known is None
    assert few.points(2.0, 15.0) == 0.0
    assert few.kept == {}
    few.learn(2.0)
    assert few.known == (2.0, 0.4), "no walk is steadier than a reader is quick"


def test_one_pair_gone_wrong_moves_neither_the_median_nor_the_scale_much() -> None:
    steady = learned(1.0, 2.0, 3.0, 2.0, 1.0, 3.0, 2.0)
    assert steady.known == (2.0, 1.5)
    steady.learn(40.0)
    assert steady.known == (2.0, 1.5)


@pytest.mark.parametrize("off_s", [0.0, 0.7, -0.7, 3.0, 15.0])
@pytest.mark.parametrize("cycle", [8.0, 15.0, 30.0])
def test_points_are_the_laplace_density_over_that_of_any_moment(off_s: float, cycle: float) -> None:
    from scipy.stats import laplace

    steady = learned(1.0, 2.0, 3.0, 2.0, 1.0, 3.0, 2.0)
    expected = (1 - ODD) * laplace(2.0, 1.5).pdf(2.0 + off_s) + ODD / cycle
    assert exp(steady.points(2.0 + off_s, cycle)) == pytest.approx(expected * cycle)


def test_the_table_in_the_page_is_what_the_code_gives() -> None:
    lines = re.findall(r"^ +([\d.]+) s +([+-][\d.]+) +([+-][\d.]+) +([+-][\d.]+)$", lag.__doc__ or "", re.MULTILINE)
    assert len(lines) == 3
    for scale, *points in lines:
        known = Lag({"lag_s": 2.0, "lag_scale_s": float(scale)})
        assert [known.points(2.0 + off_s, 15.0) for off_s in (0, 2, 15)] == pytest.approx(
            [float(one) for one in points], abs=0.06
        )


def test_animals_that_wait_on_the_way_have_no_steady_lag() -> None:
    assert learned(*[LONGEST_S] * 9).known == (LONGEST_S, LEAST_S)
    assert learned(*[LONGEST_S + 0.1] * 9).known is None


def test_what_one_run_kept_the_next_one_knows() -> None:
    before = learned(1.0, 2.0, 3.0, 2.0, 1.0, 3.0, 2.0)
    after = Lag(before.kept)
    assert after.known == pytest.approx(before.known)
    assert after.kept == before.kept == {"lag_s": 2.0, "lag_scale_s": 1.5}


def test_a_steady_lag_speaks_for_its_own_and_a_wide_one_says_nothing() -> None:
    assert Lag({"lag_s": 2.0, "lag_scale_s": 0.4}).points(2.0, 15.0) > 2.5
    assert Lag({"lag_s": 2.0, "lag_scale_s": 0.4}).points(17.0, 15.0) == pytest.approx(log(ODD), abs=0.01)
    assert abs(Lag({"lag_s": 8.0, "lag_scale_s": 8.0}).points(8.0, 15.0)) < 0.2


def test_the_cycle_is_the_median_step_and_assumed_while_two_have_not_been_seen() -> None:
    assert cycle_s([0.0, 10.0, 22.0, 100.0]) == 12.0
    assert cycle_s([0.0, 10.0]) == lag.CYCLE_S
    assert cycle_s([]) == lag.CYCLE_S


@pytest.mark.parametrize(
    ("lag_s", "cycle", "usual"),
    [
        (2.0, 12.0, True),
        (6.5, 12.0, True),
        (-2.5, 12.0, True),
        (6.6, 12.0, False),
        (-2.6, 12.0, False),
        (2.0, 11.9, False),
    ],
)
def test_a_lag_is_usual_where_it_is_steady_within_the_cycle_and_near_the_median(
    lag_s: float, cycle: float, *, usual: bool
) -> None:
    known = Lag({"lag_s": 2.0, "lag_scale_s": 1.5})
    assert known.is_usual(lag_s, cycle) is usual
    assert known.is_odd(lag_s, cycle) is (cycle >= 12.0 and not usual), "nothing is odd where nothing is steady"
    assert not Lag({}).is_usual(lag_s, cycle)
    assert not Lag({}).is_odd(lag_s, cycle)


def test_what_is_kept_is_kept_to_hundredths_and_half_of_it_is_nothing() -> None:
    steady = learned(*[1.2345, 2.3456, 3.4567] * 3)
    assert steady.kept == {"lag_s": 2.35, "lag_scale_s": 1.67}
    assert Lag({"lag_s": 2.0}).known is None
    assert Lag({"lag_scale_s": 2.0}).known is None
