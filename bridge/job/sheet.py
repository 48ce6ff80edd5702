"""The job sheet: what is being done to this mob today, written beforehand as TOML.

`Sheet` is the file as it was read and checked; the rules made from it are exact and ready to use.  Its digest tells two
versions of one sheet apart.
"""

import hashlib
from collections.abc import Iterator
from datetime import date
from functools import cached_property
from math import inf
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    field_validator,
    model_validator,
)

from neckyoke.bridge.config.fields import Percent, Scalar, SheetTable, Text, listed
from neckyoke.bridge.config.problems import ConfigError, Problem, problems_of, read_toml, wrong_kind
from neckyoke.bridge.config.words import column_name, known_sex, spell_value
from neckyoke.bridge.job.doses.treatments import TreatmentTable
from neckyoke.bridge.job.findings import FindingTable
from neckyoke.bridge.job.growth import DAM_AGES, DamAge
from neckyoke.bridge.job.pens import drafting


class SheetError(ConfigError):
    """A job sheet cannot be used.  `problems` says why, one line each."""


class DraftTable(SheetTable):
    """One pen.  Bounds are kilograms and kilograms a day, half open; `match` asks for details or roster columns."""

    pen: Text
    at_least_kg: float | None = Field(default=None, ge=0, le=5000)
    below_kg: float | None = Field(default=None, gt=0, le=5000)
    at_least_gain: float | None = Field(default=None, ge=-20, le=20)
    below_gain: float | None = Field(default=None, ge=-20, le=20)
    heads: int | None = Field(default=None, ge=1, le=5000, description="so many animals: the heaviest, or the lightest")
    heaviest: bool = False
    lightest: bool = False
    match: dict[Text, Annotated[list[Scalar], BeforeValidator(listed)]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _not_empty(self) -> Self:
        for low, high, keys in (
            (self.at_least_kg, self.below_kg, "at_least_kg and below_kg"),
            (self.at_least_gain, self.below_gain, "at_least_gain and below_gain"),
        ):
            if low is not None and high is not None and low >= high:
                raise ValueError(f"pen {self.pen!r}: nothing lies between {keys}: {low:g} is not below {high:g}")
        if (self.heads is not None) != (self.heaviest != self.lightest):
            raise ValueError(f"pen {self.pen!r}: heads goes with heaviest = true or lightest = true, one of the two")
        return self

    @cached_property
    def rule(self) -> drafting.Rule:
        """The rule, ready to use."""
        return drafting.Rule(
            self.pen,
            _band(self.at_least_kg, self.below_kg),
            _band(self.at_least_gain, self.below_gain),
            {column_name(key): tuple(drafting.plain(one) for one in values) for key, values in self.match.items()},
            self.heads,
            not self.lightest,
        )


def _band(low: float | None, high: float | None) -> drafting.Band:
    return drafting.Band(-inf if low is None else low, inf if high is None else high)


class Details(SheetTable):
    """What stands on every animal of the mob: any key, and a few whose values are checked."""

    model_config = ConfigDict(extra="allow", frozen=True)
    __pydantic_extra__: dict[str, Scalar]

    sex: Text | None = None
    born: date | None = None
    birth_group: Text | int | None = None
    breed: Text | None = None

    @field_validator("sex")
    @classmethod
    def _sex(cls, sex: str | None) -> str | None:
        return None if sex is None else known_sex(sex)

    def as_dict(self) -> dict[str, Any]:
        """Spell the details for an event, keys as columns are spelled, dates as text."""
        given = self.model_dump(exclude_none=True)
        return {column_name(key): spell_value(value) for key, value in given.items()}


class Limits(SheetTable):
    """How far a weight may be from the animal's last one before it is called unlikely.

    Allowed is `fill_percent` of the last weight (gut fill, full against empty) and `kg_per_day` for each day between.
    """

    kg_per_day: float = Field(default=3.0, gt=0, le=20)
    fill_percent: float = Field(default=10.0, ge=0, le=50)


class DamAgeTable(SheetTable):
    """One row of a dam-age table of the user's own, kilograms added; without `to_years` it is for all older dams."""

    to_years: float = Field(default=inf, gt=0)
    birth_kg: float = 0.0
    male_kg: float = 0.0
    female_kg: float = 0.0

    @property
    def row(self) -> DamAge:
        """The row, ready to use."""
        return DamAge(self.to_years, self.birth_kg, self.male_kg, self.female_kg)


class Sheet(SheetTable):
    """The whole sheet.  `path` is where it was read from."""

    title: Text
    mob: Text | None = None
    roster: Text | None = None
    leaving: Literal["meat", "export"] | None = Field(
        default=None, description="where these animals go from here: what is withheld for that holds them"
    )
    require_tag: bool | None = Field(default=None, description="overrides the station's setting while the sheet holds")
    utc_offset_hours: float | None = Field(
        default=None, description="read and ignored: dates are the site's timezone's"
    )
    shrink_percent: Percent | None = Field(
        default=None, description="pencil shrink the tally states beside full weights"
    )
    details: Details = Details()
    treatments: tuple[TreatmentTable, ...] = ()
    findings: tuple[FindingTable, ...] = Field(default=(), max_length=16)
    draft: tuple[DraftTable, ...] = ()
    limits: Limits = Limits()
    dam_ages: tuple[DamAgeTable, ...] = ()
    path: Path = Field(default=Path(), exclude=True)

    @field_validator("treatments")
    @classmethod
    def _names_differ(cls, treatments: tuple[TreatmentTable, ...]) -> tuple[TreatmentTable, ...]:
        names = [drafting.plain(treatment.name) for treatment in treatments]
        twice = next((one.name for one in treatments if names.count(drafting.plain(one.name)) > 1), None)
        if twice:
            raise ValueError(f"two treatments are called {twice!r}; give each its own name")
        return treatments

    @field_validator("findings")
    @classmethod
    def _columns_differ(cls, findings: tuple[FindingTable, ...]) -> tuple[FindingTable, ...]:
        columns = [one.column for one in findings]
        twice = next((one.name for one in findings if columns.count(one.column) > 1), None)
        if twice:
            raise ValueError(f"two findings are called {twice!r}; give each its own name")
        return findings

    @field_validator("draft")
    @classmethod
    def _pens_agree(cls, draft: tuple[DraftTable, ...]) -> tuple[DraftTable, ...]:
        wrong = next(drafting.never_reached([table.rule for table in draft]), None)
        if wrong:
            raise ValueError(f"{wrong[1]}; the first that matches wins, and the pen for the rest comes last")
        return draft

    @field_validator("dam_ages")
    @classmethod
    def _ages_rise(cls, rows: tuple[DamAgeTable, ...]) -> tuple[DamAgeTable, ...]:
        ages = [row.to_years for row in rows]
        if rows and (ages != sorted(set(ages)) or ages[-1] != inf):
            raise ValueError(
                "dam_ages go from young to old, and the last row has no to_years: it is for all older dams"
            )
        return rows

    @property
    def of_mob(self) -> str:
        """The mob that it is for: what its own key says, else its title."""
        return self.mob or self.title

    @cached_property
    def digest(self) -> str:
        """Twelve hex digits that differ when anything in the sheet differs."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()[:12]

    @cached_property
    def pens(self) -> tuple[drafting.Rule, ...]:
        """The draft rules in order."""
        return tuple(table.rule for table in self.draft)

    @cached_property
    def dam_age_rows(self) -> tuple[DamAge, ...]:
        """The dam-age table that holds: the sheet's own, else the standard one."""
        return tuple(table.row for table in self.dam_ages) or DAM_AGES

    @property
    def roster_path(self) -> Path | None:
        """Where the roster lies, beside the sheet."""
        return None if self.roster is None else self.path.parent / self.roster


def load_sheet(path: Path) -> Sheet:
    """Read and check a job sheet.  Raises SheetError with every problem found."""
    try:
        table = read_toml(path)
        wrong_kind(
            table, "title", "site", path, "is a configuration, not a job sheet", "Name a sheet, such as sheet.toml."
        )
    except ConfigError as error:
        raise SheetError(error.problems) from None
    if problems := problems_of(Sheet, table, path):
        raise SheetError(problems)
    return Sheet.model_validate(table).model_copy(update={"path": path})


def doubts(sheet: Sheet, today: date) -> Iterator[Problem]:
    """Yield what is lawful in a sheet but likely to be regretted in the yards."""

    def doubt(where: str, what: str, hint: str) -> Problem:
        return Problem(file=str(sheet.path), where=where, what=what, hint=hint)

    if sheet.utc_offset_hours is not None:
        hint = 'Take it out; write timezone = "Pacific/Auckland", or whichever is yours, into the configuration.'
        yield doubt("utc_offset_hours", "is not used any more: all dates are of the site's time zone", hint)
    for one in sheet.treatments:
        where = f"[[treatments]] {one.name}"
        if one.withhold_days is None:
            yield doubt(where, "no withhold_days: animals count as withheld", "Copy it from the label; 0 for none.")
        if one.expires is not None and one.expires < today:
            yield doubt(where, f"the batch expired on {one.expires.isoformat()}", "Use another, or mend the date.")
        if one.export_days is not None and one.withhold_days is not None and one.export_days < one.withhold_days:
            yield doubt(where, "export_days are fewer than withhold_days", "Usually they are more: look again.")
    yield from (
        doubt("[[draft]]", f"no pen for {gap}", "Add a last [[draft]] with nothing but a pen.")
        for gap in drafting.gaps(sheet.pens)
    )
