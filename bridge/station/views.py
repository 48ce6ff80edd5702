"""What a station shows of now: for a live display, and of the animal that has just left."""

from dataclasses import dataclass

from neckyoke.bridge.events import Tag
from neckyoke.bridge.station.platform.view import View


@dataclass(frozen=True, slots=True)
class StationView:
    """The station as it is now, for a live display."""

    platform: View
    number: int | None
    weighing: str | None
    tag: Tag | None
    tags_seen: int
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Left:
    """The last animal, that has left: its number, how long ago, and its tag."""

    number: int
    ago_s: float
    tag: str | None
