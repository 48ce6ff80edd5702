"""A receiver that knows only ICAR, and the published schemas, for the tests of what is sent to one."""

import json
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft7Validator, FormatChecker
from referencing import Registry
from referencing.jsonschema import DRAFT7

BASE = "https://schemas.invalid/"
COLLECTIONS = {
    "weights": "icarWeightEventCollection",
    "treatments": "icarTreatmentEventCollection",
    "group-weights": "icarGroupWeightEventCollection",
    "animal-sets": "icarAnimalSetCollection",
    "animals": "icarAnimalCoreCollection",
}


@cache
def validator(release: str, kind: str) -> Draft7Validator:
    """Return what checks a collection of one kind against the release's own schemas (see `about` in the file)."""
    found = json.loads((Path(__file__).parent / f"schemas-{release}.json").read_text())["schemas"]
    registry: Registry[Any] = Registry().with_resources(
        (BASE + path, DRAFT7.create_resource({**schema, "$id": BASE + path})) for path, schema in found.items()
    )
    schema = {"$ref": f"{BASE}collections/{COLLECTIONS[kind]}.json"}
    return Draft7Validator(schema, registry=registry, format_checker=FormatChecker())


class Receiver:
    """Keeps resources by source and sourceId, the latest modified of each, and drops what is deleted."""

    def __init__(self) -> None:
        self.kept: dict[tuple[str, str], dict[str, Any]] = {}

    def take(self, resources: list[dict[str, Any]]) -> None:
        for one in resources:
            key = (one["meta"]["source"], one["meta"]["sourceId"])
            before = self.kept.get(key)
            if before is None or one["meta"]["modified"] > before["meta"]["modified"]:
                self.kept[key] = one

    def of(self, kind: str) -> list[dict[str, Any]]:
        return [
            one for one in self.kept.values() if one["resourceType"] == kind and not one["meta"].get("isDeleted", False)
        ]

    def newest_weights(self) -> dict[str, float]:
        """The newest weight of each animal, by its tag."""
        events = sorted(self.of("icarWeightEventResource"), key=lambda one: one["eventDateTime"])
        return {one["animal"]["id"]: one["weight"]["measurement"] for one in events}

    def doses(self) -> list[tuple[str, str, float | None]]:
        """Every dose that stands: animal, medicine, how much."""
        found = (
            (one["animal"]["id"], one["medicine"]["name"], one.get("dose", {}).get("doseQuantity"))
            for one in self.of("icarTreatmentEventResource")
        )
        return sorted(found, key=str)
