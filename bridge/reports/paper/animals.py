"""The animals of the paper, a row each, by ear number."""

from collections.abc import Iterator, Sequence

from neckyoke.bridge.job.doses.dosing import spell
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.reports.paper.lists import by_name
from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.tally import Tally

MOST_DOSES = 3
"""Treatments with a column of their own; with more of them the register is the place to look."""
DASH = "\N{EN DASH}"
SAID_ELSEWHERE = frozenset({"no-tag", "withheld"})


def table(tally: Tally) -> tuple[list[str], Iterator[list[str]]]:
    """Return the headings and the rows: what is not known stays empty, what was not given is a dash."""
    names = list(tally.treatments) if len(tally.treatments) <= MOST_DOSES else []
    head = ["ear", "tag", "kg", "last kg", "+ kg", "days", "kg/day", *(["pen"] if tally.by_pen else []), *names]
    rows = sorted(tally.animals, key=by_name)
    return [*head, "remarks"], (_cells(row, names, pens=bool(tally.by_pen)) for row in rows)


def _cells(row: Row, names: Sequence[str], *, pens: bool) -> list[str]:
    tag = row.animal if row.animal and row.animal.isdecimal() else None
    cells = [row.visual or DASH, f"{tag[:-12]} {tag[-12:]}" if tag else "", _one(row.kg), _one(row.then)]
    cells += [_signed(row.gained), "" if row.days is None else str(row.days), _two(row.gain)]
    cells += [row.setting.pen or ""] if pens else []
    return [*cells, *(_dose(row, name) for name in names), "; ".join(_remarks(row))]


def _dose(row: Row, name: str) -> str:
    one = next((one for one in row.setting.treatments if one.name == name), None)
    if one is None:
        return ""
    if one.skipped:
        return DASH
    return "given" if one.amount is None else f"{spell(one.amount)} {one.unit}"


def _remarks(row: Row) -> Iterator[str]:
    if row.setting.grade in {"poor", "none"}:
        yield "weight poor" if row.setting.grade == "poor" else "no weight"
    if not row.animal or row.animal.startswith("visual "):
        yield f"no tag, number {row.number}"
    yield from (flag.replace("-", " ") for flag in row.setting.flags if flag not in SAID_ELSEWHERE)
    if row.withheld:
        yield "withheld, until when is not known" if row.withheld == UNKNOWN else f"withheld until {row.withheld}"
    yield from (f"{name} {value}" for name, value in row.findings)
    yield from row.notes


def _one(number: float | None) -> str:
    return "" if number is None else f"{number:.1f}"


def _two(number: float | None) -> str:
    return "" if number is None else f"{number:.2f}"


def _signed(number: float | None) -> str:
    return "" if number is None else f"{number:+.1f}"
