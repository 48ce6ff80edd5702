"""Dates are the farm's, in every time zone there is, around both switches of summer time; and never early.

Second opinion: `dateutil`, which reads the zones with code of its own.  A period's day is 24 hours (common practice).
"""

import io
import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import TZPATH, ZoneInfo, available_timezones

import pytest
from dateutil import tz

from neckyoke.bridge.events import Clock, Event, Settled, Tag, Weighing, Weight, spell_time, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.doses.treatments import TreatmentTable
from neckyoke.bridge.job.doses.withholding import clear_from
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.reports.export import Style, write_csv
from neckyoke.bridge.reports.history import page
from neckyoke.bridge.reports.icar.told import Told
from neckyoke.bridge.reports.page_report import html
from neckyoke.bridge.reports.show import when_and_what
from neckyoke.bridge.reports.tally import tally
from tests.support.sheets import one


def _distinct(names: set[str]) -> list[str]:
    """Leave out names under which the zone of another stands once more: the very same file."""
    kept: dict[bytes, str] = {}
    for name in sorted(names):
        files = (Path(root) / name for root in TZPATH)
        kept.setdefault(next((file.read_bytes() for file in files if file.is_file()), name.encode()), name)
    return sorted(kept.values())


PLACES = _distinct(available_timezones() - {"localtime", "Factory"})
YEAR = datetime(2026, 1, 1, tzinfo=UTC)


@cache
def switches(name: str) -> tuple[datetime, ...]:
    """Find when a zone's clocks are put, in two years."""
    zone = ZoneInfo(name)

    def offset(hour: int) -> timedelta | None:
        return (YEAR + timedelta(hours=hour)).astimezone(zone).utcoffset()

    found = []
    for (low, before), (high, after) in pairwise((hour, offset(hour)) for hour in range(0, 2 * 365 * 24, 24)):
        if before != after:
            found.append(next(YEAR + timedelta(hours=hour) for hour in range(low, high + 1) if offset(hour) != before))
    return tuple(found)


def moments(name: str) -> Iterator[datetime]:
    """Yield moments around each switch, and around a midnight where there is none."""
    for switch in switches(name) or (datetime(2026, 11, 28, tzinfo=UTC),):
        for hours in (-29, -24, -13, -1, 0, 1, 12, 23, 30):
            yield switch + timedelta(hours=hours)
            yield switch + timedelta(hours=hours, minutes=59, seconds=59)


def second_opinion(moment: datetime, name: str) -> date:
    there = tz.gettz(name)
    assert there is not None
    return moment.astimezone(there).date()


def test_no_withholding_date_comes_early_in_any_zone() -> None:
    checked = 0
    for name in PLACES:
        zone = ZoneInfo(name)
        for end in moments(name):
            for days in (1, 28):
                dosed = end - timedelta(days=days)
                clear = date.fromisoformat(clear_from(dosed.astimezone(zone), days) or "")
                last = second_opinion(end - timedelta(microseconds=1), name)  # a moment at which it is still withheld
                assert last < clear <= last + timedelta(days=2), (name, dosed, days)
                checked += 1
    assert checked > 20_000


def test_the_worked_example() -> None:
    """Treated on 28 November at 08:00 at UTC+11 with 28 days: clear from 27 December (by hand)."""
    dosed = datetime(2026, 11, 27, 21, tzinfo=UTC)
    assert clear_from(dosed.astimezone(ZoneInfo("Australia/Sydney")), 28) == "2026-12-27"


def event_at(moment: datetime, zone: ZoneInfo) -> Event:
    """Weigh and treat one steer, filled in as the daemon does."""
    tag = Tag(id="999000000112233", code="999", national="000000112233", animal=True)
    weighing = Weighing(
        weighing="one",
        station="crush",
        number=1,
        tag=tag,
        weight=Weight(kg=318.5, grade="good", first_kg=318.5),
        on=moment,
        settled=moment,
        off=moment,
        clock=Clock.SYNCHRONISED,
    )
    drench = TreatmentTable.model_validate({"name": "oral drench", "ml": 30, "withhold_days": 28, "export_days": 1})
    sheet = Sheet(title="Weaning", treatments=(drench,))
    earlier = moment - timedelta(days=30)
    clerk = Clerk(one(sheet), zone=zone, history=lambda *_: [(earlier, 300.0)])
    return clerk.fill(wrap(weighing, site="larkmoor", time=moment, key="one/1"))


@pytest.mark.parametrize("part", range(4))
def test_tally_export_page_report_and_icar_agree_on_every_date(part: int) -> None:
    for name in PLACES[part::4]:
        zone = ZoneInfo(name)
        for moment in [*moments(name)][::5]:
            event = event_at(moment, zone)
            assert not isinstance(event.data, Settled)
            data: dict[str, Any] = event.data.model_dump(mode="json")
            day, thirty = second_opinion(moment, name), second_opinion(moment - timedelta(days=30), name)
            out = io.StringIO()
            write_csv([data], out, ["date", "withheld_until", "gain_since", "gain_days"], Style(zone=zone))
            exported, withheld, since, days = out.getvalue().splitlines()[1].split(",")

            assert exported == day.isoformat(), (name, moment)
            assert (since, int(days)) == (thirty.isoformat(), (day - thirty).days)
            counted = tally([event])
            assert list(when_and_what(counted, zone))[-1].startswith(day.isoformat())
            assert f"{day.isoformat()} " in html(counted, zone=zone)
            told = page("999000000112233", [data], zone=zone)
            assert told is not None
            assert f"\n{day.isoformat()}  " in told
            assert f"withheld until {withheld}" in told
            made = Told("1.3", zone=zone)
            made.add([json.loads(event.to_json())])
            ends = [end for one in made.resources("larkmoor")["treatments"] for end in one["withdrawals"]]
            for told_end in ends:
                end = datetime.fromisoformat(told_end["endDate"])
                assert second_opinion(end, name) in {
                    date.fromisoformat(data["treatments"][0][key]) for key in ("withheld_until", "export_from")
                }
                assert told_end["endDate"] >= spell_time(moment + timedelta(days=1))
