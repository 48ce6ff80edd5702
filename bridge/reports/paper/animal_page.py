"""One animal's own page: its growth line with doses and marks, and every weighing and dose a row."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, tzinfo
from typing import Any

from neckyoke.bridge.animal_event import Mark
from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.doses.dosing import spell_amount
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.job.past import SURE
from neckyoke.bridge.reports.history import weights_of
from neckyoke.bridge.reports.paper.html_parts import grid, page, section, wide
from neckyoke.bridge.reports.pictures.animal_line import Told, Weighed, animal_line
from neckyoke.bridge.reports.pictures.svg import escape
from neckyoke.bridge.reports.reading import Data, amount_of, is_void, latest, spell_values

NONE = "none"


def animal_page(
    weighings: Iterable[Data], marks: Sequence[Mark] = (), zone: tzinfo = UTC, *, place: str | None = None
) -> str:
    """Write the page of the one animal that these weighings are of.  Everything a person typed is escaped."""
    found = _in_order(weighings)
    name, beside = names(found)
    body = "\n".join(_body(found, marks, zone, name, beside, place))
    return page(f"{place}: {name}" if place else name, body)


def animal_picture(weighings: Iterable[Data], marks: Sequence[Mark] = (), zone: tzinfo = UTC) -> str:
    """Draw the growth line of the one animal that these weighings are of, as SVG, with its doses and marks."""
    found = _in_order(weighings)
    return animal_line(names(found)[0], list(_weighed(found, zone)), list(_told(found, marks, zone)))


def names(found: Sequence[Data]) -> tuple[str, str]:
    """Return what people call an animal, and what else it is known by."""
    row: dict[str, Any] = next((data["animal"] for data in reversed(found) if data.get("animal")), {})
    tag = next((data["tag"]["id"] for data in reversed(found) if data.get("tag")), row.get("tag"))
    spelled = f"{tag[:-12]} {tag[-12:]}" if tag else "no tag"
    return (str(row["visual"]), spelled) if row.get("visual") else (spelled, "no ear number")


def _in_order(weighings: Iterable[Data]) -> list[Data]:
    return sorted(latest(weighings), key=lambda data: str(data["on"]))


def _day(data: Data, zone: tzinfo) -> date:
    return datetime.fromisoformat(data["on"]).astimezone(zone).date()


def _weighed(found: Sequence[Data], zone: tzinfo) -> Iterator[Weighed]:
    row: dict[str, Any] = next((data["animal"] for data in reversed(found) if data.get("animal")), {})
    yield from (Weighed(day, kg) for day, kg in weights_of(found, row, zone))
    for data in found:
        if data["weight"]["kg"] is not None and data["weight"]["grade"] not in SURE and not is_void(data):
            yield Weighed(_day(data, zone), data["weight"]["kg"], sure=False)


def _given(found: Sequence[Data], zone: tzinfo) -> Iterator[tuple[date, dict[str, Any]]]:
    for data in found:  # a dose counts whatever became of its weighing
        yield from ((_day(data, zone), one) for one in data.get("treatments", ()) if not one.get("skipped"))


def _told(found: Sequence[Data], marks: Sequence[Mark], zone: tzinfo) -> Iterator[Told]:
    for day, one in _given(found, zone):
        amount, unit = amount_of(one)
        yield Told(day, one["name"] if amount is None else f"{one['name']} {spell_amount(amount, unit)}")
    for mark in marks:
        begins = date.fromisoformat(mark.begins) if mark.begins else _day(found[0], zone) if found else None
        if begins is not None:
            yield Told(begins, mark.text, mark=True, until=date.fromisoformat(mark.until) if mark.until else None)


def _body(
    found: Sequence[Data], marks: Sequence[Mark], zone: tzinfo, name: str, beside: str, place: str | None
) -> Iterator[str]:
    above = f"<p>{escape(place)}</p>" if place else ""
    yield f"<header>{above}<h1>{escape(name)}</h1><p>{escape(beside)}</p></header>\n<main>"
    drawn = animal_picture(found, marks, zone)
    yield f'<div class="pictures"><figure><figcaption>Weights</figcaption>{drawn}</figure></div>'
    head = ["date", "kg", "grade", "+ kg", "days", "kg/day", "pen", "sheet", "remarks"]
    title = f"Weighings, {len(found)}"
    yield section(title, wide(title, grid(head, (_weighing(data, zone) for data in found), "animals")))
    given = [_dose(day, one) for day, one in _given(found, zone)]
    if given:
        title = f"Doses, {len(given)}"
        head = ["date", "product", "amount", "batch", "clear from (meat)", "(export)"]
        yield section(title, wide(title, grid(head, given, "texts")))
    said = [cautions.WEIGHTS, *([cautions.DOSES] if given else [])]
    yield f"</main>\n<footer>{''.join(f'<p>{escape(one)}</p>' for one in said)}</footer>"


def _weighing(data: Data, zone: tzinfo) -> list[str]:
    weight, gain = data["weight"], data.get("gain") or {}
    seen = [f"{one['name']} {' '.join(spell_values(one['value']))}" for one in data.get("findings", ())]
    flags = [flag.replace("-", " ") for flag in data.get("flags", ())]
    return [
        _day(data, zone).isoformat(),
        "" if weight["kg"] is None else f"{weight['kg']:.1f}",
        weight["grade"],
        f"{gain['kg']:+.1f}" if gain else "",
        str(gain["days"]) if gain else "",
        f"{gain['kg_per_day']:.2f}" if gain.get("kg_per_day") is not None else "",
        data.get("pen") or "",
        data.get("sheet") or "",
        "; ".join([*seen, *flags, *data.get("notes", ())]),
    ]


def _dose(day: date, one: dict[str, Any]) -> list[str]:
    amount, unit = amount_of(one)
    clear = [_clear(one.get(key)) for key in ("withheld_until", "export_from")]
    return [
        day.isoformat(),
        one["name"],
        "" if amount is None else spell_amount(amount, unit),
        one.get("batch") or "",
        *clear,
    ]


def _clear(until: str | None) -> str:
    return NONE if until is None else "not known" if until == UNKNOWN else until
