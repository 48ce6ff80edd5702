"""One is one: 1 animal, 1 treatment, 1 stay; and a count is never of fewer than it counts."""

from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.status import screen
from neckyoke.bridge.many import many, many_are
from tests.support.crush import STEERS, Crush
from tests.support.status import status_of


def test_a_count_is_spelled() -> None:
    assert [many(count, "animal") for count in (0, 1, 2)] == ["0 animals", "1 animal", "2 animals"]
    assert [many_are(count, "event") for count in (1, 2)] == ["1 event is", "2 events are"]


@pytest.mark.parametrize(
    ("counts", "told"),
    [
        ({"animals": 1}, "1 animal, no job is open"),
        ({"animals": 10, "expected": 2, "not_seen": 2}, "10 animals, 2 of 2 still to come, no job is open"),
        ({"animals": 1, "expected": 39, "not_seen": 38}, "1 animal, 38 of 39 still to come, no job is open"),
    ],
)
def test_status_says_who_of_the_roster_is_still_to_come(counts: dict[str, Any], told: str) -> None:
    """Who came need not be on the roster: nobody is counted of it that is not."""
    lines = screen(
        status_of(
            stations={"crush": {"counts": counts}},
            links={"panel": {"frames": 1}},
            outlets={"events": {"kind": "file", "written": 1, "backlog": 1}},
        )
    )
    assert any(line.startswith(f"station crush: {told}") for line in lines)
    assert "link panel: up, 1 frame, 0 rejects, last byte never" in lines
    assert "outlet events: file, 1 event given, 1 waits" in lines


def test_a_sheet_of_one_treatment_has_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("roster.csv").write_text("tag\n999000000000001\n")
    Path("sheet.toml").write_text(f'roster = "roster.csv"\n{STEERS}[[draft]]\npen = "all"\n')
    assert main(["check", "sheet.toml"]) == 0
    assert "'Steers': 1 treatment, 1 pen, 1 animal on the roster.  Good to use." in capsys.readouterr().out


@pytest.mark.parametrize(("words", "named"), [({"text": STEERS}, "Job 1, Steers, has"), ({"bare": True}, "Job 1 has")])
def test_a_job_that_has_ended_says_so_in_one_sentence(tmp_path: Path, words: dict[str, Any], named: str) -> None:
    crush = Crush(tmp_path)
    crush.say("begin", **words)
    crush.weigh(0, 1)
    assert crush.say("end").text.startswith(f"{named} ended with 1 stay.")
