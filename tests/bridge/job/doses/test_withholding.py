"""Withholding dates against worked examples."""

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from neckyoke.bridge.job.doses.withholding import (
    UNKNOWN,
    clear_from,
    ends_at,
    first_clear_date,
    is_withheld,
    longest,
    period_of,
)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("dosed", "days", "ends", "clear"),
    [
        ("2025-03-01T09:00", 28, "2025-03-29T09:00", "2025-03-30"),
        ("2025-03-01T09:00", 42, "2025-04-12T09:00", "2025-04-13"),
        ("2024-02-10T09:00", 28, "2024-03-09T09:00", "2024-03-10"),  # a leap year
        ("2025-03-01T00:00", 28, "2025-03-29T00:00", "2025-03-29"),  # midnight: that day is clear as a whole
        ("2025-12-31T23:59", 1, "2026-01-01T23:59", "2026-01-02"),
    ],
)
def test_a_day_is_24_hours_and_the_first_whole_date_after_is_clear(
    dosed: str, days: int, ends: str, clear: str
) -> None:
    """Intervals as the trade counts them: at least so many days from the last dose (FutureBeef); ends by hand."""
    assert ends_at(at(dosed), days) == at(ends)
    assert first_clear_date(at(dosed), days) == date.fromisoformat(clear)


def test_the_date_is_the_one_where_the_animal_stands() -> None:
    moment = datetime(2025, 3, 1, 20, 0, tzinfo=UTC).astimezone(timezone(timedelta(hours=10)))
    assert clear_from(moment, 1) == "2025-03-04", "6 in the morning of 2 March, one day, local"


def test_none_unknown_and_the_longest() -> None:
    moment = at("2025-03-01T09:00")
    assert clear_from(moment, 0) is None
    assert clear_from(moment, None) == UNKNOWN
    assert longest([None, "2025-03-30", "2025-04-13"]) == "2025-04-13"
    assert longest([None, "2025-03-30", UNKNOWN]) == UNKNOWN
    assert longest([None]) is None


@pytest.mark.parametrize(
    ("clear", "withheld"), [(None, False), (UNKNOWN, True), ("2025-03-30", True), ("2025-03-29", False)]
)
def test_withheld_up_to_the_first_clear_date(clear: str | None, *, withheld: bool) -> None:
    assert is_withheld(clear, date(2025, 3, 29)) == withheld


@pytest.mark.parametrize(
    ("dosed", "days", "clear"),
    [
        ("2025-10-25T00:30", 2, "2025-10-28"),  # clocks go back: 48 hours end on the 26th at 23:30, two days do later
        ("2025-03-29T23:30", 2, "2025-04-02"),  # and forth: two days end on the 31st at 23:30, 48 hours do later
        ("2025-10-25T12:00", 2, "2025-10-28"),
    ],
)
def test_where_clocks_are_put_it_is_neither_fewer_hours_nor_fewer_days(dosed: str, days: int, clear: str) -> None:
    """In Britain clocks went forth on 30 March and back on 26 October 2025 (tz database)."""
    local = datetime.fromisoformat(dosed).replace(tzinfo=ZoneInfo("Europe/London"))
    assert first_clear_date(local, days) == date.fromisoformat(clear)


@pytest.mark.parametrize(
    ("dosed", "clear", "days"),
    [
        ("2025-03-01T09:00", "2025-03-30", 28),
        ("2025-03-01T00:00", "2025-03-29", 28),  # at midnight, that day is clear as a whole
        ("2025-03-01T00:01", "2025-03-29", 27),
        ("2025-12-31T23:59", "2026-01-02", 1),
    ],
)
def test_a_period_is_told_from_its_first_clear_date(dosed: str, clear: str, days: int) -> None:
    assert period_of(at(dosed), date.fromisoformat(clear)) == days


@given(st.datetimes(at("2024-01-01").replace(tzinfo=None), at("2027-01-01").replace(tzinfo=None)), st.integers(1, 120))
@example(at("2024-01-25T23:00:01").replace(tzinfo=None), 66)  # the night on which clocks went forth lies between
def test_of_all_periods_with_this_first_clear_date_it_is_the_longest(moment: datetime, days: int) -> None:
    dosed = moment.replace(tzinfo=ZoneInfo("Europe/London"))
    clear = first_clear_date(dosed, days)
    assert period_of(dosed, clear) == max(one for one in range(days + 3) if first_clear_date(dosed, one) == clear)
