"""What a person may say of an animal at the crush by touch: the findings of a job sheet, and values read for them.

A finding has one kind of value:

    choices = [1, 2, 3, 4, 5]                               one of these; several = true: as many of them as one likes
    number = { from = 1, to = 5, step = 0.5, unit = "cm" }  a number on that grid
    yes_no = true
    words = true                                            free text

`usual` stands unless a person says otherwise.  `needed` holds the animal until a person has given it, also when there
is a usual one.  `keep` makes it a lasting property of the animal (colour, sex), known again at its next job.
"""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from functools import cached_property
from typing import Any, Self, TypeAlias

from pydantic import Field, model_validator

from neckyoke.bridge.config.fields import Scalar, SheetTable, Text
from neckyoke.bridge.config.problems import nearest
from neckyoke.bridge.config.words import column_name, spell_value
from neckyoke.bridge.events import Finding

MOST_CHOICES = 24
MOST_TOUCHES = 12
"""Buttons that a number may have; a longer range is typed."""
MOST_WORDS = 200
"""Characters of a finding in free words."""
MOST_STEPS = 1000
YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")

Value: TypeAlias = str | int | float | bool | tuple[str | int | float | bool, ...]


class NumberRange(SheetTable):
    """The numbers that a finding may be: from, to and the step between two of them, in a unit or none."""

    from_: Decimal = Field(alias="from", ge=-100_000, le=100_000)
    to: Decimal = Field(ge=-100_000, le=100_000)
    step: Decimal = Field(default=Decimal(1), gt=0)
    unit: Text | None = None

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.from_ >= self.to:
            raise ValueError(f"nothing lies from {self.from_} to {self.to}")
        if (self.to - self.from_) / self.step > MOST_STEPS:
            raise ValueError(f"more than {MOST_STEPS} steps lie from {self.from_} to {self.to}: take a larger step")
        return self


class FindingTable(SheetTable):
    """One finding: its name, what it may be, and what is made of it."""

    name: Text
    choices: tuple[Scalar, ...] | None = Field(default=None, min_length=1, max_length=MOST_CHOICES)
    number: NumberRange | None = None
    yes_no: bool = False
    words: bool = False
    several: bool = Field(default=False, description="of the choices, as many as one likes")
    usual: Any = Field(default=None, description="stands unless a person says otherwise")
    needed: bool = Field(default=False, description="the sign does not say 'let it go' before a person has given it")
    keep: bool = Field(default=False, description="a lasting property of the animal")

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        told = f"finding {self.name!r}"
        kinds = [
            key
            for key, given in (
                ("choices", self.choices is not None),
                ("number", self.number is not None),
                ("yes_no", self.yes_no),
                ("words", self.words),
            )
            if given
        ]
        if len(kinds) != 1:
            how = "has none of" if not kinds else f"has {' and '.join(kinds)}: take one of"
            raise ValueError(f"{told} {how} choices, number, yes_no and words")
        if self.several and self.choices is None:
            raise ValueError(f"{told}: several goes with choices")
        spelled = [_plain(choice) for choice in self.choices or ()]
        if len(set(spelled)) < len(spelled):
            raise ValueError(f"{told}: two choices are the same")
        if self.usual is not None:
            try:
                self.read(self.usual)
            except ValueError as error:
                raise ValueError(f"{told}: usual: {error}") from None
        return self

    @cached_property
    def column(self) -> str:
        """The name as columns are spelled: in exports, and for a pen's `match`."""
        return column_name(self.name)

    @property
    def touches(self) -> tuple[str | int | float | bool, ...]:
        """The values as buttons, where they are few enough; none for words and long ranges."""
        if self.yes_no:
            return True, False
        if self.number is None:
            return self._choices
        steps = int((self.number.to - self.number.from_) / self.number.step) + 1
        if steps > MOST_TOUCHES:
            return ()
        return tuple(_number(self.number, self.number.from_ + step * self.number.step) for step in range(steps))

    @property
    def usual_value(self) -> Value | None:
        """The value that stands unless a person says otherwise."""
        return None if self.usual is None else self.read(self.usual)

    def read(self, said: Any) -> Value:
        """Return a value as it is published.  Raises ValueError that says what it may be."""
        if self.several:
            parts = said if isinstance(said, list | tuple) else [said]
            found = [self._choice(part) for part in parts]
            return tuple(choice for choice in self._choices if choice in found)
        if isinstance(said, list | tuple):
            raise ValueError(f"{self.name} takes one value")  # noqa: TRY004 -- one kind of error for what a person says
        if self.choices is not None:
            return self._choice(said)
        if self.number is not None:
            return _number(self.number, said)
        return _yes_no(said) if self.yes_no else _words(said)

    @cached_property
    def _choices(self) -> tuple[str | int | float | bool, ...]:
        return tuple(spell_value(choice) for choice in self.choices or ())

    def _choice(self, said: Any) -> str | int | float | bool:
        word = _plain(said)
        found = next((choice for choice in self._choices if _plain(choice) == word), None)
        if found is None:
            known = [str(choice) for choice in self._choices]
            raise ValueError(f"{said!r} is no choice of {self.name}. {nearest(str(said), known)}")
        return found


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | Decimal):
        return f"{float(value):g}"
    text = str(spell_value(value)).strip().casefold()
    try:
        return f"{float(text):g}"
    except ValueError:
        return text


def _number(allowed: NumberRange, said: Any) -> int | float:
    unit = f" {allowed.unit}" if allowed.unit else ""
    steps = "" if allowed.step == 1 else f" in steps of {allowed.step}"
    right = f"a number from {allowed.from_} to {allowed.to}{unit}{steps}"
    try:
        number = Decimal(str(said).strip().replace(",", "."))
    except ArithmeticError:
        raise ValueError(f"{said!r} is not {right}") from None
    on_grid = number.is_finite() and (number - allowed.from_) % allowed.step == 0
    if isinstance(said, bool) or not on_grid or not allowed.from_ <= number <= allowed.to:
        raise ValueError(f"{said!r} is not {right}")
    return int(number) if number == number.to_integral_value() else float(number)


def _yes_no(said: Any) -> bool:
    word = _plain(said)
    if word in YES:
        return True
    if word in NO:
        return False
    raise ValueError(f"{said!r} is neither yes nor no")


def _words(said: Any) -> str:
    text = str(said).strip()
    if not text or len(text) > MOST_WORDS or any(ord(sign) < 32 for sign in text):
        raise ValueError(f"words are one line of at most {MOST_WORDS} characters")
    return text


def finding_meant(name: str, tables: Sequence[FindingTable]) -> FindingTable:
    """Find the finding of a sheet that a person names.  Raises ValueError saying what there is."""
    word = column_name(name)
    found = next((one for one in tables if one.column == word), None)
    if found is None:
        known = [one.name for one in tables]
        there_is = nearest(name, known) if known else "The job sheet has no findings."
        raise ValueError(f"no finding {name!r} on this sheet. {there_is}")
    return found


def findings(
    tables: Iterable[FindingTable], said: Iterable[Finding], animal: Mapping[str, Any] | None
) -> tuple[Finding, ...]:
    """Return the findings of one animal in the sheet's order: what a person gave, else what its row brings, else usual.

    What a person gave stands also where the sheet knows no such finding any more.
    """
    given = {column_name(one.name): one for one in said if one.by == "person"}
    made = []
    for table in tables:
        one = given.pop(table.column, None) or _without_a_person(table, animal or {})
        made += [] if one is None else [one.model_copy(update={"keep": table.keep})]
    return (*made, *given.values())


def _without_a_person(table: FindingTable, animal: Mapping[str, Any]) -> Finding | None:
    brought = animal.get(table.column)
    if brought is not None:
        try:
            return Finding(name=table.name, value=table.read(brought), by="kept" if table.keep else "roster")
        except ValueError:
            pass  # the roster says something that the sheet does not know: it is told when the roster is read
    usual = table.usual_value
    return None if usual is None else Finding(name=table.name, value=usual, by="usual")
