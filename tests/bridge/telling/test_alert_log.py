"""Troubles kept across reboots, and a log that stays small whatever happens."""

import json
import logging
import socket
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import structlog

from neckyoke.bridge.cli import main
from neckyoke.bridge.telling.alert_log import AT_LEAST, NAME, TroubleLog, read, recent
from neckyoke.bridge.telling.log import KINDS, Bound
from tests.support.daemon import CONFIG, Daemon, until

DAWN = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def test_parts_are_few_and_small_and_read_in_order(tmp_path: Path) -> None:
    log = TroubleLog(tmp_path, part_bytes=1000, parts=3)
    for number in range(200):
        log.note(DAWN + timedelta(minutes=number), "link-lost", f"change {number}", link="panel", lasted_s=None)
    files = sorted(tmp_path.iterdir())
    assert len(files) == 3
    assert all(path.stat().st_size <= 1000 for path in files)
    numbers = [int(str(record["text"]).split()[1]) for record in read(tmp_path, 3)]
    assert numbers == list(range(numbers[0], 200))
    assert len(numbers) > 20


def test_a_line_torn_by_a_power_cut_is_passed_over(tmp_path: Path) -> None:
    log = TroubleLog(tmp_path)
    log.note(DAWN, "zero-off", "scrape the platform", station="crush")
    with (tmp_path / NAME).open("a") as file:
        file.write('{"time": "2026-11-24T02:1\n[]\n\x00\x00')
    assert [record["about"] for record in read(tmp_path)] == ["zero-off"]
    last = log.last()
    assert last is not None
    assert last["about"] == "zero-off"


def test_the_last_day_is_shown_and_always_the_last_few(tmp_path: Path) -> None:
    log = TroubleLog(tmp_path)
    for hour in range(100):
        log.note(DAWN + timedelta(hours=hour), "link-lost", "", link="panel")
    assert len(recent(tmp_path, DAWN + timedelta(hours=99))) == 25
    assert len(recent(tmp_path, DAWN + timedelta(days=365))) == AT_LEAST


def test_a_folder_that_cannot_be_written_hurts_nobody(tmp_path: Path) -> None:
    (tmp_path / NAME).mkdir()
    TroubleLog(tmp_path).note(DAWN, "zero-off", "scrape the platform")
    assert TroubleLog(tmp_path / "gone").last() is None


def test_killed_and_started_again_the_daemon_tells_what_was_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    daemon = Daemon(tmp_path, CONFIG.format(indicator=f"serial:{tmp_path}/none", panel="tcp://127.0.0.1:9"))
    try:
        daemon.start()
        until(lambda: any(record["about"] == "link-missing" for record in read(tmp_path)), "the missing port")
        daemon.kill()
        daemon.start()
        until(lambda: any(event["data"].get("about") == "not-stopped" for event in daemon.events()), "the alarm")
        daemon.stop()
        daemon.start()
        daemon.stop()
    finally:
        daemon.close()
    assert main(["status", "--troubles", "--config", str(daemon.config)]) == 0
    said = capsys.readouterr().out
    assert said.count("neckyoke started") == 3
    assert said.count("neckyoke stopped") == 2
    assert said.count("stopped without being told to") == 1
    assert f"indicator: {tmp_path}/none" in said


def test_a_trouble_at_the_start_is_no_sign_of_a_crash(tmp_path: Path) -> None:
    config = CONFIG.format(indicator=f"serial:{tmp_path}/none", panel="tcp://127.0.0.1:9")
    with socket.create_server(("127.0.0.1", 0)) as taken:
        page = f'[page]\nlisten = "127.0.0.1:{taken.getsockname()[1]}"\n'
        daemon = Daemon(tmp_path, config + page)
        try:
            daemon.start()
            until(lambda: any(record["about"] == "started" for record in read(tmp_path)), "the start")
            assert daemon.stop() == 0
        finally:
            daemon.close()
    noted = [record["about"] for record in read(tmp_path)]
    assert "page" in noted
    assert "not-stopped" not in noted


def test_a_flapping_device_is_said_so_often_an_hour_and_then_counted() -> None:
    now = 0.0
    bound = Bound(per_hour=20, now=lambda: now)
    said: list[structlog.typing.EventDict] = []
    for second in range(3 * 3600):
        now = float(second)
        try:
            said.append(bound.bounded(None, "warning", {"event": "link lost", "link": "panel"}))
        except structlog.DropEvent:
            continue
    assert len(said) == 3 * 20
    assert [line["unsaid"] for line in said if "unsaid" in line] == [3580, 3580]


def test_a_weighing_is_no_repetition_of_another() -> None:
    bound = Bound(per_hour=1, now=lambda: 0.0)
    lines = [bound.bounded(None, "info", {"event": "weighing", "number": number}) for number in range(2 * KINDS)]
    assert len(lines) == 2 * KINDS
    with pytest.raises(structlog.DropEvent):
        bound.bounded(None, "info", {"event": "weighing", "number": 2 * KINDS - 1})


def test_what_libraries_say_is_bounded_too() -> None:
    bound = Bound(per_hour=2, now=lambda: 0.0)
    record = logging.LogRecord("paho", logging.WARNING, "", 0, "socket %d", (3,), None)
    assert [bound.filter(record) for _ in range(4)] == [True, True, False, False]


def test_records_are_lines_that_any_program_reads(tmp_path: Path) -> None:
    TroubleLog(tmp_path).note(DAWN, "link-lost", "hung up", link="panel", lasted_s=2.5)
    assert json.loads((tmp_path / NAME).read_text()) == {
        "time": "2026-11-24T02:11:00.000Z",
        "about": "link-lost",
        "text": "hung up",
        "link": "panel",
        "lasted_s": 2.5,
    }
