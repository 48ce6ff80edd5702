"""From real terminals to the events file: the daemon in a process of its own, and the replay of what it recorded."""

import json
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.station.stops.visits import WHY
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.crush import STEERS
from tests.support.daemon import CONFIG, ROOT, Daemon, latest, until

SPEED = 8.0
WALL = ("on", "settled", "off", "final_at", "clock")


@pytest.fixture
def ends(tmp_path: Path) -> Iterator[dict[str, PtyEnd]]:
    with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
        yield {"indicator": indicator, "panel": panel}


@pytest.fixture
def daemon(tmp_path: Path, ends: dict[str, PtyEnd]) -> Iterator[Daemon]:
    urls = {name: f"serial:{tmp_path / name}?baud=9600" for name in ends}
    made = Daemon(tmp_path, CONFIG.format(**urls), SPEED)
    yield made
    made.close()


def _replay(daemon: Daemon, capture: Path) -> list[dict[str, Any]]:
    out = daemon.folder / "replayed.jsonl"
    command = ["-m", "neckyoke.bridge.cli", "replay", str(capture), "--config", str(daemon.config), "--out", str(out)]
    subprocess.run([sys.executable, *command], cwd=ROOT, check=True)
    return [json.loads(line) for line in out.read_text().splitlines()]


def _timeless(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in WALL}


def test_the_daemon_on_two_terminals_and_the_replay_of_its_capture_give_the_same_weighings(
    daemon: Daemon, ends: dict[str, PtyEnd]
) -> None:
    yard = Yard.named("larkmoor", seed=11, animals=12)
    daemon.start()

    daemon.play(yard.items(), ends)

    until(lambda: len(daemon.weighings()) == len(yard.truth), "a weighing an animal")
    assert daemon.stop() == 0
    live = [e["data"] for e in daemon.events() if e["type"] == "neckyoke.weighing"]
    again = [e["data"] for e in _replay(daemon, daemon.folder / "captures") if e["type"] == "neckyoke.weighing"]
    assert [_timeless(data) for data in again] == [_timeless(data) for data in live]
    for stay, data in zip(yard.truth, latest_in_order(live), strict=True):
        assert data["weight"]["kg"] == pytest.approx(stay.kg, rel=0.02)


def test_two_that_were_drenched_and_turn_out_to_be_one_were_drenched_twice(
    daemon: Daemon, ends: dict[str, PtyEnd]
) -> None:
    """What was told while it could be given stands; and the replay, which learns as the daemon does, agrees."""
    yard = Yard.named("calm", seed=8, animals=2)
    daemon.start()
    until(lambda: _all_up_when_spoken_to(daemon, ends), "both links up")
    assert daemon.ask({"kind": "begin", "text": STEERS})["done"]
    daemon.play(yard.items(), ends)
    until(lambda: len(daemon.weighings()) == 2, "both are weighed")

    for number in (1, 2):
        assert daemon.ask({"kind": "identify", "number": number, "visual": str(number)})["done"], "they are known by it"
    assert "Are they one animal?" in daemon.ask({"kind": "merge", "visual": "1", "other": "2"})["text"]
    assert daemon.ask({"kind": "reply", "choice": "yes"})["done"]
    until(lambda: len({data["animal"]["id"] for data in daemon.weighings().values()}) == 1, "they are one")

    assert daemon.stop() == 0
    for data in (*daemon.weighings().values(), *latest(_replay(daemon, daemon.folder / "captures")).values()):
        assert [(dose["name"], dose["skipped"]) for dose in data["treatments"]] == [("drench", False)]


def latest_in_order(weighings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    best = latest([{"type": "neckyoke.weighing", "data": data} for data in weighings])
    return sorted(best.values(), key=lambda data: int(data["number"]))


@pytest.mark.long
def test_unplugging_both_devices_again_and_again_loses_no_later_stay_and_leaks_nothing(
    daemon: Daemon, ends: dict[str, PtyEnd]
) -> None:
    yard = Yard.named("calm", seed=5, animals=6)
    daemon.start()
    until(lambda: _all_up_when_spoken_to(daemon, ends), "both links up")
    until(lambda: any((daemon.folder / "captures").glob("*.gz")), "the capture's first part")
    _unplug_and_plug(daemon, ends)
    before = daemon.descriptors

    for _ in range(15):  # two hundred: tests/bench/drops.py
        _unplug_and_plug(daemon, ends)
    daemon.play(yard.items(), ends)

    until(lambda: len(daemon.weighings()) == len(yard.truth), "a weighing an animal")
    # a question's own socket may still be closing when it has been answered, before as after
    until(lambda: not Counter(daemon.descriptors) - Counter(before), "no more descriptors than before")


def _unplug_and_plug(daemon: Daemon, ends: dict[str, PtyEnd]) -> None:
    for end in ends.values():
        end.unplug()
    until(lambda: all(state in {"lost", "missing"} for state in _states(daemon)), "both losses noticed")
    for end in ends.values():
        end.plug()
    until(lambda: _all_up_when_spoken_to(daemon, ends), "both links up again")


def _all_up_when_spoken_to(daemon: Daemon, ends: dict[str, PtyEnd]) -> bool:
    """A link that was just lost is believed again when it says something."""
    for end in ends.values():
        end.write(b"\r\n")
    return all(state == "up" for state in _states(daemon))


def _states(daemon: Daemon) -> list[str]:
    return [link["state"] for link in daemon.ask({"kind": "status"})["status"]["links"].values()]


def test_a_note_told_to_the_running_daemon_stands_in_the_weighing(daemon: Daemon, ends: dict[str, PtyEnd]) -> None:
    yard = Yard.named("larkmoor", seed=3, animals=2)
    daemon.start()
    daemon.play(yard.items(), ends)
    until(lambda: len(daemon.weighings()) == 2, "two weighings")

    answer = daemon.ask({"kind": "note", "station": "crush", "number": 1, "text": "lame, near hind"})

    assert answer["done"], answer
    until(lambda: any(data["notes"] == ["lame, near hind"] for data in daemon.weighings().values()), "the note")


def test_killed_in_mid_stay_the_animal_still_has_one_weighing_flagged_interrupted(
    daemon: Daemon, ends: dict[str, PtyEnd]
) -> None:
    yard = Yard.named("calm", seed=8, animals=1)
    stay = yard.truth[0]
    settled = [item for item in yard.items() if item[0] < stay.off_t - 0.5]
    daemon.start()
    daemon.play(settled, ends)
    until(lambda: any(e["type"] == "neckyoke.settled" for e in daemon.events()), "the settled weight")

    daemon.kill(*ends.values())
    daemon.start()

    until(lambda: len(daemon.weighings()) == 1, "the weighing")
    data = next(iter(daemon.weighings().values()))
    assert "interrupted" in data["flags"]
    assert data["weight"]["kg"] == pytest.approx(stay.kg, rel=0.02)
    assert data["tag"]["id"] == stay.tag


def test_killed_in_mid_stay_and_back_while_it_still_stands_there_the_animal_has_one_weighing(
    daemon: Daemon, ends: dict[str, PtyEnd]
) -> None:
    yard = Yard.named("calm", seed=11, animals=2)
    first, second = yard.truth
    cut_t = (first.all_on_t + first.leave_t) / 2
    daemon.start()
    daemon.play([item for item in yard.items() if item[0] < cut_t], ends)
    until(lambda: any(e["type"] == "neckyoke.settled" for e in daemon.events()), "the settled weight")
    daemon.kill(*ends.values())
    daemon.start()
    until(lambda: len(daemon.weighings()) == 1, "the interrupted weighing")
    until(lambda: _all_up_when_spoken_to(daemon, ends), "both links")
    later = [(t - cut_t, link, data) for t, link, data in yard.items() if t >= cut_t]
    daemon.play(later, ends)
    until(lambda: len(daemon.weighings()) == 2, "the other animal's weighing")

    stood, came = sorted(daemon.weighings().values(), key=lambda data: data["number"])
    assert (stood["tag"]["id"], came["tag"]["id"]) == (first.tag, second.tag)
    assert stood["revision"] >= 2
    assert {"interrupted", "on-at-start"} <= set(stood["flags"])
    assert "repeat" not in stood["flags"]
    assert stood["why"] == WHY
