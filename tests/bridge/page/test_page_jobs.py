"""What the page is given by job: two mobs on one day, one of them again three weeks later, and one over midnight.

Which stay belongs to which job is our own (README, "In the yards"); the counts follow from the days made up here.
"""

import csv
import io
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Flag, Treatment
from neckyoke.bridge.many import many
from tests.bridge.page.asking import ask
from tests.bridge.page.browser import Browser
from tests.bridge.page.yard import STATION, Yard, tag, weighing

DAY = datetime(2026, 11, 24, tzinfo=UTC)
JOBS = {
    # turn: (title, the first stay, how many, the first animal)
    1: ("Steers", DAY + timedelta(hours=8), 4, 1),
    2: ("Lambs", DAY + timedelta(hours=13), 3, 11),
    3: ("Steers", DAY + timedelta(days=21, hours=8), 4, 1),
    4: ("Night", DAY + timedelta(days=22, hours=23, minutes=58), 5, 21),
}


def _job(turn: int) -> dict[str, Any]:
    title, begun, count, _ = JOBS[turn]
    ended = (begun + timedelta(minutes=count)).isoformat()
    text = f"job {turn}, {title}, begun {begun:%H:%M}, ended"
    base = {"job": f"id-{turn}", "turn": turn, "text": text, "state": "ended", "sheet": title}
    return {**base, "begun": begun.isoformat(), "ended": ended}


@pytest.fixture
def worked(yard: Yard) -> Yard:
    """A yard after four jobs; while the first was paused, one more came."""
    yard.status["stations"][STATION]["jobs"] = [_job(turn) for turn in JOBS]
    number = 0
    for turn, (title, begun, count, first) in JOBS.items():
        drench = Treatment(name="drench", amount=10.0 * turn, unit="mL", withheld_until="2026-12-23")
        for at in range(count):
            number += 1
            more: dict[str, Any] = {"job": f"id-{turn}", "job_number": at + 1, "sheet": title, "treatments": (drench,)}
            more |= {"tag": tag(first + at), "on": begun + timedelta(minutes=at)}
            yard.tell(weighing(number, 300.0 + 10 * turn, **more))
        if turn == 1:
            number += 1
            paused = {"on": begun + timedelta(minutes=count), "flags": (Flag.PAUSED,), "job": None}
            yard.tell(weighing(number, 90.0, tag=None, **paused))
    return yard


def _tally(yard: Yard, query: str) -> Any:
    return ask(yard, "GET", f"/tally?{query}").json


@pytest.mark.parametrize(("turn", "animals"), [(1, 4), (2, 3), (3, 4), (4, 5)])
def test_each_job_is_counted_up_by_itself(worked: Yard, turn: int, animals: int) -> None:
    told = _tally(worked, f"job={turn}")
    assert (told["counts"]["animals"], told["weight"]["mean_kg"]) == (animals, 300.0 + 10 * turn)
    (used,) = told["treatments"]
    assert (used["given"], used["total_ml"]) == (animals, animals * 10.0 * turn)
    assert (told["job"]["turn"], told["job"]["sheet"]) == (turn, JOBS[turn][0])
    assert _tally(worked, f"job=id-{turn}&station={STATION}") == told


def test_the_last_job_is_over_midnight_and_its_days_have_a_part_each(worked: Yard) -> None:
    assert _tally(worked, "job=last")["counts"]["animals"] == 5
    days = [_tally(worked, f"day={day}")["counts"]["animals"] for day in ("2026-12-16", "2026-12-17")]
    assert days == [2, 3]


@pytest.mark.parametrize(
    "path", ["tally", "rows", "pictures", "export.csv", "export.jsonl", "register.csv", "report.html"]
)
def test_the_last_job_is_meant_where_none_is_named(worked: Yard, path: str) -> None:
    named, bare = (ask(worked, "GET", f"/{path}?{query}") for query in ("job=last&station=crush", ""))
    assert (bare.status, bare.body) == (200, named.body)


def test_the_files_to_keep_are_by_job_too(worked: Yard) -> None:
    answer = ask(worked, "GET", "/export.csv?job=3")
    rows = list(csv.DictReader(io.StringIO(answer.body.decode())))
    assert [(row["job"], row["number"]) for row in rows] == [("3", number) for number in "1234"]
    assert {row["date"] for row in rows} == {"2026-12-15"}
    assert "weighings-crush-job-3.csv" in answer.headers["content-disposition"]
    doses = list(csv.DictReader(io.StringIO(ask(worked, "GET", "/register.csv?job=3").body.decode())))
    assert [(row["job"], row["number"], row["sheet"]) for row in doses] == [
        ("3", number, JOBS[3][0]) for number in "1234"
    ]
    assert JOBS[3][0] in ask(worked, "GET", "/register.html?job=3").body.decode()


def test_the_jobs_are_listed_in_order(worked: Yard) -> None:
    listed = ask(worked, "GET", f"/jobs?station={STATION}").json["jobs"]
    assert [(one["turn"], one["sheet"], one["station"]) for one in listed] == [
        (turn, title, STATION) for turn, (title, *_) in JOBS.items()
    ]
    assert ask(worked, "GET", "/jobs?station=nowhere").json == {"jobs": []}


def test_a_job_that_is_not_there_says_which_are(worked: Yard) -> None:
    answer = ask(worked, "GET", "/tally?job=9")
    assert answer.status == 404
    assert "crush: job 4, Night, begun 23:58" in answer.json["text"]
    worked.status["stations"]["ramp"] = {"counts": {"animals": 0}, "jobs": [{**_job(1), "job": "id-ramp"}]}
    assert "Several stations have a job 1" in ask(worked, "GET", "/tally?job=1").json["text"]
    assert _tally(worked, "job=1&station=crush")["counts"]["animals"] == 4


def test_before_the_first_job_there_is_none_to_show(yard: Yard) -> None:
    assert ask(yard, "GET", "/export.csv?job=last").json["text"] == "There is no job at hand yet."


@pytest.mark.parametrize(("count", "told"), [(1, "1 animal."), (2, "2 animals.")])
def test_one_is_one_on_the_page(yard: Yard, browser: Browser, count: int, told: str) -> None:
    job = {**_job(1), "state": "open", "ended": None}
    yard.status["stations"][STATION] |= {"job": job, "jobs": [job], "counts": {"animals": count}}
    for at in range(count):
        yard.tell(weighing(at + 1, 300.0, job="id-1", job_number=at + 1, on=JOBS[1][1] + timedelta(minutes=at)))
    browser.go(f"{yard.url}#job")
    browser.until("document.querySelector('#openjob')?.innerText.includes(arguments[0])", told)
    browser.until("document.querySelector('#mobcount').innerText === arguments[0]", many(count, "weighing"))
