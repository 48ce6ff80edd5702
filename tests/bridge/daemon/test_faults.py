"""The daemon in one process with its clock in our hands: nothing there, everything coming, the clock being set."""

import asyncio
import json
import sqlite3
import subprocess
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.daemon.request_handler import NOT_SAFE
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Clock
from neckyoke.bridge.journal.store import Store
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.broker import Broker, find, free_port
from tests.support.daemon import latest
from tests.support.in_process import in_process, lines_of_a_quiet_day
from tests.support.running import run, until
from tests.support.yard_clock import YardClock

SPEED = 16.0
HOURS = 3


def events(folder: Path) -> list[dict[str, Any]]:
    path = folder / "events.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


def weighings(folder: Path) -> list[dict[str, Any]]:
    return list(latest(events(folder)).values())


def test_it_starts_with_none_of_its_devices_and_no_broker(tmp_path: Path, make_broker: Callable[..., Broker]) -> None:
    broker = make_broker()
    broker.stop()
    yard, fast = Yard.named("calm", seed=4, animals=2), YardClock(SPEED)

    async def day() -> None:
        async with in_process(tmp_path, broker.url, WallClock(monotonic=fast, probe=lambda: True)) as service:
            await until(lambda: len(service.status().troubles) >= 1, "the missing broker is a trouble")
            states = [link.state for link in service.status().links.values()]
            assert states == ["missing", "missing"]
            with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
                ends = {"indicator": indicator, "panel": panel}
                await until(lambda: _spoken_to(service, ends), "both links are found")
                await fast.play(yard.items(), ends)
                await until(lambda: len(weighings(tmp_path)) == 2, "both are weighed")
                await asyncio.to_thread(broker.start)
                await until(lambda: service.outlets["farm"].health().backlog == 0, "the broker has them too")

    run(day())
    assert {data["tag"]["id"] for data in weighings(tmp_path)} == {stay.tag for stay in yard.truth}


def _spoken_to(service: Service, ends: dict[str, PtyEnd]) -> bool:
    for end in ends.values():
        end.write(b"\r\n")
    return all(link.state == "up" for link in service.status().links.values())


def test_the_broker_takes_the_same_requests_as_the_socket(tmp_path: Path, broker: Broker) -> None:
    recorder = broker.record("neckyoke/larkmoor/#")
    topic = "neckyoke/larkmoor/crush/request"
    note = json.dumps({"kind": "note", "text": "lame, near hind", "id": "n-1"})
    publish = [find("mosquitto_pub"), "-h", "127.0.0.1", "-p", str(broker.port), "-q", "1", "-t", topic, "-m"]

    async def day() -> None:
        async with in_process(tmp_path, broker.url, WallClock(probe=lambda: True)):
            await until(lambda: "larkmoor/+/request" in broker.logged(), "it listens")
            for request in (note, "{", json.dumps({"kind": "zero", "station": "pen"})):
                await asyncio.to_thread(subprocess.run, [*publish, request], check=True)
            await asyncio.to_thread(recorder.wait_for, 3, "crush/answer")

    run(day())
    answers = [message.event for message in recorder.on("crush/answer")]
    assert [answer["done"] for answer in answers] == [False, False, False]
    assert answers[0]["id"] == "n-1"
    assert "Nobody has been weighed" in answers[0]["text"]
    assert answers[2]["text"] == "This came to crush and says station 'pen': send it to that one's own topic."
    status = recorder.on("larkmoor/status")[0].event
    assert status["state"] == "online"
    assert {"links", "outlets", "journal", "clock", "disk_free_mb", "loop_lag_s"} <= set(status)


def test_a_zero_command_that_the_indicator_does_not_get_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def unsent(_data: bytes) -> None:
        raise LinkTrouble("indicator takes no bytes")

    async def zeroed(service: Service, indicator: PtyEnd) -> str:
        while not (answer := await service.desk.ask({"kind": "zero"}))["done"]:
            indicator.write(b"ST,GS,+00001.0kg\r\n")
            await asyncio.sleep(0.05)
        return str(answer["text"])

    async def day() -> str:
        clock = WallClock(monotonic=YardClock(SPEED))
        async with in_process(tmp_path, f"mqtt://127.0.0.1:{free_port()}", clock) as service:
            plain = service.config.links["indicator"]
            monkeypatch.setitem(service.config.links, "indicator", plain.model_copy(update={"zero_command": "Z"}))
            monkeypatch.setattr(service.supervisors["indicator"], "write", unsent)
            with PtyEnd(tmp_path / "indicator") as indicator:
                return await zeroed(service, indicator)

    text = run(day())
    remedy = "The zero command was not sent: indicator takes no bytes.  Zero the indicator by hand."
    assert text == f"Zeroed: the empty platform shows 1 kg.  {remedy}"
    (told,) = [event["data"] for event in events(tmp_path) if event["data"].get("about") == "zero-command"]
    assert (told["station"], told["text"]) == ("crush", remedy)


def test_what_is_told_while_the_disk_is_full_is_answered_and_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer says that it is not safe yet; once the disk takes it, it is, and survives a stop."""
    monkeypatch.setattr("neckyoke.bridge.daemon.request_handler.SAFE_S", 0.05)
    monkeypatch.setattr("neckyoke.bridge.journal.writer.RETRY_S", (0.01,))
    begin = {"kind": "begin", "text": 'title = "Steers"\n'}

    def refuse(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    async def days() -> tuple[str, str, str]:
        nowhere = f"mqtt://127.0.0.1:{free_port()}"
        async with in_process(tmp_path, nowhere, WallClock(probe=lambda: True)) as service:
            safe = (await service.desk.ask({"kind": "zero"}))["text"]
            with monkeypatch.context() as full:
                full.setattr(Store, "commit", refuse)
                told = await service.desk.ask(begin)
            await until(lambda: not service.status().journal.trouble, "the disk takes it again")
        async with in_process(tmp_path, nowhere, WallClock(probe=lambda: True)) as service:
            job = service.status().stations["crush"].job
        return safe, str(told["text"]), job.text if job else ""

    safe, told, job = run(days())
    assert NOT_SAFE not in safe
    assert told.endswith(f"  {NOT_SAFE}")
    assert "Steers" in job


@pytest.mark.parametrize("delta_s", [3600.0, -3600.0])
def test_the_clock_set_in_mid_stay_moves_the_stay_and_does_not_stretch_it(tmp_path: Path, delta_s: float) -> None:
    """A box without a battery hears the right time while an animal stands there; earlier ones are amended."""
    yard = Yard.named("calm", seed=9, animals=2)
    elapsed = YardClock(SPEED)
    wall = {"ahead": 0.0, "known": False}
    began = time.time()
    clock = WallClock(
        monotonic=elapsed, realtime=lambda: began + elapsed() + wall["ahead"], probe=lambda: bool(wall["known"])
    )

    async def day() -> None:
        async with in_process(tmp_path, f"mqtt://127.0.0.1:{free_port()}", clock) as service:
            with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
                ends = {"indicator": indicator, "panel": panel}
                await until(lambda: _spoken_to(service, ends), "both links are found")
                playing = asyncio.create_task(elapsed.play(yard.items(), ends))
                await until(lambda: len(weighings(tmp_path)) == 1, "the first has been weighed")
                assert weighings(tmp_path)[0]["clock"] == "unsynchronised"
                await until(lambda: service.pipeline.site.stations["crush"].view.number == 2, "the second stands")
                wall.update(ahead=delta_s, known=True)
                await playing
                await until(lambda: len(weighings(tmp_path)) == 2, "the second has been weighed")
                await until(lambda: all(data["clock"] == "synchronised" for data in weighings(tmp_path)), "amended")
            assert service.clock.state is Clock.SYNCHRONISED

    run(day())
    took_s = elapsed()  # however busy the machine was, a stay lasts no longer: far less than the clock was set by
    assert took_s < abs(delta_s)
    for data in weighings(tmp_path):
        assert began + delta_s <= moment(data["on"]) < moment(data["off"]) <= began + took_s + delta_s
    said = [event["data"]["text"] for event in events(tmp_path) if event["data"].get("about") == "clock"]
    assert len(said) == 1


def moment(spelled: str) -> float:
    return datetime.fromisoformat(spelled).timestamp()


def test_hours_with_nothing_there_log_little(tmp_path: Path) -> None:
    """Dead devices and a dead broker; a whole day may log 100 lines (tests/bench/delivery.py has the whole day)."""
    lines = lines_of_a_quiet_day(tmp_path, HOURS)
    assert 3 <= len(lines) <= 100 * HOURS / 24, lines


def test_a_dose_of_1970_holds_the_animal_when_the_clock_is_set_after_a_restart(tmp_path: Path) -> None:
    """Drenched by a clock that knew no date, restarted, back, the clock set: the dates are right, and it was held."""
    yard = Yard.named("calm", seed=9, animals=1)
    elapsed, right = YardClock(SPEED), datetime(2026, 11, 24, 9, tzinfo=UTC).timestamp()
    wall = {"at": 300.0, "known": False}

    def clock() -> WallClock:
        return WallClock(elapsed, lambda: float(wall["at"]) + elapsed(), lambda: bool(wall["known"]))

    drench = 'title = "Drench"\n[[treatments]]\nname = "drench"\nml = 10\nwithhold_days = 28\n'
    (tmp_path / "sheet.toml").write_text(drench)
    url = f"mqtt://127.0.0.1:{free_port()}"
    sheet = '[stations.crush]\nsheet = "sheet.toml"'

    async def day() -> None:
        for run_number in (1, 2, 3):
            async with in_process(tmp_path, url, clock(), crush=sheet) as service:
                with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
                    ends = {"indicator": indicator, "panel": panel}
                    await until(lambda: _spoken_to(service, ends), "both links are found")  # noqa: B023
                    await elapsed.play(yard.items(), ends)
                    await until(lambda: len(weighings(tmp_path)) == run_number, "weighed")  # noqa: B023
                    if run_number == 2:
                        wall.update(at=right, known=True)
                        known = lambda: {one["clock"] for one in weighings(tmp_path)} == {"synchronised"}  # noqa: E731
                        await until(known, "both are amended")

    run(day())
    first, second, third = sorted(weighings(tmp_path), key=lambda one: int(one["number"]))
    assert [one["withheld_until"] for one in first["treatments"]] == ["2026-12-23"], "by hand: 28 days, and the rest"
    for later in (second, third):  # the one that stood there before the clock was known, and the one after
        assert "withheld" in later["flags"]
        held = [(one["product"], one["until"]) for one in later["withheld"] if one["kind"] == "meat"]
        assert held == [("drench", "2026-12-23")]
