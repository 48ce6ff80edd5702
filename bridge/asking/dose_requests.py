"""What can be said of what an animal was given, and of what was seen of it."""

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, PrivateAttr, model_validator

from neckyoke.bridge.asking.parts import NUMBER_MAX, Animal, Base, OneValue, Short

MOST_AT_ONCE = 500
"""Animals that one request may speak of."""


class Several(Animal):
    """A request about one animal, or about all from `number` up to `to`."""

    to: int | None = Field(default=None, ge=1, le=NUMBER_MAX, description="the last one's number, from number on")
    _whole: str | None = PrivateAttr(default=None)

    @property
    def whole(self) -> str | None:
        """The name of the request about many animals that this one is a part of; nobody can send it."""
        return self._whole

    def part(self, key: str, number: int, whole: str) -> Self:
        """Return the part about one animal; `key` says which of its numbers that is."""
        one = self.model_copy(update={key: number, "to": None, "id": f"{whole}/{number}"})
        one._whole = whole  # noqa: SLF001  # its own
        return one

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.to is None:
            return self
        first = self.number or self.job_number
        if first is None or self.weighing is not None or not first <= self.to < first + MOST_AT_ONCE:
            raise ValueError(f"to goes with number, the first of them: up to {MOST_AT_ONCE} animals")
        return self


class SkipRequest(Several):
    """Say that a treatment was not given to this animal (`given`: that it was after all)."""

    kind: Literal["skip"] = "skip"
    treatment: Short
    given: bool = False


class DoseRequest(Several):
    """Say that this animal was given another amount of a treatment, or from another batch, than the sheet says."""

    kind: Literal["dose"] = "dose"
    treatment: Short
    amount: float | None = Field(default=None, gt=0, le=100_000, description="in the treatment's unit")
    batch: Short | None = None

    @model_validator(mode="after")
    def _something(self) -> Self:
        if self.amount is None and self.batch is None:
            raise ValueError("say what was other: give amount or batch (skip says that it was not given)")
        return self


class FindingRequest(Animal):
    """Say what was seen of this animal, by the name of one of the sheet's findings; no value takes it back."""

    kind: Literal["finding"] = "finding"
    name: Short
    value: OneValue | Annotated[list[OneValue], Field(max_length=24)] | None = None


class WithheldRequest(Base):
    """List every animal that may not go on a day: for meat, or by the dates for export."""

    kind: Literal["withheld"] = "withheld"
    on: date | None = Field(default=None, description="the farm's date; today without one")
    export: bool = False
