"""What is published is CloudEvents 1.0, read back by an independent reader, and keeps to its own schemas."""

import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast
from uuid import UUID

import pytest
from cloudevents.core.formats.json import JSONFormat
from jsonschema import Draft7Validator, Draft202012Validator, FormatChecker
from pydantic import ValidationError

from neckyoke.bridge.animal_event import WornTag
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import FLAG_TEXT, MODELS, Animal, Event, Flag, JobState, make_id, read_event, wrap
from neckyoke.bridge.reference.schemas import NAMES, schema
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

# The rules of the CloudEvents JSON format for the attributes we use, as in the specification's own schema
# (cloudevents/formats/cloudevents.json, draft-07, release 1.0; written down from memory, not copied).
CLOUDEVENTS_RULES = {
    "type": "object",
    "required": ["id", "source", "specversion", "type"],
    "properties": {
        "id": {"type": "string", "minLength": 1},
        "source": {"type": "string", "minLength": 1, "format": "uri-reference"},
        "specversion": {"type": "string", "minLength": 1, "const": "1.0"},
        "type": {"type": "string", "minLength": 1},
        "datacontenttype": {"type": ["string", "null"], "minLength": 1},
        "dataschema": {"type": ["string", "null"], "minLength": 1, "format": "uri"},
        "subject": {"type": ["string", "null"], "minLength": 1},
        "time": {"type": ["string", "null"], "minLength": 1, "format": "date-time"},
        "data": {"type": ["object", "string", "number", "array", "boolean", "null"]},
    },
    # attribute names: lower-case letters and digits (CloudEvents 1.0, section "Naming Conventions")
    "propertyNames": {"pattern": "^[a-z0-9]{1,20}$"},
}


@pytest.fixture(scope="module")
def events(tmp_path_factory: pytest.TempPathFactory) -> list[Event]:
    """Every kind of event: a day with a note, an unreadable device, an unplugged link."""
    folder = tmp_path_factory.mktemp("events")
    (folder / "neckyoke.toml").write_text(CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002"))
    capture = folder / "capture.jsonl"
    Yard.named("larkmoor", seed=4, animals=5).write_capture(capture, started=datetime(2026, 11, 24, 2, 11, tzinfo=UTC))
    last = json.loads(capture.read_text().splitlines()[-1])["t"]
    extra: list[dict[str, object]] = [
        {"t": last + 1, "request": {"kind": "note", "text": "lame, near hind"}},
        {"t": last + 2, "link": "panel", "state": "lost"},
        *({"t": last + 3 + n, "link": "indicator", "data": "?~#\r\n"} for n in range(25)),
    ]
    with capture.open("a") as out:
        out.writelines(json.dumps(line) + "\n" for line in extra)
    known = Animal(animal=make_id("larkmoor", "105"), tags=(WornTag(id="999000000112233"),), visuals=("105",))
    book = wrap(known, site="larkmoor", time=datetime(2026, 11, 24, 2, 11, tzinfo=UTC), key=f"{known.animal}/1")
    day = list(replay(read_capture(capture), load_config(folder / "neckyoke.toml")))
    job = JobState(job="1", station="crush", turn=1, state="open", why="begun", begun=book.time, timezone="UTC")
    begun = wrap(job, site="larkmoor", time=book.time, key="1/1")
    last = len(day)
    return [*day, *(one.model_copy(update={"sequence": f"{last + n:010d}"}) for n, one in enumerate((book, begun), 1))]


def test_the_day_has_every_kind_of_event(events: list[Event]) -> None:
    assert {event.type for event in events} == set(MODELS)


def test_every_event_keeps_the_cloudevents_rules(events: list[Event]) -> None:
    validator = Draft7Validator(CLOUDEVENTS_RULES, format_checker=Draft7Validator.FORMAT_CHECKER)

    for event in events:
        validator.validate(json.loads(event.to_json()))


def test_the_cloudevents_package_reads_every_event_back(events: list[Event]) -> None:
    for event in events:
        line = event.to_json()

        theirs = JSONFormat().read(None, line.encode())

        assert theirs.get_id() == event.id
        assert theirs.get_source() == event.source
        assert theirs.get_type() == event.type
        assert theirs.get_subject() == event.subject
        assert theirs.get_time() == datetime.fromisoformat(json.loads(line)["time"])
        assert theirs.get_extension("sequence") == event.sequence
        assert cast("Mapping[str, Any]", theirs.get_data()) == json.loads(line)["data"]


@pytest.mark.parametrize("closed", [False, True], ids=["open", "closed"])
@pytest.mark.parametrize("name", NAMES)
def test_every_event_keeps_its_published_schema(events: list[Event], name: str, *, closed: bool) -> None:
    made = schema(name, closed=closed)
    Draft202012Validator.check_schema(made)
    validator = Draft202012Validator(made, format_checker=FormatChecker())
    of_kind = [event for event in events if name == "event" or event.type == f"neckyoke.{name}"]

    assert of_kind
    for event in of_kind:
        body = json.loads(event.to_json())
        validator.validate(body if name == "event" else body["data"])


def test_ids_and_sequences_tell_events_apart(events: list[Event]) -> None:
    assert len({(event.source, event.id) for event in events}) == len(events)
    assert [event.sequence for event in events] == [f"{n:010d}" for n in range(1, len(events) + 1)]


def test_events_are_read_back_as_they_were_written(events: list[Event]) -> None:
    for event in events:
        assert read_event(event.to_json()).to_json() == event.to_json()
        assert read_event(event.to_json().encode()) == Event.model_validate_json(event.to_json())


def test_what_is_no_event_is_refused_with_what_is_wrong(events: list[Event]) -> None:
    table = json.loads(events[0].to_json())
    without = {key: value for key, value in table.items() if key != "data"}
    changes: list[dict[str, object]] = [{"data": {}}, {"time": "soon"}, {"type": 7}]
    wrongs: list[object] = [{**table, **change} for change in changes]
    for wrong in (*wrongs, without, [7], 7, None):
        with pytest.raises(ValidationError):
            read_event(json.dumps(wrong))
    for text in ("", "{", '{"type":"neckyoke.weighing"}', "[" * 5000, b"\xff"):
        with pytest.raises(ValidationError):
            read_event(text)


def test_tag_ids_are_strings_of_fifteen_digits(events: list[Event]) -> None:
    subjects = [str(json.loads(event.to_json())["subject"]) for event in events if event.subject is not None]

    assert subjects
    assert all(re.fullmatch("[0-9]{15}", subject) for subject in subjects)


def test_every_flag_has_one_sentence() -> None:
    assert set(FLAG_TEXT) == set(Flag)
    assert all(text.endswith(".") and text.count(".") == 1 for text in FLAG_TEXT.values())


def test_ids_are_version_5_uuids_and_always_the_same() -> None:
    assert make_id("larkmoor", "crush", "2026-11-24T02:11:00.000Z", 17) == make_id(
        "larkmoor", "crush", "2026-11-24T02:11:00.000Z", 17
    )
    assert UUID(make_id("a", 1)).version == 5


def test_schemas_name_themselves(tmp_path: Path) -> None:
    assert schema("weighing")["$id"] == "urn:neckyoke:weighing:1"
    assert schema("weighing")["$schema"] == "https://json-schema.org/draft/2020-12/schema"
