"""When a treated animal is clear again.

A day of a withholding period is a full 24 hours from the last dose (common practice; the label decides), and never less
than a day on the farm's clocks, whatever is done to those meanwhile.  What is published is the first whole date after
the period has run out: dosed on 1 March at 09:00 with 28 days, the period ends on 29 March at 09:00 and the first clear
date is 30 March.  No days means none; unknown days mean withheld.  Overdosing or use off the label can lengthen a
period: that is not computed here, ask the veterinarian.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta

UNKNOWN = "unknown"
"""Written in place of a date when no period was given: the animal counts as withheld until a person says otherwise."""


def ends_at(dosed: datetime, days: int) -> datetime:
    """Return the moment a period ends: 24 hours for each of its days after the dose, in the zone of `dosed`."""
    return (dosed.astimezone(UTC) + timedelta(hours=24 * days)).astimezone(dosed.tzinfo)


def first_clear_date(dosed: datetime, days: int) -> date:
    """Return the first date that lies wholly after the period, in the time zone of `dosed`."""
    by_hours, by_days = ends_at(dosed, days), dosed + timedelta(days=days)  # these differ where clocks were put
    return max(_first_whole(by_hours), _first_whole(by_days))


def _first_whole(end: datetime) -> date:
    """Return the first date that has nothing before this moment."""
    whole = end.timetz().replace(tzinfo=None) == time.min
    return end.date() if whole else end.date() + timedelta(days=1)


def clear_from(dosed: datetime, days: int | None) -> str | None:
    """Spell the first clear date of one treatment: None when there is no period, `unknown` when it is not known."""
    if days is None:
        return UNKNOWN
    return first_clear_date(dosed, days).isoformat() if days else None


def period_of(dosed: datetime, clear: date) -> int:
    """Return the days of the period by which a dose has this first clear date; where two have it, the longer."""
    days = (clear - dosed.date()).days
    near = (days, days - 1, days - 2)  # late in the evening, and clocks put forth meanwhile: two dates later
    return next((one for one in near if first_clear_date(dosed, one) <= clear), days)


def longest(dates: Iterable[str | None]) -> str | None:
    """Find the latest of several clear dates; an unknown one outlasts all, none is None."""
    known = [one for one in dates if one]
    return UNKNOWN if UNKNOWN in known else max(known, default=None)


def is_withheld(clear: str | None, today: date) -> bool:
    """Return whether an animal with this first clear date is still withheld today."""
    return clear is not None and (clear == UNKNOWN or today < date.fromisoformat(clear))
