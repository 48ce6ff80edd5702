"""The published schemas: open to what is added, closed for us, tied to the type, clean in the hands of generators."""

import importlib.util
import json
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from neckyoke.bridge.events import MODELS, Attention, wrap
from neckyoke.bridge.reference.schemas import NAMES, schema
from tests.support.events import DAY, SITE, link_state, weighed
from tests.support.npm import npm_packages

DISK = wrap(Attention(station=None, about="disk", text="full"), site=SITE, time=DAY, key="1")
EVENTS = [weighed(1), link_state(1), DISK]


def valid(event: dict[str, Any], *, closed: bool = False) -> bool:
    return Draft202012Validator(schema("event", closed=closed), format_checker=FormatChecker()).is_valid(event)


def spelled(event: Any) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(event.to_json())
    return made


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: event.type)
def test_a_new_field_or_extension_is_no_error_for_a_recorder_and_one_for_us(event: Any) -> None:
    plain = spelled(event)
    extended = {**plain, "traceparent": "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01"}
    grown = {**plain, "data": {**plain["data"], "from_a_later_version": 1}}
    for closed in (False, True):
        assert valid(plain, closed=closed)
        assert valid(extended, closed=closed) is not closed
        assert valid(grown, closed=closed) is not closed


def test_data_is_tied_to_the_type() -> None:
    weighing, link = spelled(weighed(1)), spelled(link_state(1))
    assert not valid({**link, "data": weighing["data"]})
    assert not valid({**weighing, "type": "neckyoke.settled"})
    assert not valid({**weighing, "dataschema": "urn:neckyoke:link:1"})


@pytest.mark.parametrize("key", ["revision", "flags", "treatments", "final", "gain", "job"])
def test_what_is_always_written_is_required(key: str) -> None:
    event = spelled(weighed(1))
    del event["data"][key]
    assert not valid(event)


def test_a_time_must_be_one() -> None:
    event = spelled(weighed(1))
    dated = schema("weighing")["properties"]
    assert {dated[key].get("format") for key in ("on", "off")} == {"date-time"}
    assert schema("event")["$defs"]["WeighingEvent"]["properties"]["time"]["format"] == "date-time"
    assert not valid({**event, "time": "yesterday"}) or "date-time" not in FormatChecker.checkers


def test_a_title_is_a_models_and_stands_once() -> None:
    titles = Counter(re.findall(r'"title": "([^"]+)"', json.dumps(schema("event"))))
    assert set(titles.values()) == {1}
    assert {model.__name__ for model in MODELS.values()} <= set(titles)


def names_of(pattern: str, text: str) -> set[str]:
    found = set(re.findall(pattern, text, re.MULTILINE))
    assert not [name for name in found if name[-1].isdigit()], "a generator numbers what it cannot tell apart"
    return found


def test_typescript_made_of_them_is_clean(tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """By json-schema-to-typescript, of the npm registry."""
    modules = npm_packages(pytestconfig)
    (tmp_path / "event.json").write_text(json.dumps(schema("event")))
    command = [
        "node",
        str(modules / "json-schema-to-typescript" / "dist" / "src" / "cli.js"),
        str(tmp_path / "event.json"),
    ]
    made = subprocess.run(command, check=True, capture_output=True, text=True, timeout=60).stdout
    names = names_of(r"^export (?:interface|type) (\w+)", made)
    models = {model.__name__ for model in MODELS.values()}
    assert models | {f"{name}Event" for name in models} <= names
    assert re.search(r'^  type: "neckyoke.weighing"', made, re.MULTILINE)
    assert re.search(r"^  revision: number", made, re.MULTILINE), "required"


def test_python_models_made_of_them_are_clean_and_read_every_event(tmp_path: Path) -> None:
    """By datamodel-code-generator, of PyPI."""
    source, made = tmp_path / "event.json", tmp_path / "made.py"
    source.write_text(json.dumps(schema("event")))
    options = ["--input", str(source), "--input-file-type", "jsonschema", "--output", str(made)]
    options += ["--output-model-type", "pydantic_v2.BaseModel", "--use-title-as-name", "--formatters", "builtin"]
    options += ["--enum-field-as-literal", "all"]
    command = [sys.executable, "-W", "ignore", "-m", "datamodel_code_generator", *options]
    subprocess.run(command, check=True, capture_output=True, text=True, timeout=90)
    names_of(r"^class (\w+)", made.read_text())
    spec = importlib.util.spec_from_file_location("made", made)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["made"] = module
    try:
        spec.loader.exec_module(module)
        for event in EVENTS:
            read = module.Event.model_validate_json(event.to_json())
            assert read.root.id == event.id
    finally:
        del sys.modules["made"]


def test_the_command_prints_them(capsys: pytest.CaptureFixture[str]) -> None:
    from neckyoke.bridge.cli import main

    assert main(["schema", "--list"]) == 0
    assert tuple(capsys.readouterr().out.split()) == NAMES
    assert main(["schema", "weighing", "--closed"]) == 0
    assert json.loads(capsys.readouterr().out)["additionalProperties"] is False
    assert main(["schema", "weighing"]) == 0
    assert "additionalProperties" not in json.loads(capsys.readouterr().out)
