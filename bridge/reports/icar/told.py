"""All that was ever said of weighings, folded into what a receiver must be told: what holds now, and what is no more.

A receiver may have read an earlier export.  So whatever any revision of a weighing once said is either in the newest
one too, or is told of as deleted: the weight of a struck-out weighing, of one whose tag turned out to be another's and
no tag is left, of one that lost its weight, and each dose that was not given after all.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import Any

from neckyoke.bridge.reports.icar.groups import Place, group, places
from neckyoke.bridge.reports.icar.terms import Release, Resource, later, metadata
from neckyoke.bridge.reports.icar.weighings import animal_events, stands
from neckyoke.bridge.reports.reading import Data, known_as, weighing_of


@dataclass(slots=True)
class Past:
    """What was said of one weighing: when each revision was made, the newest, and what each once said, by identity."""

    moments: dict[int, str] = field(default_factory=dict)
    newest: int = 0
    data: Data = field(default_factory=dict)
    said: dict[tuple[str, str], tuple[int, Resource]] = field(default_factory=dict)
    places: set[Place] = field(default_factory=set)

    @property
    def modified(self) -> str:
        """When the newest revision was made."""
        return later([self.moments[revision] for revision in sorted(self.moments)])

    @property
    def created(self) -> str:
        """When the first known revision was made."""
        return self.moments[min(self.moments)]


class Told:
    """The resources of the farms.  `add` takes events in any order, repeats too; `resources` gives what to tell.

    `resolution_kg` are the scales' intervals by station, `zone` that of the withholding dates (the farm's).
    """

    def __init__(
        self, release: Release, *, resolution_kg: Mapping[str, float] | None = None, zone: tzinfo = UTC
    ) -> None:
        self._release: Release = release
        self._resolution = resolution_kg or {}
        self._zone = zone
        self._farms: dict[str, dict[str, Past]] = {}

    def add(self, events: Iterable[Any]) -> None:
        """Take in events as JSON; all but weighings are passed over."""
        for event in events:
            if (data := weighing_of(event)) is not None:
                self._take(event["source"].split("/")[1], event["time"], data)

    def _take(self, farm: str, time: str, data: Data) -> None:
        past = self._farms.setdefault(farm, {}).setdefault(data["weighing"], Past())
        revision = data.get("revision", 1)
        past.moments[revision] = time
        if revision > past.newest:
            past.newest, past.data = revision, data
        past.places.update(places(data))
        resolution_kg = self._resolution.get(data["station"])
        for kind, identity, one in animal_events(data, farm, self._release, resolution_kg, self._zone):
            if past.said.get((kind, identity), (0, {}))[0] <= revision:
                past.said[kind, identity] = revision, one

    @property
    def farms(self) -> list[str]:
        """The farms whose weighings these are."""
        return sorted(self._farms)

    def resources(self, farm: str) -> dict[str, list[Resource]]:
        """Return the resources of one farm by kind, each kind in the order in which they came."""
        made: dict[str, list[Resource]] = {"weights": [], "treatments": [], "group-weights": [], "animal-sets": []}
        pasts = self._farms[farm]
        for past in pasts.values():
            for (kind, identity), (revision, one) in past.said.items():
                meta = metadata(
                    farm, identity, created=past.created, modified=past.modified, gone=revision < past.newest
                )
                made[kind].append({**one, "meta": meta})
        groups: dict[Place, list[Past]] = {}
        for past in pasts.values():
            for place in sorted(past.places):
                groups.setdefault(place, []).append(past)
        for place, members in groups.items():
            rows = [(past.data, past.created, past.modified) for past in members]
            made[place[0]].append(group(place, rows, farm, self._resolution.get(place[1])))
        return made

    def left_out(self) -> tuple[int, int]:
        """Count the weighings that no resource of one animal tells of: of unknown ones, and weights graded poor."""
        standing = [data for data in self._newest() if stands(data)]
        unknown = [data for data in standing if known_as(data) is None]
        poor = sum(data["weight"]["grade"] == "poor" for data in standing)
        return len(unknown), poor

    def _newest(self) -> Iterator[Data]:
        return (past.data for pasts in self._farms.values() for past in pasts.values())
