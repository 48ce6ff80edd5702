"""What a sheet would do, before it is used: doses by weight, and where the animals would go by their last weights."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from neckyoke.bridge.job.doses.dosing import dose_for
from neckyoke.bridge.job.doses.treatments import TreatmentTable
from neckyoke.bridge.job.pens.drafting import Rule
from neckyoke.bridge.job.sheet import Sheet

STEP_KG, FROM_KG, TO_KG = 50, 50, 800


@dataclass(frozen=True, slots=True)
class Beast:
    """An animal that is expected: what pens may ask for, and its last weight, kg, with its day and the gain it had."""

    key: str
    kg: float | None = None
    day: date | None = None
    gain: float | None = None
    known: Mapping[str, Any] = field(default_factory=dict)


def foreseen(sheet: Sheet, beasts: Sequence[Beast] | None) -> dict[str, Any]:
    """Say what a sheet would do.  `beasts` are the animals expected, None when nobody knows who will come."""
    weighed = [one for one in beasts or () if one.kg is not None]
    heaviest = max((one.kg for one in weighed if one.kg is not None), default=0.0)
    days = [one.day for one in weighed if one.day is not None]
    return {
        "doses": [doses(one, max(TO_KG, heaviest)) for one in sheet.treatments],
        "expected": None if beasts is None else len(beasts),
        "weighed": len(weighed),
        "from": min(days).isoformat() if days else None,
        "to": max(days).isoformat() if days else None,
        **pens(sheet, weighed),
    }


def doses(table: TreatmentTable, to_kg: float = TO_KG) -> dict[str, Any]:
    """Return a treatment's dose at every 50 kg; one row for an amount that is the same for all."""
    weights = [None] if table.fixed else [kg * 1.0 for kg in range(FROM_KG, int(to_kg) + STEP_KG, STEP_KG)]
    rows = []
    for kg in weights:
        dose = dose_for(table.rule, kg)
        if dose is not None:
            rows.append({"kg": kg, "amount": dose.amount, "unit": dose.unit, "remark": dose.remark})
    return {"name": table.name, "rows": rows}


def pens(sheet: Sheet, beasts: Iterable[Beast]) -> dict[str, Any]:
    """Count the heads of each pen by last weights; `open`: by needed findings a person gives first; `none`: no pen."""
    waits = {one.column for one in sheet.findings if one.needed}
    usual = {one.column: one.usual_value for one in sheet.findings if one.usual is not None and not one.needed}
    left = [(one, {**usual, **one.known}) for one in beasts]
    heads: dict[str, int] = {}
    waiting = 0
    for rule in sheet.pens:
        mine = [pair for pair in left if _takes(rule, *pair, waits)]
        asks = bool(rule.match.keys() & waits)
        if rule.heads is not None and not asks:
            mine.sort(key=lambda pair: pair[0].kg or 0.0, reverse=rule.heaviest)
            mine = mine[: rule.heads]
        if asks:
            waiting += len(mine)
        else:
            heads[rule.pen] = heads.get(rule.pen, 0) + len(mine)
        gone = {id(one) for one, _ in mine}
        left = [pair for pair in left if id(pair[0]) not in gone]
    named = dict.fromkeys(rule.pen for rule in sheet.pens)
    return {
        "pens": [{"pen": pen, "heads": heads.get(pen, 0)} for pen in named],
        "open": waiting,
        "none": len(left) if sheet.pens else 0,
    }


def _takes(rule: Rule, one: Beast, known: Mapping[str, Any], waits: Iterable[str]) -> bool:
    return one.kg is not None and rule.takes(one.kg, one.gain, known, but=tuple(waits))
