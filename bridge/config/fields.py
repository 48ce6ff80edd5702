"""The kinds of value that a person writes into a sheet: bounded texts and numbers, and the base of its tables."""

from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Positive = Annotated[Decimal, Field(gt=0, le=100_000)]
Days = Annotated[int, Field(ge=0, le=3650)]
Percent = Annotated[float, Field(ge=0, le=50)]


def _scalar(value: object) -> object:
    if isinstance(value, str | bool | int | float | date):
        return value.strip() if isinstance(value, str) else value
    raise ValueError("must be one text, number or date")


def listed(value: object) -> object:
    """Return a value as a list: one alone is a list of one."""
    return value if isinstance(value, list) else [value]


Scalar = Annotated[Any, AfterValidator(_scalar)]
"""One text, number, yes-or-no or date."""


class SheetTable(BaseModel):
    """Base of the sheet's tables: closed, immutable."""

    model_config = ConfigDict(extra="forbid", frozen=True, ignored_types=(cached_property,))
