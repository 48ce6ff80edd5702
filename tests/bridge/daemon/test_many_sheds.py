"""Several stations in one daemon, sheds bridged to a farm, one recorder for all, as the README and its pages say."""

import json
import re
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support import readme
from tests.support.broker import Broker
from tests.support.certificates import Authority
from tests.support.daemon import ROOT, Daemon, latest, until
from tests.support.running import run
from tests.support.running import until as until_running
from tests.support.shed import shed

SPEED = 8.0
SHEDS = ("larkmoor", "windmill")
SHED = """\
site = "{site}"
[links.scale-a]
url = "serial:{folder}/scale-a"
[links.panel-a]
url = "serial:{folder}/panel-a"
[links.scale-b]
url = "serial:{folder}/scale-b"
[links.panel-b]
url = "serial:{folder}/panel-b"
[stations.crush]
scale = "scale-a"
readers = [{{ link = "panel-a" }}]
[stations.race]
scale = "scale-b"
readers = [{{ link = "panel-b" }}]
[outlets.events]
file = "events.jsonl"
[outlets.farm]
mqtt = "{broker}"
"""


@pytest.fixture
def ends(tmp_path: Path) -> Iterator[dict[str, PtyEnd]]:
    made = {name: PtyEnd(tmp_path / name) for name in ("scale-a", "panel-a", "scale-b", "panel-b")}
    yield made
    for end in made.values():
        end.unplug()


def test_two_stations_of_one_daemon_weigh_side_by_side(tmp_path: Path, ends: dict[str, PtyEnd], broker: Broker) -> None:
    recorder = broker.record("neckyoke/+/+/weighing")
    mobs = {station: Yard.named("larkmoor", seed=seed, animals=4) for station, seed in (("a", 21), ("b", 22))}
    names = {"indicator": "scale", "panel": "panel"}
    items = sorted(
        (t, f"{names[link]}-{station}", data) for station, mob in mobs.items() for t, link, data in mob.items()
    )
    daemon = Daemon(tmp_path, SHED.format(site="larkmoor", folder=tmp_path, broker=broker.url), SPEED)
    try:
        daemon.start()
        daemon.play(items, ends)
        until(lambda: len(daemon.weighings()) == 8, "eight weighings")
        until(lambda: len({one.event["data"]["weighing"] for one in recorder.messages()}) == 8, "all at the broker")
        assert daemon.stop() == 0
    finally:
        daemon.close()
    for station, mob in (("crush", mobs["a"]), ("race", mobs["b"])):
        there = [data for data in daemon.weighings().values() if data["station"] == station]
        there.sort(key=lambda data: int(data["number"]))
        assert [data["weight"]["kg"] for data in there] == [pytest.approx(stay.kg, rel=0.03) for stay in mob.truth]
        topics = {one.topic for one in recorder.messages() if one.event["data"]["station"] == station}
        assert topics == {f"neckyoke/larkmoor/{station}/weighing"}


def documented_bridge() -> str:
    """The mosquitto configuration of a shed, from `neckyoke help sheds`."""
    found: list[str] = re.findall(r"```\n(listener 1883.*?)```", readme.text(), re.DOTALL)
    (text,) = found
    return text


def bridge_lines(site: str, farm: Broker, authority: Authority) -> list[str]:
    """That bridge, its site, addresses and authority put in; our broker has its own listener."""
    text = documented_bridge().replace("larkmoor", site)
    given = {
        "listener 1883 127.0.0.1": "",
        "farm.example:8883": f"localhost:{farm.port}",
        "/etc/ssl/certs/ca-certificates.crt": str(authority.certificate),
        "restart_timeout 5 60": "restart_timeout 1 1",
    }
    for documented, here in given.items():
        assert documented in text
        text = text.replace(documented, here)
    return text.splitlines()


def shed_persistence(folder: Path) -> list[str]:
    """What Debian's own mosquitto.conf has beside it."""
    return ["persistence true", f"persistence_location {folder}/"]


def test_two_sheds_bridged_to_a_farm_lose_nothing_while_it_is_away(
    tmp_path: Path, make_broker: Callable[..., Broker]
) -> None:
    """Order is ours up to the shed's broker.

    At the farm it is by `sequence`: what comes while the bridge of mosquitto 2.0.11 tries to connect goes before what
    waits, as its log shows ("Connecting bridge (step 2)", a PUBLISH, "Error creating bridge").
    """
    authority = Authority(tmp_path / "authority")
    certificate, key = authority.sign("farm")
    store = tmp_path / "farm-store"
    store.mkdir()
    farm = make_broker(
        [
            *(f"certfile {certificate}", f"keyfile {key}", "allow_anonymous true", "persistence true"),
            f"persistence_location {store}/",
        ]
    )
    sheds = {site: make_broker([*shed_store(tmp_path, site), *bridge_lines(site, farm, authority)]) for site in SHEDS}
    beside = {site: broker.record("neckyoke/+/+/weighing") for site, broker in sheds.items()}
    tls = ("--cafile", str(authority.certificate), "-h", "localhost", "-c", "-x", "100000")
    recorder = farm.record("neckyoke/+/+/weighing", *tls)
    for site, broker in sheds.items():
        deliver(tmp_path / f"{site}-journal", site, broker, range(1, 21))
    recorder.wait_for(40, "/weighing")
    farm.stop(signal.SIGTERM)
    for site, broker in sheds.items():
        deliver(tmp_path / f"{site}-journal", site, broker, range(21, 61))
    farm.start()

    until(lambda: len(ids(recorder)) == 120, "all of both sheds")
    by_site = {site: [one.event for one in recorder.messages() if f"/{site}/" in one.topic] for site in SHEDS}
    for site, events in by_site.items():
        by_sequence = {event["sequence"]: event["data"]["number"] for event in events}
        assert [by_sequence[sequence] for sequence in sorted(by_sequence)] == list(range(1, 61))
        at_the_shed = [one.event["data"]["number"] for one in beside[site].wait_for(60, "/weighing")]
        assert list(dict.fromkeys(at_the_shed)) == list(range(1, 61))
        assert {event["source"] for event in events} == {f"/{site}/crush"}
    assert len(latest([json.loads(one.payload) for one in recorder.messages()])) == 120


def shed_store(folder: Path, site: str) -> list[str]:
    store = folder / f"{site}-store"
    store.mkdir()
    return shed_persistence(store)


def ids(recorder: Any) -> set[str]:
    return {message.event["id"] for message in recorder.messages()}


def deliver(folder: Path, site: str, broker: Broker, numbers: range) -> None:
    """Let a shed's own daemon deliver some weighings to the shed's broker."""

    async def day() -> None:
        async with shed(folder, broker.url, site) as one:
            await one.weigh(numbers)
            await until_running(one.delivered, "delivered to the shed's broker")

    run(day())


def test_the_bridge_carries_every_topic_of_ours_and_no_other() -> None:
    bridged = set(re.findall(r"^topic neckyoke/larkmoor/(\S+) \w+ \d", documented_bridge(), re.MULTILINE))
    assert bridged == {
        *("status", "attention", "link/+", "+/weighing", "+/settled", "+/tag", "+/attention", "+/platform"),
        "+/last",
        *("+/answer", "+/request"),
    }


def test_the_recipes_that_are_shown_are_those_that_are_tried() -> None:
    shown = set(readme.blocks("python"))
    recipes = [(ROOT / "tests" / "recipes" / name).read_text() for name in ("recorder.py", "lamp.py")]
    for block in shown:
        assert any(block in recipe for recipe in recipes), block
    assert len(shown) == 2
