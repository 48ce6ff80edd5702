"""Weighings as a tally needs them: small rows that share what repeats from animal to animal.

A hundred thousand weighings must be counted on a small machine while a person waits, and parsing all of their JSON
alone takes as long.  So a line that our own writer made (`Event.to_json`: known keys, known order, no spaces) is cut at
its keys by one pattern, and of the pieces those that repeat are parsed once and remembered by their text.  The cut is
safe: a key's opening quote cannot stand inside a JSON text unescaped, and a cut in the wrong place leaves an unbalanced
piece, which does not parse.  The pattern never goes back (groups and repeats are possessive), so that no line takes
longer than its length.  Any line that resists goes the long way, through `json` and `row_of`; a law says both give the
same.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

from neckyoke.bridge.job.doses.withholding import UNKNOWN, longest
from neckyoke.bridge.reports.reading import amount_of, known_as, spell_values


class Given(NamedTuple):
    """One treatment of one animal.  `meat` and `export` are the dates from which it is clear, or `unknown`."""

    name: str
    amount: float | None
    unit: str
    skipped: bool
    batch: str | None
    meat: str | None = None
    export: str | None = None


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
    """One revision of one weighing.  `animal` is None when nothing tells which it was; `beast` is its id in the book.

    `gain` is kg a day; `gained` is kg since the weight `days` before, which may be too near for a gain a day.  `number`
    is that of the job, else of the station.  `withheld` is the date until which earlier doses withhold it from meat.
    """

    revision: int
    animal: str | None
    kg: float | None
    gain: float | None
    on: str
    setting: Setting
    findings: Findings = ()
    number: int = 0
    visual: str | None = None
    gained: float | None = None
    days: int | None = None
    beast: str | None = None
    notes: tuple[str, ...] = ()
    withheld: str | None = None

    @property
    def name(self) -> str:
        """What people call it: its visual number, else its tag, else the number under which it was weighed."""
        if self.visual:
            return self.visual
        if self.animal and self.animal.isdecimal():
            return f"{self.animal[:-12]} {self.animal[-12:]}"
        return self.animal or f"number {self.number}"

    @property
    def then(self) -> float | None:
        """The last weight that the gain is reckoned from, kg."""
        return None if self.kg is None or self.gained is None else round(self.kg - self.gained, 3)


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
        data.get("job_number") or data["number"],
        _text(data.get("animal"), "visual"),
        gain["kg"] if gain else None,
        gain["days"] if gain else None,
        _text(data.get("animal"), "id"),
        tuple(data.get("notes", ())),
        _withheld(data.get("withheld", ())),
    )


def _text(animal: Mapping[str, Any] | None, key: str) -> str | None:
    value = (animal or {}).get(key)
    return value if isinstance(value, str) and value else None


def _withheld(reasons: Iterable[Mapping[str, Any]]) -> str | None:
    return longest(UNKNOWN if one["until"] is None else one["until"] for one in reasons if one["kind"] == "meat")


@lru_cache(maxsize=4096)
def _shared(*parts: Any) -> Setting:
    return Setting(*parts)


def _details(details: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    return tuple((name, str(value)) for name, value in details.items())


def _treatments(treatments: Any) -> tuple[Given, ...]:
    return tuple(
        Given(
            one["name"],
            *amount_of(one),
            bool(one.get("skipped")),
            one.get("batch"),
            one.get("withheld_until"),
            one.get("export_from"),
        )
        for one in treatments
    )


def _findings(findings: Any) -> Findings:
    return tuple((one["name"], spelled) for one in findings for spelled in spell_values(one["value"]))


_RAW = r'[^"\\]*+'
_TITLE = rf'(?:null|"{_RAW}(?:\\.{_RAW})*+")'
_OBJECT, _LIST = r"(?:[^}]*+\})+?", r"(?:[^\]]*+\])+?"
"""Up to one of its closing brackets: the first after which the next key stands, since no group gives back."""
_LINE = re.compile(
    rf'"data":\{{"weighing":"({_RAW})","revision":(\d++),"station":("{_RAW}"),"number":(\d++),'
    rf'"tag":(?:null,|\{{"id":"({_RAW})"(?>{_OBJECT},(?="weight":)))'
    rf'"weight":\{{"kg":([^,]++),"grade":"({_RAW})"[^}}]*+\}},"on":"({_RAW})"[^\[]*+(?<="flags":)'
    rf'(\[[^\]]*+\],"sheet":{_TITLE},"job":{_TITLE}),"job_number":(null|\d++),'
    rf'"animal":(null(?=,)|\{{(?>{_OBJECT}(?=,"details":\{{))),'
    rf'("details":\{{(?>{_OBJECT},"treatments":\[)(?>{_LIST}(?=,"gain":))),'
    rf'"gain":(?:null,|\{{"kg":([^,]++),"days":(\d++),"since":"{_RAW}","kg_per_day":([^,]++)(?>{_OBJECT},(?="pen":)))'
    rf'"pen":({_TITLE}),"notes":\[(?>({_LIST}),"skipped":\[)(?>{_LIST},"findings":\[)'
    rf'(?>({_LIST}),"doses_said":\[)(?>{_LIST},"withheld":\[)(?>({_LIST}),"pen_should":)'
)
"""A weighing, in the order of the model.  What repeats from one to the next stands in one group where it can."""


def brief_row(line: str) -> tuple[str, Row] | None:
    """Read a line of our own writer as weighing id and row; None when the line is not quite like that."""
    cut = _LINE.search(line)
    if cut is None:
        return None
    weighing, revision, station, number, tag, kg, grade, on, work, job_number, animal, given, *rest = cut.groups()
    gained, days, per_day, pen, notes, found, held = rest
    try:
        beast, visual = _named(animal)
        return weighing, Row(
            int(revision),
            tag or known_as({"animal": json.loads(animal)}),
            _number(kg),
            _number(per_day),
            on,
            _setting(station, grade, work, given, pen),
            _seen(found),
            int(number if job_number == "null" else job_number),
            visual,
            _number(gained),
            None if days is None else int(days),
            beast,
            () if notes == "]" else tuple(json.loads(f"[{notes}")),
            None if held == "]" else _withheld(json.loads(f"[{held}")),
        )
    except (ValueError, TypeError, AttributeError):
        return None


def _number(text: str | None) -> float | None:
    return None if text is None or text == "null" else float(text)


@lru_cache(maxsize=4096)
def _seen(found: str) -> Findings:
    return _findings(json.loads(f"[{found}"))


def _named(animal: str) -> tuple[str | None, str | None]:
    """Return id and visual number of the animal.  Without nesting and escapes, what looks like a key is one."""
    if "\\" in animal or animal.find("{", 1) > 0:
        said = json.loads(animal)
        return _text(said, "id"), _text(said, "visual")
    return _after(animal, '"id":"'), _after(animal, '"visual":"')


def _after(text: str, key: str) -> str | None:
    begin = text.find(key)
    return text[begin + len(key) : text.index('"', begin + len(key))] or None if begin >= 0 else None


@lru_cache(maxsize=4096)
def _setting(station: str, grade: str, work: str, given: str, pen: str) -> Setting:
    job, done = json.loads(f'{{"flags":{work}}}'), json.loads(f"{{{given}}}")
    return _shared(
        json.loads(station),
        grade,
        tuple(job["flags"]),
        job["sheet"],
        job["job"],
        _details(done["details"]),
        _treatments(done["treatments"]),
        json.loads(pen),
    )
