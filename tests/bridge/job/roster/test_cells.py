"""Single cells, at their limits: a table each, and dates against the standard library's own calendar."""

import calendar
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.job.roster.cell_error import CellError
from neckyoke.bridge.job.roster.cells import dated, day, days_first, weight, years


@pytest.mark.parametrize(
    ("texts", "first"),
    [
        ([], None),
        (["3/4/2026", "12/12/2026"], None),
        (["3/4/2026", "13/4/2026"], True),
        (["3.4.2026", "4.13.2026"], False),
        (["13-1-2026", "1-13-2026"], True),  # the first that tells
        (["2026-03-28", "28 Mar 2026"], None),
        (["12/13/2026"], False),
    ],
)
def test_one_date_with_a_day_beyond_twelve_tells_the_order(texts: list[str], first: object) -> None:
    assert days_first(texts) is first


DATES = st.dates(date(1970, 1, 1), date(2999, 12, 31))


@given(DATES)
def test_every_date_is_read_back_from_every_spelling_that_has_one_meaning(when: date) -> None:
    month = calendar.month_abbr[when.month]
    for text in (
        when.isoformat(),
        f"{when.year:04}/{when.month}/{when.day}",
        f"{when.day} {month} {when.year:04}",
        f"{when.day} {calendar.month_name[when.month]} {when.year:04}",
        f"{when.day}-{month}-{when.year:04}",
        f"{when.isoformat()} 00:00:00",
        f"{when.isoformat()}T00:00",
    ):
        assert day(text) == when, text
    for mark in "/.-":
        assert day(f"{when.day}{mark}{when.month}{mark}{when.year}", first=True) == when
        assert day(f"{when.month}{mark}{when.day}{mark}{when.year}", first=False) == when


@pytest.mark.parametrize(
    ("text", "first", "said"),
    [
        ("3/4/2026", None, "can be read in two ways"),
        ("31/12/1969", True, "is before 1970"),
        ("1969-12-31", None, "is before 1970"),
        ("2026-02-29", None, "is no date"),
        ("31/4/2026", True, "is no date"),
        ("13/13/2026", True, "is no date"),
        ("soon", None, "is no date"),
        ("2026-03-28 06:00", None, "is no date"),
        ("3/4/26", True, "is no date"),
    ],
)
def test_what_is_no_date_or_could_be_two_is_refused(text: str, first: bool | None, said: str) -> None:  # noqa: FBT001
    with pytest.raises(CellError, match=said):
        day(text, first=first)


def test_a_date_whose_day_is_its_month_needs_no_order() -> None:
    assert day("4/4/2026") == date(2026, 4, 4)
    assert day("1970-01-01") == date(1970, 1, 1)


@pytest.mark.parametrize(
    ("text", "unit", "kg"),
    [
        ("318.5", "kg", 318.5), ("318,5 kg", "kg", 318.5), ("318 KGS", "kg", 318.0), ("3000", "kg", 3000.0),
        ("0.001", "kg", 0.001), ("700", "lb", 317.515), ("700 lb", "lb", 317.515), ("700LBS", "lb", 317.515),
        ("1.00049", "kg", 1.0), ("6613.8", "lb", 2999.969),
    ],
)  # fmt: skip
def test_weights_in_kilograms_and_pounds(text: str, unit: str, kg: float) -> None:
    """1 lb = 0.45359237 kg exactly (international yard and pound agreement of 1959; from memory)."""
    assert weight(text, unit) == kg


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("3000.1", "kg", "is no animal's weight"), ("0", "kg", "is no animal's weight"), ("-5", "kg", "is no weight"),
        ("6614", "lb", "is no animal's weight"), ("700 lb", "kg", "is not in kg"), ("318 kg", "lb", "is not in lb"),
        ("318 st", "kg", "is not in kg"), ("heavy", "kg", "is no weight"), ("1.2.3", "kg", "is no weight"),
        ("", "kg", "is no weight"),
    ],
)  # fmt: skip
def test_what_is_no_weight_of_the_column_is_refused(text: str, unit: str, said: str) -> None:
    with pytest.raises(CellError, match=said):
        weight(text, unit)


@pytest.mark.parametrize(("text", "age"), [("3", 3.0), ("2,5", 2.5), ("30", 30.0), ("0.1", 0.1)])
def test_ages_in_years(text: str, age: float) -> None:
    assert years(text) == age


@pytest.mark.parametrize("text", ["0", "30.1", "-1", "old", "nan", "inf", ""])
def test_what_is_no_age_is_refused(text: str) -> None:
    with pytest.raises(CellError, match="is no age in years"):
        years(text)


@pytest.mark.parametrize(
    ("column", "found"),
    [
        ("kg_2026-03-01", ("kg", date(2026, 3, 1))),
        ("Weight kg 2026-03-01", ("kg", date(2026, 3, 1))),
        ("lb_2026_12_31", ("lb", date(2026, 12, 31))),
        ("kg_2026-13-01", None),
        ("kg_2026-02-30", None),
        ("kg", None),
        ("last_kg", None),
    ],
)
def test_columns_of_one_days_weights(column: str, found: object) -> None:
    assert dated(column) == found
