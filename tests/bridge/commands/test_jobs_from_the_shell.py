"""Two mobs on a day, the same one three weeks later, and a job over midnight: tally, export and report from the shell.

The yard and its truth are the simulator's; counts, weights and dates follow from it and from when each was weighed.
"""

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.events import Weighing
from tests.support.crush import LAMBS, STEERS, YARD, Crush

NIGHT = 'title = "Night"\n'
TO_MIDNIGHT_S = (23 - 15) * 3600 + (60 - 11) * 60 - 8.0
"""From when the box began, at 15:11 by the farm's clock, until some seconds before midnight."""
EXPECTED: dict[int, tuple[str, range, list[str]]] = {
    1: ("Steers", range(3), ["2026-11-24"] * 3),
    2: ("Lambs", range(3, 6), ["2026-11-24"] * 3),
    3: ("Steers", range(3), ["2026-12-15"] * 3),
    4: ("Night", range(6), ["2026-12-15"] + ["2026-12-16"] * 5),
}
"""By job: its sheet, which animals of the yard came, and the farm's date of each."""


@pytest.fixture(scope="module")
def events(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("days")
    crush = Crush(folder)
    crush.say("begin", text=STEERS)
    crush.weigh(0, 3)
    crush.say("begin", text=LAMBS)
    crush.weigh(3)
    crush.say("end")
    crush = crush.stopped(21)
    crush.say("begin", text=STEERS)
    crush.weigh(0, 3)
    crush.say("end")
    crush.wait(TO_MIDNIGHT_S - crush.t)
    crush.say("begin", text=NIGHT)
    crush.weigh()
    crush.say("end")
    path = folder / "events.jsonl"
    path.write_text("".join(f"{event.to_json()}\n" for event in crush.events))
    weighings = [event.data for event in crush.events if isinstance(event.data, Weighing)]
    first = {one.weighing: one.number for one in weighings}
    assert sorted(first.values()) == [*range(1, 16)], "no id is given twice, and the number never restarts"
    return str(path)


def said(capsys: pytest.CaptureFixture[str], *args: str) -> str:
    assert main([*args]) == 0
    return capsys.readouterr().out


def figures(capsys: pytest.CaptureFixture[str], *args: str) -> Any:
    return json.loads(said(capsys, *args))


@pytest.mark.parametrize("job", EXPECTED)
def test_tally_export_and_report_are_each_jobs_own(
    events: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], job: int
) -> None:
    title, animals, dates = EXPECTED[job]
    told = figures(capsys, "tally", events, "--job", str(job), "--json")
    truth = [YARD.truth[at].kg for at in animals]
    assert (told["sheets"], told["counts"]["animals"], told["counts"]["repeats"]) == ([title], len(animals), 0)
    assert told["weight"]["mean_kg"] == pytest.approx(sum(truth) / len(truth), abs=1.0)
    given = {one["name"]: one["given"] for one in told["treatments"]}
    assert given == ({"drench": 3} if title == "Steers" else {}), "the second drench is counted, each in its own job"

    rows = [*csv.DictReader(io.StringIO(said(capsys, "export", events, "--job", str(job), "--columns", "tag,date")))]
    assert [row["tag"].replace(" ", "") for row in rows] == [YARD.truth[at].tag for at in animals]
    assert [row["date"] for row in rows] == dates

    page = tmp_path / "report.html"
    said(capsys, "tally", events, "--job", str(job), "--html", str(page))
    assert title in page.read_text()
    assert dates[0] in page.read_text()


def test_the_last_job_is_meant_and_a_day_and_a_title_select_too(
    events: str, capsys: pytest.CaptureFixture[str]
) -> None:
    def animals(*chosen: str) -> int:
        return int(figures(capsys, "tally", events, "--json", *chosen)["counts"]["weighings"])

    assert animals() == 6
    assert animals("--day", "2026-11-24") == 6
    assert (animals("--day", "2026-12-15"), animals("--day", "2026-12-16")) == (4, 5)
    assert animals("--title", "steers") == 6
    assert animals("--all") == 15


def test_an_empty_selection_says_what_there_is(events: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tally", events, "--job", "9"]) != 0
    assert "There is: job 1, Steers, crush, 2026-11-24; job 2, Lambs" in " ".join(capsys.readouterr().err.split())


def test_the_jobs_are_listed(events: str, capsys: pytest.CaptureFixture[str]) -> None:
    listed = figures(capsys, "jobs", events, "--json")
    assert [(one["turn"], one["title"], one["animals"]) for one in listed] == [
        (job, title, len(animals)) for job, (title, animals, _) in EXPECTED.items()
    ]


def test_a_number_in_an_export_is_the_one_that_tell_register_and_tally_mean(
    events: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a person reads in the spreadsheet, `tell --number` with `--job` takes; a station's number is another's."""
    import openpyxl

    rows = [*csv.DictReader(io.StringIO(said(capsys, "export", events, "--all")))]
    told = [(job, number) for job, (_, animals, _) in EXPECTED.items() for number in range(1, len(animals) + 1)]
    assert [(int(row["job"]), int(row["number"])) for row in rows] == told
    by_station = said(capsys, "export", events, "--all", "--columns", "station_number")
    assert by_station.split()[1:] == [str(number) for number in range(1, 16)]

    doses = figures(capsys, "register", events, "--all", "--json")["doses"]
    steers = [row for row in rows if row["sheet"] == "Steers"]
    assert [(dose["date"], dose["job"], dose["number"], dose["sheet"]) for dose in doses] == [
        (row["date"], int(row["job"]), int(row["number"]), "Steers") for row in steers
    ]

    book = tmp_path / "season.xlsx"
    said(capsys, "export", events, "--all", "--out", str(book))
    head, *cells = openpyxl.load_workbook(book)["weighings"].iter_rows(values_only=True)
    assert [(row[head.index("job")], row[head.index("number")]) for row in cells] == told
    head, *cells = openpyxl.load_workbook(book)["doses"].iter_rows(values_only=True)
    assert [tuple(row[head.index(key)] for key in ("job", "number", "sheet")) for row in cells] == [
        (int(row["job"]), int(row["number"]), "Steers") for row in steers
    ]


def test_the_doses_in_a_workbook_are_the_registers_also_of_one_that_was_struck_out(
    events: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import openpyxl

    lines = Path(events).read_text().splitlines()
    struck = next(
        one for line in lines if (one := json.loads(line))["data"].get("treatments") and "final" in one["data"]
    )
    struck["data"] |= {"revision": 99, "flags": [*struck["data"]["flags"], "voided"]}
    path, book = tmp_path / "struck.jsonl", tmp_path / "struck.xlsx"
    path.write_text("\n".join([*lines, json.dumps(struck)]))
    said(capsys, "export", str(path), "--all", "--out", str(book))
    head, *cells = openpyxl.load_workbook(book)["doses"].iter_rows(values_only=True)
    doses = figures(capsys, "register", str(path), "--all", "--json")["doses"]
    found = [(row[head.index("number")], row[head.index("remark")]) for row in cells]
    assert found == [(dose["number"], dose["remark"]) for dose in doses]
    assert "its weighing was struck out" in [remark for _, remark in found]


def test_where_nothing_tells_the_jobs_turn_its_id_tells_it(
    events: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "weighings.jsonl"
    lines = [line for line in Path(events).read_text().splitlines() if '"type":"com.neckyoke.job' not in line]
    weighings = [line for line in lines if '"weighing":' in line and '"turn":' not in line]
    path.write_text("\n".join(weighings))
    rows = [*csv.DictReader(io.StringIO(said(capsys, "export", str(path), "--all", "--columns", "number,job")))]
    jobs = [json.loads(line)["data"]["job"] for line in weighings]
    assert {row["job"] for row in rows} == {*jobs}
    assert len({*jobs}) == 4
