"""Weighings for the reports' tests: one a minute, of a drench each."""

from datetime import UTC, datetime, timedelta
from typing import Any

from neckyoke.bridge.events import Clock, Event, Tag, Treatment, Weighing, Weight, wrap

START = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)


def make_event(number: int, kg: float | None = 300.0, tag: str | None = "auto", **given: Any) -> Event:
    """Make the event of one weighing, a minute after the one before."""
    digits = f"999{number:012d}" if tag == "auto" else tag
    on = given.pop("on", START + timedelta(minutes=number))
    flags = given.pop("flags", () if digits else ("no-tag",))
    data = Weighing.model_validate(
        {
            "weighing": f"w{number}",
            "station": "crush",
            "number": number,
            "tag": Tag(id=digits, code=digits[:3], national=digits[3:], animal=True) if digits else None,
            "weight": Weight(kg=kg, grade=given.pop("grade", "good" if kg is not None else "none"), first_kg=kg),
            "on": on,
            "settled": on + timedelta(seconds=4),
            "off": on + timedelta(seconds=12),
            "clock": Clock.SYNCHRONISED,
            "flags": flags,
            "sheet": "Weaning",
            **given,
        }
    )
    return wrap(data, site="larkmoor", time=data.off, key=f"{number}/{data.revision}")


def drench(ml: float | None = 30.0, *, skipped: bool = False, **given: Any) -> Treatment:
    """Make a treatment as the clerk fills it in."""
    dates = {} if skipped else {"withheld_until": "2026-12-23", "export_from": "2027-01-06"}
    return Treatment(name="oral drench", dose_ml=ml, exact_ml=ml, skipped=skipped, **{**dates, **given})
