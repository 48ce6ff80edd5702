"""One animal's own page: every weighing of it, how it grew, and what it was given."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, tzinfo
from typing import Any

from neckyoke.bridge.config.words import male_or_female
from neckyoke.bridge.job import cautions, growth
from neckyoke.bridge.job.doses.dosing import spell_amount
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.job.past import SURE
from neckyoke.bridge.job.roster.tags import digits
from neckyoke.bridge.reports.reading import Data, amount_of, is_void, latest, spell_values
from neckyoke.bridge.station.record import visual_key


def page(
    animal: str,
    weighings: Iterable[Data],
    table: Iterable[growth.DamAge] = growth.DAM_AGES,
    zone: tzinfo = UTC,
) -> str | None:
    """Write the page of an animal by its tag or visual number; None when no weighing names it.

    `table` is the dam-age table of the birth and 205-day weights (the job sheet's, when it has one), `zone` the farm's.
    """
    return page_of((data for data in latest(weighings) if is_named(data, animal)), table, zone)


def page_of(
    weighings: Iterable[Data], table: Iterable[growth.DamAge] = growth.DAM_AGES, zone: tzinfo = UTC
) -> str | None:
    """Write the page of the one animal that these weighings are of; None when there are none."""
    found = sorted(weighings, key=lambda data: data["on"])
    return "\n".join(_lines(found, tuple(table), zone)) + "\n" if found else None


def is_named(data: Data, wanted: str) -> bool:
    """Return whether a weighing names its animal so: by its tag, or its visual number."""
    tag, row = data.get("tag"), data.get("animal") or {}
    visual = row.get("visual")
    known_tag = tag["id"] if tag else row.get("tag")
    return known_tag == digits(wanted) or (visual is not None and visual_key(str(visual)) == visual_key(wanted))


def _lines(found: list[Data], table: tuple[growth.DamAge, ...], zone: tzinfo) -> Iterator[str]:
    row: dict[str, Any] = next((data["animal"] for data in reversed(found) if data.get("animal")), {})
    tag: str | None = next((data["tag"]["id"] for data in reversed(found) if data.get("tag")), row.get("tag"))
    names = [f"{tag[:-12]} {tag[-12:]}" if tag else "no tag", f"visual {row['visual']}" if row.get("visual") else None]
    yield ", ".join(name for name in names if name)
    known = [f"{name.replace('_', ' ')} {value}" for name, value in row.items() if name not in {"tag", "visual"}]
    if known:
        yield ", ".join(known)
    yield ""
    yield "date            kg  grade  kg/day  pen         sheet; flags; notes"
    for data in found:
        yield _weighing(data, zone)
    yield from _grown(found, row, table, zone)
    yield from _given(found, zone)
    yield ""
    yield cautions.WEIGHTS


def _day(data: Data, zone: tzinfo) -> date:
    """Return the farm's date of a weighing."""
    return datetime.fromisoformat(data["on"]).astimezone(zone).date()


def _weighing(data: Data, zone: tzinfo) -> str:
    weight, per_day = data["weight"], (data.get("gain") or {}).get("kg_per_day")
    kg = "" if weight["kg"] is None else f"{weight['kg']:.1f}"
    gain = "" if per_day is None else f"{per_day:.2f}"
    seen = ", ".join(f"{one['name']} {' '.join(spell_values(one['value']))}" for one in data.get("findings", ()))
    said = [data.get("sheet") or "", seen, ", ".join(data.get("flags", ())), "; ".join(data.get("notes", ()))]
    told = "; ".join(one for one in said if one)
    return f"{_day(data, zone)}  {kg:>8}  {weight['grade']:5}  {gain:>6}  {data.get('pen') or '':10}  {told}".rstrip()


def weights_of(found: Sequence[Data], row: Mapping[str, Any], zone: tzinfo) -> list[tuple[date, float]]:
    """Return an animal's sure weights by date: those of its roster row, and of its weighings that stand."""
    known: dict[date, float] = {}
    for day, kg in ((row.get("born"), row.get("birth_kg")), (row.get("last_date"), row.get("last_kg"))):
        if day and kg:
            known[date.fromisoformat(day)] = kg
    for data in found:
        if data["weight"]["grade"] in SURE and not is_void(data):
            known[_day(data, zone)] = data["weight"]["kg"]
    return sorted(known.items())


def _grown(found: list[Data], row: Mapping[str, Any], table: tuple[growth.DamAge, ...], zone: tzinfo) -> Iterator[str]:
    weights = weights_of(found, row, zone)
    yield ""
    if len(weights) > 1:
        yield from _gain(weights, row.get("born"))
    if row.get("birth_kg") and row.get("dam_age"):
        yield f"adjusted birth weight: {growth.adjusted_birth(row['birth_kg'], row['dam_age'], table):.1f} kg"
    sex = male_or_female(row.get("sex"))
    if not (row.get("born") and row.get("birth_kg") and sex):
        return
    made = growth.adjusted(weights, date.fromisoformat(row["born"]), row["birth_kg"], row.get("dam_age"), sex, table)
    if made is not None:
        dam = "" if row.get("dam_age") else ", age of dam not known"
        yield f"adjusted 205-day weight: {made.at_205_kg:.1f} kg (weighed {made.weaned}{dam})"
        if made.at_365_kg is not None:
            yield f"adjusted 365-day weight: {made.at_365_kg:.1f} kg (weighed {made.yearling})"


def _gain(weights: list[tuple[date, float]], born: str | None) -> Iterator[str]:
    (first, first_kg), (last, last_kg) = weights[0], weights[-1]
    days = (last - first).days
    if days < growth.LEAST_DAYS:
        yield f"gain: {days} days are too few to tell"
        return
    rough = f", rough: under {growth.SOUND_DAYS} days" if days < growth.SOUND_DAYS else ""
    birth = " (birth)" if born == first.isoformat() else ""
    yield f"gain: {growth.daily_gain(first_kg, last_kg, days):.2f} kg/day in {days} days since {first}{birth}{rough}"
    if len(weights) > 2:
        yield f"gain by regression over {len(weights)} weights: {growth.slope(weights):.2f} kg/day"


def _given(found: list[Data], zone: tzinfo) -> Iterator[str]:
    given = [
        (_day(data, zone).isoformat(), one)
        for data in found
        for one in data.get("treatments", ())
        if not one.get("skipped")
    ]
    if not given:
        return
    yield ""
    for day, one in given:
        amount, unit = amount_of(one)
        dose = "" if amount is None else f" {spell_amount(amount, unit)}"
        batch = f", batch {one['batch']}" if one.get("batch") else ""
        yield f"{day}  {one['name']}{dose}{batch}"
    withheld, export = (longest(one.get(key) for _, one in given) for key in ("withheld_until", "export_from"))
    yield f"withheld until {withheld or 'no date'}, for export until {export or 'no date'}"
    yield cautions.DOSES
