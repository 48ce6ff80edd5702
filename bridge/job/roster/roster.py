"""The animals expected, from a CSV file as a spreadsheet writes it.

Columns are found by name, whatever their order and spelling; those not known here are kept and can be drafted and
tallied by.  What cannot be read is named with its row (the header is row 1) and column, and the day goes on: a bad cell
is left empty, a row without a usable tag or visual number, or with one seen before, is left out.
"""

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

from neckyoke.bridge.config.problems import Problem
from neckyoke.bridge.config.words import known_sex
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.job.roster import cells
from neckyoke.bridge.job.roster.cell_error import CellError
from neckyoke.bridge.job.roster.cells import Cell
from neckyoke.bridge.job.roster.table import Csv, read_table
from neckyoke.bridge.job.roster.tags import Tags, digits
from neckyoke.bridge.job.roster.troubles import Troubles
from neckyoke.bridge.station.record import visual_key
from neckyoke.protocols.readings import KG_PER

NAMES: Mapping[str, tuple[str, ...]] = {
    "roster_id": ("roster_id", "id"),
    "tag": ("tag", "eid", "rfid", "tag_id", "electronic_id", "electronic_tag"),
    "visual": ("visual", "visual_tag", "visual_id", "visual_number", "ear_tag"),
    "born": ("born", "birth_date", "date_of_birth", "dob", "birthdate"),
    "sex": ("sex",),
    "dam": ("dam", "dam_tag", "dam_id", "mother"),
    "former_tags": ("former_tags", "former_tag", "old_tag", "was"),
    "birth_kg": ("birth_kg", "birth_weight_kg"),
    "birth_lb": ("birth_lb", "birth_weight_lb"),
    "dam_age": ("dam_age", "dam_years", "age_of_dam"),
    "last_kg": ("last_kg", "last_weight_kg"),
    "last_lb": ("last_lb", "last_weight_lb"),
    "last_date": ("last_date", "last_weighed", "last_weight_date"),
    "withheld_until": ("withheld_until", "withhold_until", "withheld"),
}
"""Columns understood, each with the spellings it is found by."""


@dataclass(frozen=True, slots=True)
class Animal:
    """One row.  `weights` are earlier ones in order of date, the birth weight among them; `other` is all else kept."""

    row: int
    tag: str | None = None
    visual: str | None = None
    born: date | None = None
    sex: str | None = None
    dam: str | None = None
    roster_id: str | None = None
    former_tags: tuple[str, ...] = ()
    birth_kg: float | None = None
    dam_age: float | None = None
    last_kg: float | None = None
    last_date: date | None = None
    withheld_until: str | None = None
    weights: tuple[tuple[date, float], ...] = ()
    other: Mapping[str, str] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """What tells this animal from every other of the roster."""
        return self.tag or f"visual {self.visual}"

    @property
    def names(self) -> tuple[str, ...]:
        """All that a station may count this animal by (`claims` in bridge/station/record.py)."""
        return tuple(name for name in (self.tag, self.visual and f"visual {visual_key(self.visual)}") if name)

    def as_dict(self) -> dict[str, Any]:
        """Spell the row for an event: what is known, dates as YYYY-MM-DD."""
        known: dict[str, Any] = {
            "roster_id": self.roster_id,
            "tag": self.tag,
            "visual": self.visual,
            "dam": self.dam,
            "born": self.born and self.born.isoformat(),
            "sex": self.sex,
            "birth_kg": self.birth_kg,
            "dam_age": self.dam_age,
            "last_kg": self.last_kg,
            "last_date": self.last_date and self.last_date.isoformat(),
            "withheld_until": self.withheld_until,
            **self.other,
        }
        return {name: value for name, value in known.items() if value is not None}


class Roster:
    """The animals expected and how to find them.

    `columns` are the file's, as events spell them; `problems` say what was wrong in it.
    """

    def __init__(
        self,
        animals: Iterable[Animal] = (),
        columns: Iterable[str] = (),
        problems: Iterable[Problem] = (),
        path: Path = Path("roster"),
    ) -> None:
        self.path = path
        self.animals = tuple(animals)
        self.columns = tuple(columns)
        self.problems = tuple(problems)
        self._by_tag = {animal.tag: animal for animal in self.animals if animal.tag}
        self._by_visual = {visual_key(animal.visual): animal for animal in self.animals if animal.visual}

    def __len__(self) -> int:
        return len(self.animals)

    def by_tag(self, tag: str) -> Animal | None:
        """Find an animal by the digits of its tag, however they are spaced."""
        return self._by_tag.get(digits(tag))

    def by_visual(self, visual: str) -> Animal | None:
        """Find an animal by its visual number; case, spaces and leading zeros do not matter."""
        return self._by_visual.get(visual_key(visual))

    def not_seen(self, seen: Container[str]) -> list[Animal]:
        """List the animals none of whose names is among those seen."""
        return [animal for animal in self.animals if not any(name in seen for name in animal.names)]


def load_roster(path: Path, today: date) -> Roster:
    """Read a roster.  What is wrong in it is in `problems`.  Raises ConfigError only when there is nothing to read."""
    return roster_of(read_table(path), today)


def roster_of(csv: Csv, today: date, troubles: Troubles | None = None) -> Roster:
    """Read a roster that is a table already.  What is wrong in it is in `problems`, and in `troubles` where given."""
    return _Reader(csv, today, troubles or Troubles(csv.path)).roster()


class _Reader:
    """One pass over one file, gathering animals and problems."""

    def __init__(self, csv: Csv, today: date, troubles: Troubles) -> None:
        self.csv, self.today, self.troubles = csv, today, troubles
        self.columns = self._match()
        self.tags = Tags(text for row in csv.rows if (text := self._text(row, "tag")))
        self.days_first = cells.days_first(
            text
            for row in csv.rows
            for name in ("born", "last_date", "withheld_until")
            if (text := self._text(row, name))
        )

    def roster(self) -> Roster:
        animals: list[Animal] = []
        tags: dict[str, int] = {}
        visuals: dict[str, int] = {}
        if not {"tag", "visual"} & set(self.columns):
            self._say(1, "tag", "there is no such column", "Name one column tag, or visual.")
            return Roster((), self.columns, self.troubles.problems(), self.csv.path)
        for number, row in self.csv.numbered:
            animal = self._animal(number, row)
            if animal is None:
                continue
            if animal.tag and animal.tag in tags:
                self._say(
                    number,
                    "tag",
                    f"{animal.tag} is on row {tags[animal.tag]} already",
                    "This row is left out.",
                    "twice",
                )
                continue
            key = visual_key(animal.visual) if animal.visual else None
            if key and key in visuals:
                self._say(
                    number,
                    "visual",
                    f"{animal.visual} is on row {visuals[key]} already",
                    "This row is left out.",
                    "twice",
                )
                continue
            if animal.tag:
                tags[animal.tag] = number
            if key:
                visuals[key] = number
            animals.append(animal)
        return Roster(animals, self.columns, self.troubles.problems(), self.csv.path)

    def _match(self) -> dict[str, int]:
        found: dict[str, int] = {}
        spelled = {spelling: name for name, spellings in NAMES.items() for spelling in spellings}
        for place, column in enumerate(self.csv.header):
            name = spelled.get(column, column)
            if not name:
                continue
            if name in found:
                self._say(1, column, "there are two columns of this name", "The first is used.")
            elif column in {"weight", "last_weight", "birth_weight"}:
                self._say(1, column, "the unit is missing", "Call it last_kg or last_lb (birth_kg or birth_lb).")
                found[name] = place
            else:
                found[name] = place
        return found

    def _animal(self, number: int, row: list[str]) -> Animal | None:
        if not any(text.strip() for text in row):
            return None
        tag = self._read(number, row, "tag", self.tags.read)
        visual = self._text(row, "visual") or None
        if tag is None and visual is None:
            if not self._text(row, "tag"):
                self._say(number, "tag", "is empty", "This row is left out.")
            return None
        born = self._past(number, row, "born")
        last_date = self._past(number, row, "last_date")
        birth_kg = self._weight(number, row, "birth")
        last_kg = self._weight(number, row, "last")
        withheld = self._read(number, row, "withheld_until", self._withheld)
        if withheld is None and self._text(row, "withheld_until"):
            withheld = UNKNOWN  # unreadable: safer held than let go
        if born and last_date and last_date < born:
            self._say(
                number, "last_date", f"is before the birth date {born.isoformat()}", "Neither weight is used.", "early"
            )
            last_date = None
        if last_kg is not None and last_date is None and not self._text(row, "last_date"):
            self._say(number, "last_date", "is empty", "A last weight without its date gives no gain.")
        return Animal(
            row=number,
            tag=tag,
            visual=visual,
            born=born,
            sex=self._read(number, row, "sex", known_sex),
            dam=self._text(row, "dam") or None,
            roster_id=self._text(row, "roster_id") or None,
            former_tags=self._read(number, row, "former_tags", self.tags.several) or (),
            birth_kg=birth_kg,
            dam_age=self._read(number, row, "dam_age", cells.years),
            last_kg=last_kg,
            last_date=last_date,
            withheld_until=withheld,
            weights=self._weights(number, row, (born, birth_kg), (last_date, last_kg)),
            other={
                name: text
                for name, place in self.columns.items()
                if name not in NAMES and cells.dated(name) is None and (text := _at(row, place))
            },
        )

    def _weights(
        self, number: int, row: list[str], *known: tuple[date | None, float | None]
    ) -> tuple[tuple[date, float], ...]:
        found = {day: kg for day, kg in known if day is not None and kg is not None}
        for name in self.columns:
            column = cells.dated(name)
            if column is None:
                continue
            unit, day = column
            kg = self._read(number, row, name, partial(cells.weight, unit=unit))
            if kg is not None:
                found[day] = kg
                self._late(number, name, day)
        return tuple(sorted(found.items()))

    def _weight(self, number: int, row: list[str], which: str) -> float | None:
        kg: float | None = self._read(number, row, f"{which}_kg", partial(cells.weight, unit="kg"))
        from_lb: float | None = self._read(number, row, f"{which}_lb", partial(cells.weight, unit="lb"))
        if kg is not None and from_lb is not None and abs(kg - from_lb) > 1:
            what = f"{kg:g} kg and {round(from_lb / KG_PER['lb'], 1):g} lb are not the same weight"
            self._say(number, f"{which}_kg", what, "Fill in one of the two; neither is used.")
            return None
        return from_lb if kg is None else kg

    def _past(self, number: int, row: list[str], name: str) -> date | None:
        """Read a date that should have been.  One that has not is kept: it may be the box's clock that is behind."""
        day: date | None = self._read(number, row, name, self._day)
        if day is not None:
            self._late(number, name, day)
        return day

    def _late(self, number: int, name: str, day: date) -> None:
        if day > self.today:
            what = f"{day.isoformat()} is after today ({self.today.isoformat()})"
            self._say(number, name, what, "It counts from that day on; if it is right, set this box's clock.", "late")

    def _day(self, text: str) -> date:
        return cells.day(text, first=self.days_first)

    def _withheld(self, text: str) -> str:
        return (
            UNKNOWN if text.casefold() in {UNKNOWN, "?", "yes"} else cells.day(text, first=self.days_first).isoformat()
        )

    def _read(self, number: int, row: list[str], name: str, read: Cell) -> Any:
        text = self._text(row, name)
        if not text:
            return None
        try:
            return read(text)
        except CellError as error:
            self._say(number, self.csv.header[self.columns[name]], error.what, error.hint, error.kind)
        except ValueError as error:
            self._say(number, self.csv.header[self.columns[name]], str(error), "", "no such word")
        return None

    def _text(self, row: list[str], name: str) -> str:
        place = self.columns.get(name)
        return "" if place is None else _at(row, place)

    def _say(self, row: int, column: str, what: str, hint: str, kind: str | None = None) -> None:
        self.troubles.say(row, column, what, hint, kind)


def _at(row: list[str], place: int) -> str:
    return row[place].strip() if place < len(row) else ""
