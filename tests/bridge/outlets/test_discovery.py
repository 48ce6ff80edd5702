"""What home automation is told: by the convention's own rules, and its templates read the real topics (jinja2)."""

import asyncio
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jinja2 import Environment

from tests.support.broker import Broker, wait_until
from tests.support.events import weighed
from tests.support.outlet import yard
from tests.support.running import run, until
from tests.support.status import status_of, view_of

TOPIC = re.compile(r"homeassistant/(sensor|binary_sensor)/[a-zA-Z0-9_-]+/[a-zA-Z0-9_-]+/config")
"""PREFIX/COMPONENT/NODE/OBJECT/config, as the convention spells it."""


def read(template: str, payload: str) -> str:
    return Environment(autoescape=False).from_string(template).render(value_json=json.loads(payload))


def test_a_station_shows_up_by_itself(broker: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    status = {"stations": {"crush": {"counts": {"animals": 17}}}, "troubles": [{"about": "disk", "text": "full"}]}
    monkeypatch.setattr("tests.support.outlet.status_of", lambda: status_of(**status))
    recorder = broker.record()

    async def day() -> None:
        async with yard(tmp_path, broker.url, discovery="homeassistant") as one:
            view = view_of(state="settled", kg=318.5, settled_kg=318.5, may_leave=True)
            one.outlet.show("crush", view)
            await asyncio.to_thread(wait_until, lambda: bool(recorder.on("crush/platform")), "it is shown")

    run(day())
    told = {one.topic: json.loads(one.payload) for one in recorder.messages() if one.topic.endswith("/config")}
    assert all(TOPIC.fullmatch(topic) for topic in told)
    assert len({one["unique_id"] for one in told.values()}) == len(told) == 6
    latest = {one.topic: one.payload for one in recorder.messages() if "offline" not in one.payload}
    values = {one["name"]: read(one["value_template"], latest[one["state_topic"]]) for one in told.values()}
    assert values == {
        "Weight": "318.5",
        "Settled weight": "318.5",
        "May leave": "ON",
        "Withheld": "OFF",
        "Animals": "17",
        "Troubles": "1",
    }
    (available,) = {one["availability_topic"] for one in told.values()}
    assert read(next(iter(told.values()))["availability_template"], latest[available]) == "online"
    late = broker.record("homeassistant/#")
    assert all(one.retained for one in late.wait_for(6, "config"))


def test_it_is_off_unless_asked_for(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record()

    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            one.outlet.show("crush", view_of())
            await asyncio.to_thread(wait_until, lambda: bool(recorder.on("crush/platform")), "it is shown")

    run(day())
    assert {one.topic.split("/")[0] for one in recorder.messages()} == {"neckyoke"}


def test_a_broker_that_does_not_take_it_gets_the_events_all_the_same(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    access = tmp_path / "acl"
    access.write_text("topic readwrite neckyoke/#\n")
    broker = make_broker(["allow_anonymous true", f"acl_file {access}"])

    async def day() -> Any:
        async with yard(tmp_path, broker.url, discovery="homeassistant") as one:
            one.outlet.show("crush", view_of())
            await until(lambda: "outlet-farm-discovery" in one.abouts(), "it is told")
            await one.journal.append([weighed(1)])
            await until(lambda: one.health().backlog == 0, "the event is delivered")
            return one.abouts()

    assert run(day()) == ["outlet-farm-discovery"]
