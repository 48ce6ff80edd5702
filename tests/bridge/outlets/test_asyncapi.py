"""The AsyncAPI document: true to AsyncAPI's own schema, whole, and true to real events, requests and topics."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator, Draft202012Validator

from neckyoke.bridge.asking.requests import KINDS
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.cli import main
from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import MODELS
from neckyoke.bridge.outlets.mqtt.asyncapi import document
from neckyoke.bridge.telling.status import Offline, Online, PlatformView, Status
from neckyoke.simulators.yard import Yard
from tests.support.broker import free_port
from tests.support.daemon import CONFIG
from tests.support.events import link_state, weighed
from tests.support.in_process import in_process
from tests.support.npm import npm_packages
from tests.support.running import run, until


@pytest.fixture(scope="module")
def made() -> dict[str, Any]:
    return document("0.1.0")


def validator(made: dict[str, Any], schema: str) -> Draft202012Validator:
    return Draft202012Validator({"$ref": f"#/components/schemas/{schema}", "components": made["components"]})


def references(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        if isinstance(node.get("$ref"), str):
            yield node["$ref"]
        for value in node.values():
            yield from references(value)
    elif isinstance(node, list):
        for value in node:
            yield from references(value)


def test_it_is_a_valid_document_by_asyncapis_own_schema(made: dict[str, Any], pytestconfig: pytest.Config) -> None:
    schema = json.loads((npm_packages(pytestconfig) / "@asyncapi" / "specs" / "schemas" / "3.0.0.json").read_text())
    Draft7Validator(schema).validate(made)
    broken = {**made, "operations": {"sendWeighing": {"action": "shout"}}}
    assert list(Draft7Validator(schema).iter_errors(broken)), "the schema can tell a wrong document"


def test_every_reference_leads_somewhere(made: dict[str, Any]) -> None:
    found = set(references(made))
    assert found
    for reference in found:
        node: Any = made
        for step in reference.removeprefix("#/").split("/"):
            node = node[step]
        assert node


def test_every_type_of_event_and_kind_of_request_is_in_it(made: dict[str, Any]) -> None:
    messages = made["components"]["messages"]
    assert set(MODELS) <= {message["name"] for message in messages.values()}
    requests = {one["$ref"].rsplit("/", 1)[1] for one in made["components"]["schemas"]["Request"]["oneOf"]}
    assert requests == {model.__name__ for model in KINDS.values()}
    carried = {name for channel in made["channels"].values() for name in channel["messages"]}
    assert carried == set(messages)
    for channel in made["channels"].values():
        assert channel["address"].count("{") == len(channel["parameters"])


def test_real_events_are_valid_by_it_and_by_no_other_message(made: dict[str, Any], tmp_path: Path) -> None:
    (tmp_path / "neckyoke.toml").write_text(CONFIG.format(indicator="tcp://127.0.0.1:1", panel="tcp://127.0.0.1:2"))
    capture = tmp_path / "capture.jsonl"
    Yard.named("larkmoor", seed=4, animals=4).write_capture(capture, started=datetime(2026, 11, 24, 2, 11, tzinfo=UTC))
    lines = [event.to_json() for event in replay(read_capture(capture), load_config(tmp_path / "neckyoke.toml"))]
    lines += [weighed(1).to_json(), link_state(1).to_json()]
    seen = set()
    for event in map(json.loads, lines):
        fitting = []
        for message in made["components"]["messages"].values():
            schema = message["payload"]["$ref"].rsplit("/", 1)[1]
            if schema.endswith("Event") and validator(made, schema).is_valid(event):
                fitting.append(message["name"])
        assert fitting == [event["type"]]
        seen.add(event["type"])
    assert seen >= {"neckyoke.weighing", "neckyoke.settled", "neckyoke.tag", "neckyoke.link"}


def test_requests_are_valid_by_it(made: dict[str, Any]) -> None:
    asks = validator(made, "Request")
    asks.validate({"kind": "note", "station": "crush", "text": "lame, near hind"})
    asks.validate({"kind": "status"})
    assert not asks.is_valid({"kind": "note", "text": ""})
    assert not asks.is_valid({"kind": "dance"})


def test_a_real_status_and_a_real_platform_are_valid_by_it(made: dict[str, Any], tmp_path: Path) -> None:
    """Sent as the outlet sends them by a daemon of two links that are not there, and a broker that is not either."""

    async def told() -> Any:
        async with in_process(tmp_path, f"mqtt://127.0.0.1:{free_port()}", WallClock()) as service:
            await until(lambda: len(service.status().troubles) >= 1, "the missing broker is a trouble")
            return json.loads(service.outlets["farm"].taker._online())  # type: ignore[attr-defined]

    online = run(told())
    topic = validator(made, "StatusTopic")
    topic.validate(online)
    topic.validate({"state": "offline", "session": "1f", "reason": "lost"})
    assert not topic.is_valid({**online, "journal": {}})
    validator(made, "PlatformView").validate(online["stations"]["crush"]["view"])
    assert {
        **Status.model_validate(online).model_dump(mode="json"),
        "state": "online",
        "session": online["session"],
    } == online
    assert {"expected", "not_seen"}.isdisjoint(online["stations"]["crush"]["counts"]), "there is no roster"


def test_every_key_of_platform_and_status_is_described(made: dict[str, Any]) -> None:
    schemas = made["components"]["schemas"]
    assert set(schemas["PlatformView"]["properties"]) == set(PlatformView.model_fields)
    assert set(schemas["Online"]["properties"]) == set(Online.model_fields)
    assert set(schemas["Offline"]["properties"]) == set(Offline.model_fields)
    refs = set(re.findall(r"#/components/schemas/(\w+)", json.dumps(made)))
    assert refs <= set(schemas)


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "--asyncapi"]) == 0
    assert json.loads(capsys.readouterr().out)["asyncapi"] == "3.0.0"
