"""ICAR resources against the schemas that the exchange itself publishes, both releases."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.events import Event, Flag, Treatment
from neckyoke.bridge.reports.icar.groups import animals
from neckyoke.bridge.reports.icar.told import Told
from tests.bridge.reports.icar.receiver import COLLECTIONS, Receiver, validator
from tests.bridge.reports.stays import START

Make = Callable[..., Event]
Dose = Callable[..., Treatment]


def told(*events: Event, release: Any = "1.3", **given: Any) -> dict[str, list[dict[str, Any]]]:
    made = Told(release, **given)
    made.add(json.loads(event.to_json()) for event in events)
    return made.resources("larkmoor")


@pytest.fixture
def day(event: Make, dose: Dose) -> list[Event]:
    return [
        event(1, 318.5, treatments=[dose(35, batch="B7", expires="2027-01-31"), dose(None)]),
        event(2, 280.0, treatments=[dose(skipped=True), dose(20, withheld_until="unknown", export_from=None)], pen="1"),
        event(3, None, treatments=[dose(None)]),
        event(4, 300.0, tag=None),
        event(5, 300.0, treatments=[Treatment(name="bolus", amount=2, unit="bolus", route="oral", given_by="M. Hale")]),
        event(5, 300.0, revision=2, flags=[Flag.VOIDED]),
        event(6, 290.0, grade="poor"),
    ]


@pytest.mark.parametrize("release", ["1.3", "1.4"])
def test_all_resources_keep_the_releases_own_rules(day: list[Event], release: str) -> None:
    made = told(*day, release=release, resolution_kg={"crush": 0.5})
    worn = (WornTag(id="999000000000001", until=START), WornTag(id="999000000000021"))
    animal = Animal(animal="a1", tags=worn, sex="steer", visuals=("107",), born="2025-08-01").model_dump(mode="json")
    made["animals"] = list(animals({"a1": (animal, "2026-11-24T02:00:00.000Z")}, "larkmoor", "Cattle", ZoneInfo("UTC")))
    assert set(made) == set(COLLECTIONS)
    for kind, members in made.items():
        assert members, kind
        validator(release, kind).validate({"view": {"totalItems": len(members)}, "member": members})
    identities = [one["meta"]["sourceId"] for members in made.values() for one in members]
    assert len(set(identities)) == len(identities)


@pytest.mark.parametrize(
    ("release", "kind", "wrong"),
    [
        ("1.3", "weights", {"animal": None}),
        ("1.3", "weights", {"weight": {"measurement": -3}}),
        ("1.3", "weights", {"weight": {"measurement": 1, "units": "kg"}}),
        ("1.3", "weights", {"meta": {"source": "urn:neckyoke:larkmoor"}}),
        ("1.3", "treatments", {"dose": {"doseQuantity": 2, "doseUnits": "EA"}}),
        ("1.3", "group-weights", {"groupMethod": "Untagged"}),
        ("1.4", "treatments", {"medicine": {"name": "oral drench"}}),
    ],
)
def test_the_rules_can_be_broken(day: list[Event], release: str, kind: str, wrong: dict[str, Any]) -> None:
    broken = {**told(*day, release=release)[kind][0], **wrong}
    assert not validator(release, kind).is_valid({"member": [broken]})


def test_a_weight_says_what_was_weighed(day: list[Event]) -> None:
    first = told(*day, resolution_kg={"crush": 0.5})["weights"][0]
    assert first["weight"] == {"measurement": 318.5, "units": "KGM", "method": "LoadCell", "resolution": 0.5}
    assert first["animal"] == {"scheme": "std.iso.11785", "id": "999000000000001"}
    assert first["eventDateTime"] == "2026-11-24T02:01:04.000Z"
    assert first["neckyoke"]["grade"] == "good"


def test_a_treatment_says_dose_batch_and_when_it_ends(day: list[Event]) -> None:
    found = told(*day, zone=ZoneInfo("Australia/Brisbane"))["treatments"]
    assert found[0]["dose"] == {"doseQuantity": 35, "doseUnits": "MLT"}
    assert found[0]["batches"] == [{"identifier": "B7", "expiryDate": "2027-01-31T14:00:00.000Z"}]
    assert [(one["market"], one["endDate"]) for one in found[0]["withdrawals"]] == [
        ("domestic", "2026-12-22T14:00:00.000Z"),
        ("export", "2027-01-05T14:00:00.000Z"),
    ]
    assert "dose" not in found[1]


def test_a_withdrawal_whose_end_is_not_known_is_not_told_as_none(day: list[Event]) -> None:
    unknown = told(*day)["treatments"][2]
    assert unknown["withdrawals"] == [{"productType": "Meat", "market": "domestic"}]
    assert "not known" in unknown["comment"]


def test_pieces_are_counted_without_a_unit_that_the_exchange_does_not_have(day: list[Event]) -> None:
    boluses = told(*day)["treatments"][-1]
    assert boluses["dose"] == {"doseQuantity": 2}
    assert boluses["comment"] == "2 boluses"
    assert (boluses["procedure"], boluses["responsible"]) == ("oral", "M. Hale")


def test_a_weight_that_promises_nothing_is_not_sent_as_one(day: list[Event]) -> None:
    made = Told("1.3")
    made.add(json.loads(event.to_json()) for event in day)
    assert "w6" not in {one["id"] for one in made.resources("larkmoor")["weights"]}
    assert made.left_out() == (1, 1)


def amended(event: Make, number: int, revision: int, kg: float | None, minutes: float, **given: Any) -> Event:
    """Make a revision as it is published so many minutes after its weighing."""
    made = event(number, kg, revision=revision, **given)
    return made.model_copy(update={"time": made.time + timedelta(minutes=minutes)})


@pytest.mark.parametrize(
    "change",
    [{"flags": [Flag.VOIDED]}, {"flags": [Flag.PAUSED]}, {"tag": None}, {"kg": None}],
    ids=["struck out", "of a paused job", "another's tag", "no weight after all"],
)
def test_what_an_amendment_takes_away_is_deleted(event: Make, change: dict[str, Any]) -> None:
    receiver = Receiver()
    first = event(1, 301.91)
    receiver.take(told(first)["weights"])
    assert receiver.newest_weights() == {"999000000000001": 301.91}
    second = amended(event, 1, 2, change.pop("kg", 301.91), 5, **change)
    gone = told(first, second)["weights"]
    assert [one["meta"]["isDeleted"] for one in gone] == [True]
    assert gone[0]["meta"]["modified"] > gone[0]["meta"]["created"]
    receiver.take(gone)
    assert receiver.newest_weights() == {}


def test_a_dose_that_was_not_given_after_all_is_deleted(event: Make, dose: Dose) -> None:
    first = event(1, treatments=[dose(30), Treatment(name="bolus", amount=1, unit="bolus")])
    second = amended(
        event, 1, 2, 300.0, 3, treatments=[dose(skipped=True), Treatment(name="bolus", amount=2, unit="bolus")]
    )
    receiver = Receiver()
    receiver.take(told(first)["treatments"])
    receiver.take(told(first, second)["treatments"])
    assert receiver.doses() == [("999000000000001", "bolus", 2)]


def test_a_later_revision_is_later_also_when_the_clock_was_set_back(event: Make) -> None:
    first, second = event(1, 300.0), amended(event, 1, 2, 310.0, -60)
    receiver = Receiver()
    receiver.take(told(first)["weights"])
    receiver.take(told(first, second)["weights"])
    assert receiver.newest_weights() == {"999000000000001": 310.0}


def test_untagged_weights_are_a_group_until_they_have_tags(event: Make) -> None:
    untagged = [event(1, 300.0, tag=None, job="j"), event(2, 320.0, tag=None, job="j")]
    (group,) = told(*untagged)["group-weights"]
    assert [one["weight"] for one in group["animalWeights"]] == [300.0, 320.0]
    assert group["countObserved"] == 2
    later = [amended(event, number, 2, kg, 9, job="j") for number, kg in ((1, 300.0), (2, 320.0))]
    found = told(*untagged, *later)
    assert found["group-weights"][0]["meta"]["isDeleted"] is True
    assert len(found["weights"]) == 2


def test_the_animals_of_a_pen_are_a_set_of_each_job(event: Make) -> None:
    drafted = [event(1, pen="1", job="j"), event(2, pen="1", job="j"), event(3, pen="2", job="k")]
    sets = told(*drafted, amended(event, 2, 2, 300.0, 5, pen="2", job="j"))["animal-sets"]
    assert [(one["name"], [member["id"][-1] for member in one["member"]]) for one in sets] == [
        ("1", ["1"]),
        ("2", ["2"]),
        ("2", ["3"]),
    ]


def test_an_animal_wears_its_newest_tag_and_keeps_the_others() -> None:
    tags = (WornTag(id="999000000000001", until=START), WornTag(id="999000000000021"))
    kept = Animal(animal="a1", tags=tags, sex="heifer").model_dump(mode="json")
    merged = Animal(animal="a2", tags=(WornTag(id="999000000000022"),), merged_into="a1").model_dump(mode="json")
    moment = "2026-11-24T02:00:00.000Z"
    made = list(animals({"a1": (kept, moment), "a2": (merged, moment)}, "larkmoor", "Cattle", ZoneInfo("UTC")))
    assert made[0]["identifier"]["id"] == "999000000000021"
    assert [one["id"] for one in made[0]["alternativeIdentifiers"]] == ["999000000000001"]
    assert made[0]["gender"] == "Female"
    assert [one["meta"].get("isDeleted", False) for one in made] == [False, True]


def test_each_farm_is_a_source_of_its_own(event: Make) -> None:
    other = event(1).model_copy(update={"source": "/hillfoot/crush"})
    made = Told("1.3")
    made.add(json.loads(one.to_json()) for one in (event(1), other))
    sources = {made.resources(farm)["weights"][0]["meta"]["source"] for farm in made.farms}
    assert sources == {"urn:neckyoke:larkmoor", "urn:neckyoke:hillfoot"}
