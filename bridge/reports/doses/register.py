"""The register: every dose that was given, a row each, for whoever audits.

What a keeper's record of treatments must hold is law and differs: Regulation (EU) 2019/6, article 108(2), asks for the
date (a), the product (b), the quantity (c), the supplier (d), proof of purchase (e), which animals (f), the prescribing
veterinarian (g), the withdrawal period even if it is none (h), and the duration (i).  The register has a, b, c, f and
h, and i where a treatment is one dose; d, e and g are the keeper's own to add.

A dose is in it once, in the newest revision of its weighing, unless a person said that it was not given; also that of a
weighing that was struck out, and says so.  Every figure is arithmetic on what was typed.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime, tzinfo
from types import MappingProxyType
from typing import Any

from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.many import many
from neckyoke.bridge.reports.pictures.svg import escape
from neckyoke.bridge.reports.reading import Data, amount_of, is_void, job_called, latest
from neckyoke.bridge.reports.spreadsheet import html_rows

PAGE = """
@page { size: A4 landscape; margin: 10mm }
body { font: 8pt/1.3 "Liberation Sans", Arial, sans-serif; color: #222; margin: 6mm }
h1 { font-size: 14pt; margin: 0 } p { margin: 1mm 0 } table { border-collapse: collapse; width: 100% }
td, th { padding: 0.5mm 1.5mm; text-align: left; border-bottom: 1px solid #bbb; vertical-align: top }
thead { display: table-header-group } tr { break-inside: avoid } footer { margin-top: 4mm }
"""
NOT_KNOWN = "not known"
NO_PERIOD = "none"
STRUCK = "its weighing was struck out"

HEADINGS = {
    "date": "date",
    "job": "job",
    "number": "number",
    "sheet": "sheet",
    "visual": "visual",
    "tag": "tag",
    "former_tags": "former tags",
    "product": "product",
    "batch": "batch",
    "expires": "expires",
    "amount": "amount",
    "unit": "unit",
    "route": "route",
    "body_site": "body site",
    "given_by": "given by",
    "reason": "reason",
    "clear_from_meat": "clear from (meat)",
    "clear_from_export": "clear from (export)",
    "remark": "remark",
}
"""The columns in their order: key in JSON, heading on paper and in spreadsheets."""


@dataclass(frozen=True, slots=True)
class DoseRow:
    """One dose.  `date` is the farm's; `tag` is 15 digits; the clear dates are dates, `none` or `not known`.

    `job` and `number` are what `--job` and `--number` take (`job_called`), `sheet` is the title of the job's sheet.
    """

    date: str
    job: int | str | None
    number: int
    sheet: str | None
    visual: str | None
    tag: str | None
    former_tags: str | None
    product: str
    batch: str | None
    expires: str | None
    amount: float | None
    unit: str
    route: str | None
    body_site: str | None
    given_by: str | None
    reason: str | None
    clear_from_meat: str
    clear_from_export: str
    remark: str | None

    def as_dict(self) -> dict[str, Any]:
        """Return the row by key, as JSON carries it."""
        return asdict(self)


def doses(
    weighings: Iterable[Data],
    zone: tzinfo,
    *,
    product: str | None = None,
    animal: str | None = None,
    first: date | None = None,
    last: date | None = None,
    turns: Mapping[str, int] = MappingProxyType({}),
) -> Iterator[DoseRow]:
    """Yield the doses given in these weighings, in the order in which the animals came.

    `product` and `animal` (a tag or a visual number, `named`) select, and so do the farm's dates `first` to `last`.
    `turns` has each job's number by its id.
    """
    for data in latest(weighings):
        day = datetime.fromisoformat(data.get("settled") or data["on"]).astimezone(zone).date()
        if (first and day < first) or (last and day > last) or (animal and animal not in named(data)):
            continue
        for one in data.get("treatments", ()):
            if not one.get("skipped") and (product is None or one["name"].casefold() == product.casefold()):
                yield _row(data, one, day, turns)


def named(data: Data) -> set[str]:
    """Return by what an animal is known in a weighing: visual number, tag, former tags."""
    animal, tag = data.get("animal") or {}, data.get("tag") or {}
    known = {animal.get("visual"), animal.get("tag"), tag.get("id"), *animal.get("former_tags", ())}
    return {str(one) for one in known if one}


def _row(data: Data, one: dict[str, Any], day: date, turns: Mapping[str, int]) -> DoseRow:
    animal, tag = data.get("animal") or {}, data.get("tag") or {}
    amount, unit = amount_of(one)
    return DoseRow(
        date=day.isoformat(),
        job=job_called(data, turns),
        number=data.get("job_number") or data["number"],
        sheet=data.get("sheet"),
        visual=animal.get("visual"),
        tag=tag.get("id") or animal.get("tag"),
        former_tags=" ".join(animal.get("former_tags", ())) or None,
        product=one["name"],
        batch=one.get("batch"),
        expires=one.get("expires"),
        amount=amount,
        unit=unit,
        route=one.get("route"),
        body_site=one.get("body_site"),
        given_by=one.get("given_by"),
        reason=one.get("reason"),
        clear_from_meat=_clear(one.get("withheld_until")),
        clear_from_export=_clear(one.get("export_from")),
        remark="; ".join(filter(None, (one.get("remark"), STRUCK if is_void(data) else None))) or None,
    )


def for_csv(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row whose tags are texts to any spreadsheet: three digits, a space, twelve digits."""
    return row | {key: _spaced(row[key]) for key in ("tag", "former_tags")}


def _spaced(tags: str | None) -> str | None:
    return "; ".join(f"{tag[:-12]} {tag[-12:]}" for tag in tags.split()) if tags else None


def _clear(until: str | None) -> str:
    return NO_PERIOD if until is None else NOT_KNOWN if until == UNKNOWN else until


def register_page(rows: Iterable[DoseRow]) -> str:
    """Return the register as one printable page that needs nothing beside it.  What a person typed is escaped."""
    made = [row.as_dict() for row in rows]
    days = sorted({str(row["date"]) for row in made})
    span = f"{days[0]} to {days[-1]}" if len(days) > 1 else days[0] if days else "none"
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Register of doses</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{PAGE}</style></head>\n'
        f"<body><h1>Register of doses</h1><p>{many(len(made), 'dose')}, {span}</p>\n{html_rows(HEADINGS, made)}\n"
        f"<footer><p>{escape(cautions.DOSES)}</p><p>Supplier, purchase and prescriber are the keeper's own to add."
        f"</p></footer></body></html>\n"
    )
