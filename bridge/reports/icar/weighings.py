"""One weighing as ICAR resources: its weight event, and a treatment event for each dose that was given.

An animal event must name its animal, so one that nobody knows has none (`groups` counts it).  A weight graded poor
promises nothing and is not sent, for these resources have no field that would say so.  What they have no field for
otherwise (grade, flags) rides along under `neckyoke`, as the schemas' tolerant reading allows.
"""

from collections.abc import Iterator
from datetime import tzinfo

from neckyoke.bridge.events import make_id
from neckyoke.bridge.job.doses.dosing import named_unit
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.reports.icar.terms import UNITS, Release, Resource, end_of, midnight, named, source_of
from neckyoke.bridge.reports.reading import Data, amount_of, is_paused, is_void

MARKETS = {"withheld_until": "domestic", "export_from": "export"}
FAMILY = "Veterinary Supplies"
"""The product family of all medicines (release 1.4, icarProductFamilyType)."""
PROMISED = frozenset({"good", "fair"})


def stands(data: Data) -> bool:
    """Return whether a weighing counts: neither struck out nor of a paused job, as the tally has it."""
    return not (is_void(data) or is_paused(data))


def is_weight(data: Data) -> bool:
    """Return whether a weighing stands and has a weight that promises something."""
    return stands(data) and data["weight"]["kg"] is not None and data["weight"]["grade"] in PROMISED


def animal_events(
    data: Data, farm: str, release: Release, resolution_kg: float | None, zone: tzinfo
) -> Iterator[tuple[str, str, Resource]]:
    """Yield what one revision of a weighing says, each as (kind, identity, resource without its metadata)."""
    animal = named(data, farm)
    if animal is None or is_paused(data):
        return  # a dose counts also where its weighing is struck out
    if is_weight(data):
        yield "weights", data["weighing"], _weight_event(data, animal, farm, resolution_kg)
    met: dict[str, int] = {}
    for one in data.get("treatments", ()):
        met[one["name"]] = met.get(one["name"], 0) + 1
        if not one.get("skipped"):
            identity = make_id(data["weighing"], "treatment", one["name"], met[one["name"]])
            yield "treatments", identity, _treatment_event(_core(data, animal, identity), one, farm, release, zone)


def _weight_event(data: Data, animal: Resource, farm: str, resolution_kg: float | None) -> Resource:
    """Make the weight event of a weighing; `resolution_kg` is the scale's interval."""
    weight: Resource = {"measurement": data["weight"]["kg"], "units": "KGM", "method": "LoadCell"}
    if resolution_kg is not None:
        weight["resolution"] = resolution_kg
    core = _core(data, animal, data["weighing"])
    made = {"resourceType": "icarWeightEventResource", **core, "weight": weight}
    made["device"] = {"@type": "Link", "@id": f"{source_of(farm)}:{data['station']}"}
    if data.get("notes"):
        made["remark"] = "; ".join(data["notes"])
    made["neckyoke"] = {
        "grade": data["weight"]["grade"],
        "flags": list(data.get("flags", ())),
        "revision": data.get("revision", 1),
    }
    return made


def _treatment_event(core: Resource, one: Data, farm: str, release: Release, zone: tzinfo) -> Resource:
    """Make the treatment event of one dose.

    A withdrawal ends with the midnight that begins the first clear date; one whose end is not known has none, and the
    comment says so: a receiver must not take it for no withdrawal.
    """
    made = {"resourceType": "icarTreatmentEventResource", **core}
    made["medicine"] = {
        "name": one["name"],
        "identifier": {"scheme": f"{source_of(farm)}:medicines", "id": one["name"]},
        **({"family": FAMILY} if release == "1.4" else {}),
    }
    said = [one["remark"]] if one.get("remark") else []
    amount, unit = amount_of(one)
    if amount is not None:
        made["dose"] = {"doseQuantity": amount}
        if unit in UNITS:
            made["dose"]["doseUnits"] = UNITS[unit]
        else:
            said.append(f"{amount:g} {named_unit(amount, unit)}")
    if one.get("batch"):
        until = {"expiryDate": end_of(one["expires"], zone)} if one.get("expires") else {}
        made["batches"] = [{"identifier": one["batch"], **until}]
    if withdrawals := [_withdrawal(one[key], market, zone) for key, market in MARKETS.items() if one.get(key)]:
        made["withdrawals"] = withdrawals
    if UNKNOWN in (one.get("withheld_until"), one.get("export_from")):
        said.append("how long it is withheld is not known: see its label")
    if one.get("reason"):
        said.append(one["reason"])
    for key, name in (("site", "body_site"), ("procedure", "route"), ("responsible", "given_by")):
        if one.get(name):
            made[key] = one[name]
    if said:
        made["comment"] = "; ".join(said)
    return made


def _withdrawal(day: str, market: str, zone: tzinfo) -> Resource:
    ends = {} if day == UNKNOWN else {"endDate": midnight(day, zone)}
    return {"productType": "Meat", **ends, "market": market}


def _core(data: Data, animal: Resource, identity: str) -> Resource:
    return {"id": identity, "animal": animal, "eventDateTime": data.get("settled") or data["off"]}
