"""Weighings as resources of the ICAR animal data exchange (release 1.3): weight events and treatment events.

Facts of the schemas (adewg/ICAR on GitHub, Apache-2.0): an animal event names its animal, `meta` its source and when it
was modified, units are UN/CEFACT (KGM, MLT), the scheme of a tag is `std.iso.11785`, its fifteen digits together.
`sourceId` is the weighing's id: a receiver that keys on it drops repeats, and a later revision has a later `modified`.
An animal without a tag cannot be in them: those weighings are left out, and `without_tag` counts them.  What the
resources have no field for (grade, flags, notes) rides along under `neckyoke`, as the schemas' tolerant reading allows.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, tzinfo
from typing import Any

from neckyoke.bridge.events import spell_time
from neckyoke.bridge.job.doses.dosing import COUNTED
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.reports.reading import Data, amount_of, is_void, latest

TAG_SCHEME = "std.iso.11785"
UNITS = {"mL": "MLT", "L": "LTR", "mg": "MGM", "g": "GRM", **dict.fromkeys(sorted(COUNTED), "EA")}
"""The release's dose units (UN/CEFACT codes) for ours; what is counted is `EA`, each."""
MARKETS = {"withheld_until": "domestic", "export_from": "export"}


def resources(
    weighings: Iterable[Data], site: str, *, resolution_kg: float | None = None, zone: tzinfo = UTC
) -> Iterator[dict[str, Any]]:
    """Make the resources of all weighings: a weight event each, and a treatment event for each treatment given.

    `resolution_kg` is the scale's interval; `zone` that of the withholding dates (the farm's).  A
    struck-out weighing is sent with `meta.isDeleted`, so that a receiver that has it takes it back.
    """
    for data in latest(weighings):
        if data.get("tag"):
            if data["weight"]["kg"] is not None:
                yield weight_event(data, site, resolution_kg)
            yield from treatment_events(data, site, zone)


def without_tag(weighings: Iterable[Data]) -> int:
    """Count the weighings that cannot be resources."""
    return sum(1 for data in latest(weighings) if not data.get("tag") and not is_void(data))


def weight_event(data: Data, site: str, resolution_kg: float | None = None) -> dict[str, Any]:
    """Make the weight event of one weighing that has a tag and a weight."""
    weight: dict[str, Any] = {"measurement": data["weight"]["kg"], "units": "KGM", "method": "LoadCell"}
    if resolution_kg is not None:
        weight["resolution"] = resolution_kg
    return {
        **_core("icarWeightEventResource", data["weighing"], data, site),
        "weight": weight,
        "device": {"@type": "Link", "@id": f"urn:neckyoke:{site}:{data['station']}"},
        "neckyoke": {
            "grade": data["weight"]["grade"],
            "flags": list(data.get("flags", ())),
            "notes": list(data.get("notes", ())),
            "revision": data.get("revision", 1),
        },
    }


def treatment_events(data: Data, site: str, zone: tzinfo = UTC) -> Iterator[dict[str, Any]]:
    """Make the treatment events of one weighing that has a tag; none for what was skipped.

    A withdrawal ends with the midnight that begins the first clear date; an unknown one has no end to write.
    """
    for place, one in enumerate(data.get("treatments", ()), 1):
        if one.get("skipped"):
            continue
        event = {
            **_core("icarTreatmentEventResource", f"{data['weighing']}-{place}", data, site),
            "medicine": {"name": one["name"]},
        }
        amount, unit = amount_of(one)
        if amount is not None and unit in UNITS:
            event["dose"] = {"doseQuantity": amount, "doseUnits": UNITS[unit]}
        if one.get("batch"):
            event["batches"] = [{"identifier": one["batch"]}]
        withdrawals = [
            {"productType": "Meat", "endDate": _midnight(one[key], zone), "market": market}
            for key, market in MARKETS.items()
            if one.get(key) and one[key] != UNKNOWN
        ]
        if withdrawals:
            event["withdrawals"] = withdrawals
        if one.get("remark"):
            event["comment"] = one["remark"]
        yield event


def _midnight(day: str, zone: tzinfo) -> str:
    return spell_time(datetime.fromisoformat(day).replace(tzinfo=zone))


def _core(kind: str, identity: str, data: Data, site: str) -> dict[str, Any]:
    meta: dict[str, Any] = {
        "source": f"urn:neckyoke:{site}",
        "sourceId": identity,
        "modified": data["off"],
        "created": data["off"],
    }
    if is_void(data):
        meta["isDeleted"] = True
    return {
        "resourceType": kind,
        "id": identity,
        "meta": meta,
        "animal": {"scheme": TAG_SCHEME, "id": data["tag"]["id"]},
        "eventDateTime": data.get("settled") or data["off"],
    }
