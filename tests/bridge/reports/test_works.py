"""Which jobs there were, and which one a person means.  What a job is, is our own (README, "Afterwards")."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.events import Flag
from neckyoke.bridge.reports.rows import Row, row_of
from neckyoke.bridge.reports.selection.works import Selection, picker, works_of
from tests.support.events import weighing

SYDNEY = ZoneInfo("Australia/Sydney")
TURNS = {"a": 1, "b": 2, "c": 3, "n": 4}


@dataclass(frozen=True)
class Made:
    """A weighing as a row."""

    id: str
    row: Row


def made(number: int, job: str | None, title: str | None, local: str, flags: tuple[Flag, ...] = ()) -> Made:
    on = datetime.fromisoformat(local).replace(tzinfo=SYDNEY).astimezone(UTC)
    data = weighing(number).model_copy(
        update={"job": job, "sheet": title, "on": on, "off": on + timedelta(seconds=9), "flags": flags}
    )
    return Made(data.weighing, row_of(data.model_dump(mode="json")))


SEASON = [
    made(1, None, "Steers", "2026-10-01T08:00"),
    made(2, None, "Steers", "2026-10-01T09:00"),
    made(3, None, "Steers", "2026-10-02T08:00"),
    made(4, "a", "Steers", "2026-11-03T08:00"),
    made(5, "a", "Steers", "2026-11-03T09:00"),
    made(6, "b", "Lambs", "2026-11-03T13:00"),
    made(7, None, None, "2026-11-03T13:30", (Flag.PAUSED,)),
    made(8, "c", "Steers", "2026-11-24T08:00"),
    made(9, "n", "Night", "2026-11-25T23:50"),
    made(10, "n", "Night", "2026-11-26T00:10"),
]


def selected(selection: Selection, season: list[Made] = SEASON) -> list[int]:
    rows = [(one.id, one.row) for one in season]
    pick = picker(rows, selection, SYDNEY, TURNS)
    numbers = {one.id: at for at, one in enumerate(season, 1)}
    return [numbers[name] for name, row in rows if pick(row)]


def test_weighings_of_before_jobs_form_one_a_station_title_and_farm_day() -> None:
    found = works_of([(one.id, one.row) for one in SEASON], SYDNEY, TURNS)
    told = [(one.name, one.title, one.animals) for one in found]
    assert told == [
        ("2026-10-01", "Steers", 2),
        ("2026-10-02", "Steers", 1),
        ("job 1", "Steers", 2),
        ("job 2", "Lambs", 1),
        ("job 3", "Steers", 1),
        ("job 4", "Night", 2),
    ]


@pytest.mark.parametrize(
    ("selection", "numbers"),
    [
        (Selection(), [9, 10]),
        (Selection(job="1"), [4, 5]),
        (Selection(job="b"), [6]),
        (Selection(day=date(2026, 11, 3)), [4, 5, 6]),
        (Selection(day=date(2026, 11, 26)), [10]),
        (Selection(day=date(2026, 11, 3), title="lambs"), [6]),
        (Selection(title="Steers"), [1, 2, 3, 4, 5, 8]),
        (Selection(title="Steers", first=date(2026, 10, 2), last=date(2026, 11, 3)), [3, 4, 5]),
        (Selection(station="crush"), [9, 10]),
        (Selection(everything=True), [1, 2, 3, 4, 5, 6, 8, 9, 10]),
    ],
)
def test_the_last_job_is_meant_unless_a_person_says_otherwise(selection: Selection, numbers: list[int]) -> None:
    assert selected(selection) == numbers


@pytest.mark.parametrize(
    "selection",
    [Selection(title="Heifers"), Selection(job="9"), Selection(day=date(2026, 1, 1)), Selection(station="x")],
)
def test_an_empty_selection_says_what_there_is(selection: Selection) -> None:
    with pytest.raises(ConfigError, match=re.escape("job 2, Lambs, crush, 2026-11-03")):
        selected(selection)


def test_without_any_weighing_that_is_said() -> None:
    call: Callable[[], list[int]] = lambda: selected(Selection(), [])  # noqa: E731
    with pytest.raises(ConfigError, match="no weighing at all"):
        call()
