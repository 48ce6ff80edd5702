"""What a station needs to know of its surroundings, as plain values."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeAlias

from neckyoke.bridge.events import Position

DOUBT_PERCENT = 0.5
"""A tag whose chance of being wrong is greater is flagged, unless a person says otherwise."""
MOST_PLACES = 9
"""Animals that may fit between a reader ahead and the platform, at most."""


@dataclass(frozen=True, slots=True)
class Settings:
    """One station.  Weights in kilograms.

    `readers` maps each reader's link to where it stands; `places` those ahead to how many animals fit between them and
    the platform, if a person said so.
    """

    site: str
    name: str
    scale: str
    readers: Mapping[str, Position] = field(default_factory=dict)
    places: Mapping[str, int] = field(default_factory=dict)
    capacity_kg: float = 2000.0
    interval_kg: float = 0.5
    smallest_kg: float = 25.0
    require_tag: bool = False
    doubt_percent: float = DOUBT_PERCENT
    run: str = ""  # the recording's start, spelled; part of every id


class Place(NamedTuple):
    """Where a stay belongs: its job and its number in it, both None while the job is paused."""

    job: str | None = None
    job_number: int | None = None
    paused: bool = False


PlaceStay: TypeAlias = Callable[[int, float], Place]
"""Tells where a stay belongs that begins: by its number, and when it began."""


class Needs(NamedTuple):
    """What holds an animal by its job sheet: whether it needs a tag, None where the sheet does not say; findings."""

    tag: bool | None = None
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Memory:
    """What a station carries from one run, or one part of a capture, to the next.

    `number` is the last stay's; `zero_kg` what the empty platform showed, None when not known; `weighed` tells of
    each of the last jobs which weighing each animal has (`Account`), `jobs` of the jobs themselves; `habits` maps
    each reader to what was learned of it; `interrupted` is the weighing that an earlier run left unfinished, while
    its animal may still stand there, and `away_s` for how long it was unseen when this run began, None when not
    known; `stood_kg` is what stood there last then, roughly, and it `leaves` if most feet were lifted; `undo` tells
    by request what each changed, so that it can be taken back; `visits` how long the last animals stood there, how
    soon the next ones did, and what they weighed (`Visits`); `before` is the last stay (`Before`), which ended
    `before_ago_s` before this run began, None when not known, and `had` when the animals of the last ones were given
    each of their treatments, by weighing (`Past.had`).
    """

    number: int = 0
    zero_kg: float | None = None
    weighed: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    jobs: Mapping[str, Any] = field(default_factory=dict)
    habits: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    interrupted: Mapping[str, Any] | None = None
    away_s: float | None = None
    stood_kg: float | None = None
    leaves: bool = False
    undo: Mapping[str, str] = field(default_factory=dict)
    visits: tuple[tuple[float, float, float | None], ...] = ()
    before: Mapping[str, Any] | None = None
    before_ago_s: float | None = None
    had: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
