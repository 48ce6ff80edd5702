"""Dates move with the time that they hang on, whatever the period, the hour and the zone."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.clock import corrected
from neckyoke.bridge.events import Clock, DoseSaid, Finding, Gain, Treatment, Weighing
from neckyoke.bridge.job.doses.withholding import UNKNOWN, clear_from, first_clear_date, period_of
from neckyoke.bridge.job.redated import redated
from tests.support.events import weighing

BOOT = datetime(1970, 1, 1, tzinfo=UTC)
UP_S = 86_400.0
ZONES = st.sampled_from([ZoneInfo(name) for name in ("UTC", "Europe/London", "Pacific/Auckland", "America/Denver")])
MOMENTS = st.integers(31_536_000, 2_208_988_800).map(lambda s: datetime.fromtimestamp(s, UTC))  # 1971 to 2040


def at(moment: datetime, **known: object) -> Weighing:
    times = {"on": moment, "settled": moment, "off": moment, "clock": Clock.UNSYNCHRONISED}
    return weighing(1).model_copy(update={**times, **known})


@given(MOMENTS, MOMENTS, st.integers(0, 400), ZONES)
def test_a_clear_date_is_that_of_a_dose_at_the_right_time(
    was: datetime, now: datetime, days: int, zone: ZoneInfo
) -> None:
    """Against the rule for a dose that was given at the right time in the first place; never a day early."""
    treatments = (Treatment(name="drench", withheld_until=clear_from(was.astimezone(zone), days), export_from=UNKNOWN),)
    one = corrected(at(was, treatments=treatments), (now - was).total_seconds(), BOOT, UP_S)
    (after,) = redated(one, zone).treatments
    assert after.export_from == UNKNOWN
    right = clear_from(now.astimezone(zone), days)
    if right is None or after.withheld_until is None:
        assert after.withheld_until == right
    else:
        late = date.fromisoformat(after.withheld_until) - date.fromisoformat(right)
        assert timedelta(0) <= late <= timedelta(days=1), "a day more where clocks were put in between"
        if zone.key == "UTC":
            assert not late


@given(MOMENTS, st.integers(1, 400), ZONES)
def test_a_period_is_found_again_from_its_date(dosed: datetime, days: int, zone: ZoneInfo) -> None:
    local = dosed.astimezone(zone)
    assert period_of(local, first_clear_date(local, days)) >= days
    if zone.key == "UTC":
        assert period_of(local, first_clear_date(local, days)) == days


def test_a_box_that_began_in_1970_says_the_right_dates_afterwards() -> None:
    wrong, right = datetime(1970, 1, 1, 0, 5, tzinfo=UTC), datetime(2026, 11, 24, 9, 0, tzinfo=UTC)
    word = datetime(1970, 1, 1, 0, 6, tzinfo=UTC)
    known = {
        "treatments": (
            Treatment(name="drench", withheld_until="1970-01-30"),
            Treatment(name="vaccine", skipped=True, given_before=datetime(2026, 11, 20, 9, tzinfo=UTC)),
        ),
        "gain": Gain(kg=30.0, days=-20716, since="2026-09-20"),
        "findings": (Finding(name="eye", value=True, by="person", at=word),),
        "doses_said": (DoseSaid(name="drench", given=True, at=word),),
    }
    after = redated(corrected(at(wrong, **known), (right - wrong).total_seconds(), wrong, UP_S), UTC)
    assert after.treatments[0].withheld_until == "2026-12-23"  # 28 days and the rest of the day; by hand
    assert after.treatments[1].given_before == datetime(2026, 11, 20, 9, tzinfo=UTC), "by a clock that was right"
    assert after.gain is not None
    assert (after.gain.since, after.gain.days, after.gain.kg) == ("2026-09-20", 65, 30.0)
    assert after.findings[0].at == after.doses_said[0].at == right + timedelta(minutes=1)


def test_an_earlier_weight_of_the_same_wrong_clock_moves_too() -> None:
    wrong, right = datetime(1970, 2, 1, 12, tzinfo=UTC), datetime(2026, 11, 24, 12, tzinfo=UTC)
    gain = Gain(kg=30.0, days=31, since="1970-01-01", kg_per_day=0.968)
    boot = datetime(1970, 1, 1, tzinfo=UTC)
    after = redated(corrected(at(wrong, gain=gain), (right - wrong).total_seconds(), boot, 50 * 86_400.0), UTC)
    assert after.gain is not None
    assert (after.gain.since, after.gain.days, after.gain.kg_per_day) == ("2026-10-24", 31, 0.968)
