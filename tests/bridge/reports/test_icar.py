"""ICAR resources against the rules of the published schemas (adewg/ICAR, release 1.3), written out as a JSON Schema."""

from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from jsonschema import Draft7Validator, FormatChecker

from neckyoke.bridge.events import Event, Flag, Treatment
from neckyoke.bridge.reports.icar import resources, without_tag
from neckyoke.bridge.reports.reading import weighing_of

Make = Callable[..., Event]
Dose = Callable[..., Treatment]

TIME = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?Z$"}
IDENTIFIER = {"type": "object", "required": ["id", "scheme"], "properties": {"id": {"type": "string", "minLength": 1}}}
ANIMAL_EVENT: dict[str, Any] = {
    "type": "object",
    "required": ["resourceType", "animal", "eventDateTime", "meta"],
    "properties": {
        "id": {"type": "string"},
        "eventDateTime": TIME,
        "animal": {
            "allOf": [IDENTIFIER],
            "properties": {"scheme": {"const": "std.iso.11785"}, "id": {"pattern": "^[0-9]{15}$"}},
        },
        "meta": {
            "type": "object",
            "required": ["source", "modified"],
            "properties": {
                "source": {"type": "string", "format": "uri"},
                "sourceId": {"type": "string"},
                "modified": TIME,
                "created": TIME,
                "isDeleted": {"type": "boolean"},
            },
        },
    },
}
MASS_UNITS = ["KGM", "GRM", "LBR", "TNE", "MC", "MGM", "ONZ", "PN"]
METHODS = [
    *("LoadCell", "Girth", "Assessed", "WalkOver", "Predicted", "Imaged", "FrontEndCorrelated", "GroupAverage"),
]
DOSE_UNITS = [
    *("MLT", "LTR", "MGM", "GRM", "XTU", "TU", "EA", "XVI", "XAR", "XCQ", "GJ", "GL", "GRN", "L19", "NA", "SYR", "WW"),
]
WEIGHT_EVENT: dict[str, Any] = {
    "allOf": [ANIMAL_EVENT],
    "required": ["weight"],  # the published schema lets it be absent; we never do
    "properties": {
        "resourceType": {"const": "icarWeightEventResource"},
        "weight": {
            "type": "object",
            "required": ["measurement"],
            "properties": {
                "measurement": {"type": "number", "minimum": 0},
                "units": {"enum": MASS_UNITS},
                "method": {"enum": METHODS},
                "resolution": {"type": "number"},
            },
        },
        "device": {
            "type": "object",
            "properties": {"@id": {"type": "string", "format": "uri"}, "@type": {"enum": ["Link"]}},
        },
        "timeOffFeed": {"type": "number"},
    },
}
TREATMENT_EVENT: dict[str, Any] = {
    "allOf": [ANIMAL_EVENT],
    "properties": {
        "resourceType": {"const": "icarTreatmentEventResource"},
        "medicine": {"type": "object", "properties": {"name": {"type": "string"}}},
        "batches": {"type": "array", "items": {"type": "object", "properties": {"identifier": {"type": "string"}}}},
        "withdrawals": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "productType": {"enum": ["Meat", "Milk", "Eggs", "Honey", "Velvet", "Fibre", "Other"]},
                    "endDate": TIME,
                    "market": {"type": "string"},
                },
            },
        },
        "dose": {
            "type": "object",
            "properties": {"doseQuantity": {"type": "number"}, "doseUnits": {"enum": DOSE_UNITS}},
        },
        "comment": {"type": "string"},
    },
}
RULES: dict[str, dict[str, Any]] = {
    "icarWeightEventResource": WEIGHT_EVENT,
    "icarTreatmentEventResource": TREATMENT_EVENT,
}


def made(*events: Event, **given: Any) -> list[dict[str, Any]]:
    weighings = [found for event in events if (found := weighing_of(event)) is not None]
    return list(resources(weighings, "larkmoor", **given))


@pytest.fixture
def day(event: Make, dose: Dose) -> list[Event]:
    return [
        event(1, 318.5, treatments=[dose(35, batch="B7"), dose(None, remark="no weight to dose by")]),
        event(2, 280.0, treatments=[dose(skipped=True), dose(20, withheld_until="unknown", export_from=None)]),
        event(3, None, treatments=[dose(None)]),
        event(4, 300.0, tag=None),
        event(5, 300.0),
        event(5, 300.0, revision=2, flags=[Flag.VOIDED]),
    ]


def test_all_resources_keep_the_schemas_rules(day: list[Event]) -> None:
    found = made(*day, resolution_kg=0.5)
    kinds = [one["resourceType"].removeprefix("icar").removesuffix("EventResource") for one in found]
    assert kinds == ["Weight", "Treatment", "Treatment", "Weight", "Treatment", "Treatment", "Weight"]
    for one in found:
        Draft7Validator(RULES[one["resourceType"]], format_checker=FormatChecker()).validate(one)
    assert len({one["meta"]["sourceId"] for one in found}) == len(found)


@pytest.mark.parametrize(
    ("key", "value"),
    [("animal", None), ("weight", {}), ("weight", {"measurement": -3}), ("weight", {"measurement": 1, "units": "kg"})],
)
def test_the_rules_can_be_broken(day: list[Event], key: str, value: object) -> None:
    broken = {**made(*day)[0], key: value}
    assert not Draft7Validator(WEIGHT_EVENT).is_valid(broken)


def test_a_weight_says_what_was_weighed(day: list[Event]) -> None:
    first = made(*day, resolution_kg=0.5)[0]
    assert first["weight"] == {"measurement": 318.5, "units": "KGM", "method": "LoadCell", "resolution": 0.5}
    assert first["animal"] == {"scheme": "std.iso.11785", "id": "999000000000001"}
    assert first["eventDateTime"] == "2026-11-24T02:01:04.000Z"
    assert first["neckyoke"]["grade"] == "good"


def test_a_treatment_says_dose_batch_and_when_it_ends(day: list[Event]) -> None:
    found = made(*day, zone=ZoneInfo("Australia/Brisbane"))
    assert found[1]["dose"] == {"doseQuantity": 35, "doseUnits": "MLT"}
    assert found[1]["batches"] == [{"identifier": "B7"}]
    assert [(one["market"], one["endDate"]) for one in found[1]["withdrawals"]] == [
        ("domestic", "2026-12-22T14:00:00.000Z"),
        ("export", "2027-01-05T14:00:00.000Z"),
    ]
    assert "withdrawals" not in found[4], "an unknown end cannot be written"
    assert "dose" not in found[2]


def test_a_weighing_struck_out_is_taken_back(day: list[Event]) -> None:
    last = made(*day)[-1]
    assert last["meta"]["isDeleted"] is True


def test_an_animal_without_a_tag_is_counted_not_sent(day: list[Event]) -> None:
    weighings = [found for event in day if (found := weighing_of(event)) is not None]
    assert without_tag(weighings) == 1
