"""Withholding dates against worked examples."""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from neckyoke.bridge.job.doses.withholding import UNKNOWN, clear_from, ends_at, first_clear_date, is_withheld, longest


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
