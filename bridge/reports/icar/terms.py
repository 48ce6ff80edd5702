"""What every ICAR resource is spelled with: releases, schemes, units, dates, and the metadata by which it is kept.

Source: the schemas of the ICAR animal data exchange (adewg/ICAR on GitHub, Apache-2.0): release 1.3.2 (2023-02-16), and
for "1.4" the development branch of 2024-02-08, the newest that could be read.  A resource is one of its `source` and
`sourceId`; a later state of it has a later `modified`, and one that is no more says `isDeleted`.
"""

from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Any, Literal, TypeAlias, get_args

from neckyoke.bridge.events import spell_time
from neckyoke.bridge.reports.reading import Data, known_as

Release: TypeAlias = Literal["1.3", "1.4"]
RELEASES: tuple[Release, ...] = get_args(Release)
Resource: TypeAlias = dict[str, Any]

TAG_SCHEME = "std.iso.11785"
"""Of a tag's fifteen digits together (well-known/icarAnimalIdentifierType.md)."""
UNITS = {"mL": "MLT", "L": "LTR", "mg": "MGM", "g": "GRM"}
"""The releases' dose units (UN/CEFACT codes) for ours.  They have none for pieces: those go without a unit."""


def source_of(farm: str) -> str:
    """Return what a farm's resources name as their source."""
    return f"urn:neckyoke:{farm}"


def metadata(farm: str, identity: str, *, created: str, modified: str, gone: bool) -> Resource:
    """Make the metadata of a resource; `gone`: a receiver that has it is to take it back."""
    meta: Resource = {
        "source": source_of(farm),
        "sourceId": identity,
        "modified": modified,
        "created": created,
    }
    if gone:
        meta["isDeleted"] = True
    return meta


def tagged(tag: str) -> Resource:
    """Identify an animal by its tag."""
    return {"scheme": TAG_SCHEME, "id": tag}


def named(data: Data, farm: str) -> Resource | None:
    """Identify the animal of a weighing: by its tag, the one its roster knows, or its visual number; None: nobody."""
    known = known_as(data)
    if known is None:
        return None
    visual = known.removeprefix("visual ")
    return tagged(known) if visual == known else {"scheme": f"{source_of(farm)}:visual", "id": visual}


def midnight(day: str, zone: tzinfo) -> str:
    """Return when a day begins at the farm."""
    return spell_time(datetime.fromisoformat(day).replace(tzinfo=zone))


def end_of(day: str, zone: tzinfo) -> str:
    """Return when a day is over at the farm."""
    return midnight((date.fromisoformat(day) + timedelta(days=1)).isoformat(), zone)


def later(moments: list[str]) -> str:
    """Return when the last of several states was made, in their order: later than all before it, whatever the clock."""
    last = datetime.fromisoformat(moments[0])
    for one in moments[1:]:
        last = max(datetime.fromisoformat(one), last + timedelta(milliseconds=1))
    return spell_time(last.astimezone(UTC))
