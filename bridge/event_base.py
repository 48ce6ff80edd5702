"""What all that is published rests on: moments on the wall clock and how they are spelled, and closed models."""

from collections.abc import Callable
from datetime import UTC, datetime
from enum import StrEnum
from typing import Annotated, ClassVar, NamedTuple, TypeAlias

from pydantic import BaseModel, ConfigDict, PlainSerializer, WithJsonSchema


class Clock(StrEnum):
    """How far the wall clock could be trusted when the time was taken."""

    SYNCHRONISED = "synchronised"
    UNSYNCHRONISED = "unsynchronised"
    UNKNOWN = "unknown"


class Stamp(NamedTuple):
    """A moment on the wall clock and how far to trust it."""

    time: datetime
    clock: Clock


Stamper: TypeAlias = Callable[[float], Stamp]
"""Turns monotonic seconds of this run into wall time.  Given to the pure core, which has no clock of its own."""


def spell_time(moment: datetime) -> str:
    """Write a moment as RFC 3339 in UTC, milliseconds, Z."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


Time = Annotated[
    datetime,
    PlainSerializer(spell_time, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "format": "date-time"}, mode="serialization"),
]


class Model(BaseModel):
    """Base of what we write: closed, immutable."""

    model_config: ClassVar[ConfigDict] = ConfigDict(
        extra="forbid", frozen=True, json_schema_serialization_defaults_required=True
    )
