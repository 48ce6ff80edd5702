"""Files that changed are taken over while weighing goes on; what cannot be is said, and a wrong one changes nothing."""

import asyncio
import signal
from collections.abc import Callable
from pathlib import Path

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.events import Attention
from neckyoke.bridge.station.station import Station
from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.daemon import CONFIG, Daemon
from tests.support.daemon import until as until_now
from tests.support.in_process import in_process
from tests.support.running import run, until

NOWHERE = "mqtt://127.0.0.1:9"
SHEET = 'title = "autumn weigh-in"\nroster = "roster.csv"\n'


def told(folder: Path, change: Callable[[str], str], *more: Callable[[], object]) -> tuple[list[str], Service]:
    """Run a daemon, change its configuration, then the other files one by one; return what each reload says."""
    file = folder / "neckyoke.toml"

    async def day() -> tuple[list[str], Service]:
        with PtyEnd(folder / "indicator"), PtyEnd(folder / "panel"):
            async with in_process(folder, NOWHERE, WallClock(probe=lambda: True)) as service:
                await until(lambda: all(link.state == "up" for link in service.status().links.values()), "both up")
                before, lives = dict(service.supervisors), service.status().links
                file.write_text(change(file.read_text()))
                said = [(await service.desk.ask({"kind": "reload"}))["text"]]
                for step in more:
                    step()
                    said.append((await service.desk.ask({"kind": "reload"}))["text"])
                assert dict(service.supervisors) == before, "no link was touched"
                assert {name: link.state for name, link in service.status().links.items()} == dict.fromkeys(lives, "up")
                service.pipeline.say(Attention(station=None, about="test", text="now", over=True, lasted_s=0.0))
                files = [name for name in service.outlets if name != "farm"]
                await until(lambda: not any(service.outlets[name].health().backlog for name in files), "written")
                return said, service

    return run(day())


def test_outlets_come_go_and_change_each_from_its_own_position(tmp_path: Path) -> None:
    def change(text: str) -> str:
        return text.split("[outlets.farm]", maxsplit=1)[0].replace('"events.jsonl"', '"elsewhere.jsonl"') + (
            '[outlets.second]\nfile = "second.jsonl"\n'
        )

    said, service = told(tmp_path, change)

    assert said == ["Outlet events begins again.  Outlet farm ended.  Outlet second begins."]
    first, moved, second = (
        (tmp_path / name).read_text().splitlines() for name in ("events.jsonl", "elsewhere.jsonl", "second.jsonl")
    )
    assert [*first, *moved] == second, "one went on where it was, the new one has everything"
    assert "farm" not in service.outlets


def test_a_wrong_file_changes_nothing_at_all(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)

    def wrong(text: str) -> str:
        kept = text.split("[outlets.farm]", maxsplit=1)[0]
        return kept.replace("[outlets.events]", 'sheet = "sheet.toml"\n[outlets.events]')

    said, service = told(tmp_path, wrong, lambda: (tmp_path / "neckyoke.toml").write_text('site = larkmoor"'))

    assert said[0].startswith(f"Nothing was changed.  {tmp_path}/roster.csv: file: there is no such file")
    assert said[1].startswith("Nothing was changed.")
    assert "line 1" in said[1]
    assert set(service.outlets) == {"events", "farm"}


def test_a_sheet_that_was_mended_holds_and_one_that_was_not_is_left(tmp_path: Path) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET)
    (tmp_path / "roster.csv").write_text("visual\n101\n")

    def change(text: str) -> str:
        return text.replace("capacity_kg = 1500", 'capacity_kg = 1500\nsheet = "sheet.toml"')

    said, service = told(
        tmp_path, change, lambda: None, lambda: (tmp_path / "roster.csv").write_text("visual\n101\n102\n")
    )

    assert said[1] == "Nothing that can be taken over has changed."
    assert all(one.startswith("Station crush: 'autumn weigh-in' ") for one in (said[0], said[2]))
    assert "2 animals" in said[2]
    assert set(service.outlets) == {"events", "farm"}, "nothing else was touched"


def test_what_waits_for_the_next_start_is_named(tmp_path: Path) -> None:
    def change(text: str) -> str:
        return text + '[page]\n[links.second]\nurl = "tcp://127.0.0.1:9"\n[stations.race]\nscale = "second"\n'

    said, _ = told(tmp_path, change)

    left = "From the next start on (sudo systemctl restart neckyoke): [links.second], [stations.race], page."
    assert said == [f"Nothing that can be taken over has changed.  {left}"]


def test_a_station_and_a_link_that_changed_are_taken_over_once_no_animal_stands_there(tmp_path: Path) -> None:
    """The scale's link stays open: not a byte of it is lost.  The capture has a part before and one after."""
    wait = "Stations and links wait: an animal stands there.  Tell reload again when it has left."
    done = "Station crush goes on by its new table.  Link panel is opened anew."
    file = tmp_path / "neckyoke.toml"
    shown = [300.0]

    async def stream(scale: PtyEnd) -> None:
        while True:
            scale.write(f"{shown[0]:8.1f} kg\r\n".encode())
            await asyncio.sleep(0.1)

    async def day() -> None:
        with PtyEnd(tmp_path / "indicator") as scale, PtyEnd(tmp_path / "panel") as panel:
            async with in_process(tmp_path, NOWHERE, WallClock(probe=lambda: True)) as service:

                def station() -> Station:
                    return service.pipeline.site.stations["crush"]

                await until(lambda: all(link.state == "up" for link in service.status().links.values()), "both up")
                before, first = dict(service.supervisors), station()
                streaming = asyncio.create_task(stream(scale))
                await until(lambda: station().view.number is not None, "it stands there")
                file.write_text(
                    file.read_text().replace("/panel?baud=9600", "/panel?baud=4800").replace("1500", "1600")
                )
                assert (await service.desk.ask({"kind": "reload"}))["text"] == wait
                assert (station(), service.supervisors) == (first, before)
                shown[0] = 0.0
                await until(lambda: station().view.number is None, "it has left")
                assert (await service.desk.ask({"kind": "reload"}))["text"] == done
                assert station().settings.capacity_kg == 1600
                assert service.supervisors["indicator"] is before["indicator"]
                assert service.supervisors["panel"] is not before["panel"]
                assert service.status().links["indicator"].openings == 1
                await until(lambda: service.status().links["panel"].state == "up", "it is open again")
                shown[0] = 320.0
                panel.write(b"LA 982 000000112203\r\n" * 3)
                await until(lambda: station().view.number == 2, "the next one")
                assert (await service.desk.ask({"kind": "reload"}))["text"].startswith("Nothing that can be taken over")
                streaming.cancel()

    run(day())
    assert len([*(tmp_path / "captures").iterdir()]) == 2


def test_a_hangup_does_not_end_the_daemon(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path, CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:10"))
    try:
        daemon.start()
        assert daemon.process is not None
        daemon.process.send_signal(signal.SIGHUP)
        until_now(lambda: "Nothing that can be taken over has changed." in daemon.log.read_text(), "it was read again")
        assert daemon.stop() == 0
    finally:
        daemon.close()
