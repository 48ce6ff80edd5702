"""Weighings as a tally needs them: small rows that share what repeats from animal to animal.

A hundred thousand weighings must be counted on a small machine while a person waits, and parsing all of their JSON
alone takes longer.  So a line that our own writer made (`Event.to_json`: known keys, known order, no spaces) is cut at
its keys, and of the pieces those that repeat are parsed once and remembered by their text.  The cut is safe: a key's
opening quote cannot stand inside a JSON text unescaped, and a cut in the wrong place leaves an unbalanced piece, which
does not parse.  Any line that resists goes the long way, through `json` and `row_of`; a law says both give the same.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

from neckyoke.bridge.reports.reading import amount_of, known_as, spell_values


class Given(NamedTuple):
    """One treatment of one animal."""

    name: str
    amount: float | None
    unit: str
    skipped: bool
    batch: str | None


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """What many weighings have in common.  Two made from the same are, as a rule, the very same object."""

    station: str
    grade: str
    flags: tuple[str, ...]
    sheet: str | None
    job: str | None
    details: tuple[tuple[str, str], ...]
    treatments: tuple[Given, ...]
    pen: str | None


Findings: TypeAlias = tuple[tuple[str, str], ...]
"""What was seen of one animal: names and values as people read them, one entry for each of several."""


class Row(NamedTuple):
    """One revision of one weighing.  `animal` is None when nothing tells which it was; `gain` is kg a day."""

    revision: int
    animal: str | None
    kg: float | None
    gain: float | None
    on: str
    setting: Setting
    findings: Findings = ()


def row_of(data: Mapping[str, Any]) -> Row:
    """Make the row of a weighing from the data of its event, as JSON gives it."""
    weight, gain = data["weight"], data.get("gain")
    return Row(
        data.get("revision", 1),
        known_as(data),
        weight["kg"],
        gain["kg_per_day"] if gain else None,
        data["on"],
        _shared(
            data["station"],
            weight["grade"],
            tuple(data.get("flags", ())),
            data.get("sheet"),
            data.get("job"),
            _details(data.get("details", {})),
            _treatments(data.get("treatments", ())),
            data.get("pen"),
        ),
        _findings(data.get("findings", ())),
    )


@lru_cache(maxsize=4096)
def _shared(*parts: Any) -> Setting:
    return Setting(*parts)


def _details(details: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((name, str(value)) for name, value in details.items())


def _treatments(treatments: Any) -> tuple[Given, ...]:
    return tuple(Given(one["name"], *amount_of(one), bool(one.get("skipped")), one.get("batch")) for one in treatments)


def _findings(findings: Any) -> Findings:
    return tuple((one["name"], spelled) for one in findings for spelled in spell_values(one["value"]))


_KEYS = (
    *('"data":{"weighing":"', '","revision":', ',"station":', ',"number":', ',"tag":', ',"weight":{"kg":'),
    *(',"grade":"', '","first_kg":', '},"on":"', '","settled":', ',"flags":[', '],"sheet":'),
    *(
        ',"job":',
        ',"job_number":',
        ',"animal":',
        ',"details":{',
        '},"treatments":[',
        '],"gain":',
        ',"pen":',
        ',"notes":[',
        '],"skipped":[',
        '],"findings":[',
        '],"doses_said":[',
    ),
)
"""The keys of a weighing at which a line is cut, in the order of the model, with what must stand around them."""


def brief_row(line: str) -> tuple[str, Row] | None:
    """Read a line of our own writer as weighing id and row; None when the line is not quite like that."""
    pieces = []
    for key in _KEYS:
        piece, found, line = line.partition(key)
        if not found:
            return None
        pieces.append(piece)
    _, weighing, revision, station, _, tag, kg, grade, _, on, _, flags, sheet, *others = pieces
    job, _, animal, details, given, gain, pen, _, _, found = others
    try:
        return weighing, Row(
            int(revision),
            tag[7:].partition('"')[0] if tag != "null" else known_as({"animal": json.loads(animal)}),
            None if kg == "null" else float(kg),
            _per_day(gain),
            on,
            _setting(station, grade, flags, sheet, job, details, given, pen),
            _findings(json.loads(f"[{found}]")) if found else (),
        )
    except (ValueError, TypeError, AttributeError):
        return None


def _per_day(gain: str) -> float | None:
    number = gain.partition('"kg_per_day":')[2].partition(",")[0]
    return None if number in {"", "null"} else float(number)


@lru_cache(maxsize=4096)
def _setting(station: str, grade: str, flags: str, sheet: str, job: str, details: str, given: str, pen: str) -> Setting:
    return _shared(
        json.loads(station),
        grade,
        tuple(json.loads(f"[{flags}]")),
        json.loads(sheet),
        json.loads(job),
        _details(json.loads(f"{{{details}}}")),
        _treatments(json.loads(f"[{given}]")),
        json.loads(pen),
    )
