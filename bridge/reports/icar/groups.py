"""What concerns several animals: weights of those nobody knows, the animals of a pen, and the animals themselves.

A group weight event holds the unknown animals of one job (the others have a weight event each); the animals that
a draft sent to one pen are an animal set, job by job.  Who is in a group is said by the newest revisions alone; one
that any revision ever put somebody in is told of as deleted when nobody is left.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta, tzinfo
from typing import TypeAlias

from neckyoke.bridge.events import make_id, spell_time
from neckyoke.bridge.reports.icar.terms import Resource, metadata, midnight, named, source_of, tagged
from neckyoke.bridge.reports.icar.weighings import is_weight, stands
from neckyoke.bridge.reports.reading import Data, known_as

Place: TypeAlias = tuple[str, str, str, str]
"""A group: its kind, station, job and pen."""
Row: TypeAlias = tuple[Data, str, str]

SEXES = {
    **dict.fromkeys(("female", "f", "heifer", "cow", "ewe", "doe", "hind"), "Female"),
    **dict.fromkeys(("male", "m", "bull", "ram", "buck", "stag"), "Male"),
    **dict.fromkeys(("steer", "wether", "castrate", "bullock"), "MaleNeuter"),
}
"""What rosters call a sex, by what icarAnimalGenderType calls it; common practice, no source."""


def places(data: Data) -> Iterator[Place]:
    """Yield the groups that one revision of a weighing belongs to."""
    if not stands(data):
        return
    if known_as(data) is None and is_weight(data):
        yield "group-weights", data["station"], _job(data), ""
    if known_as(data) is not None and data.get("pen"):
        yield "animal-sets", data["station"], _job(data), data["pen"]


def group(place: Place, rows: Iterable[Row], farm: str, resolution_kg: float | None) -> Resource:
    """Make the resource of a group.

    `rows` are the weighings that any revision of put there: the newest of each, and when it was created and modified.
    """
    kind, station, job, pen = place
    held = list(rows)
    inside = [data for data, _, _ in held if place in places(data)]
    identity = make_id(farm, kind, station, job, pen)
    created = min(row[1] for row in held)
    counted = timedelta(milliseconds=sum(data.get("revision", 1) for data, _, _ in held))  # grows with every change
    modified = spell_time(max(datetime.fromisoformat(row[2]) for row in held) + counted)
    meta = metadata(farm, identity, created=created, modified=modified, gone=not inside)
    if kind == "animal-sets":
        members = {known_as(data): named(data, farm) or {} for data in inside}
        return {**_set(identity, "Enclosure", list(members.values())), "meta": meta, "name": pen}
    made: Resource = {
        "resourceType": "icarGroupWeightEventResource",
        "id": identity,
        "meta": meta,
        "eventDateTime": max(data.get("settled") or data["off"] for data, _, _ in held),
        "groupMethod": "EmbeddedAnimalSet",
        "countObserved": len(inside),
        "embeddedAnimalSet": _set(identity, "Session", []),
        "units": "KGM",
        "method": "LoadCell",
        "animalWeights": [{"weight": data["weight"]["kg"]} for data in inside],
        "device": {"@type": "Link", "@id": f"{source_of(farm)}:{station}"},
    }
    if resolution_kg is not None:
        made["resolution"] = resolution_kg
    return made


def _set(identity: str, purpose: str, members: list[Resource]) -> Resource:
    return {"resourceType": "icarAnimalSetResource", "id": identity, "purpose": purpose, "member": members}


def animals(told: Mapping[str, tuple[Data, str]], farm: str, species: str, zone: tzinfo) -> Iterator[Resource]:
    """Make the animal resource of each animal of the herd book, by its id: what it is, and when that was said.

    The tag that it wears identifies it, those it wore are alternatives.  One merged into another is deleted.
    """
    for name, (data, time) in told.items():
        worn = [tag["id"] for tag in data.get("tags", ()) if tag.get("until") is None]
        now = tagged(worn[-1]) if worn else {"scheme": f"{source_of(farm)}:animals", "id": name}
        before = [tag["id"] for tag in data.get("tags", ()) if tag["id"] != now["id"]]
        made: Resource = {
            "resourceType": "icarAnimalCoreResource",
            "meta": metadata(farm, name, created=time, modified=time, gone=bool(data.get("merged_into"))),
            "identifier": now,
            "specie": species,
            "gender": SEXES.get(str(data.get("sex") or "").casefold(), "Unknown"),
        }
        if before:
            made["alternativeIdentifiers"] = [tagged(tag) for tag in before]
        if data.get("visuals"):
            made["managementTag"] = data["visuals"][-1]
        if data.get("born"):
            made["birthDate"] = midnight(data["born"], zone)
        yield made


def _job(data: Data) -> str:
    """Return what tells the jobs of a station apart; of before there were jobs, the sheet."""
    return data.get("job") or data.get("sheet") or ""
