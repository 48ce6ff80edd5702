"""Which row of the roster is an animal's, and what is known of it by both the roster and the herd book."""

from collections.abc import Iterable, Mapping
from typing import Any

from neckyoke.bridge.animal_event import Animal as Known
from neckyoke.bridge.events import Settled, Weighing
from neckyoke.bridge.job.roster.roster import Animal, Roster


def row_of(roster: Roster | None, data: Settled | Weighing, who: Known | None) -> Animal | None:
    """Find the animal's row: by the tag heard, by any that it wore, else by its number."""
    if roster is None:
        return None
    tags = [data.tag.id] if data.tag else []
    tags += [worn.id for worn in reversed(who.tags)] if who else []
    found = next((row for tag in tags if (row := roster.by_tag(tag)) is not None), None)
    visual = _said(data).get("visual")
    named = roster.by_visual(visual) if visual and found is None else None
    return found or (named if data.tag is None or (named and named.tag is None) else None)


def key_of(data: Settled | Weighing, row: Animal | None) -> str | None:
    """Return what an animal's past is asked by: its id in the herd book, or its tag where no book is kept."""
    known = (data.animal or {}).get("id")
    return str(known) if known else data.tag.id if data.tag else row.tag if row else None


def described(row: Animal | None, animal: Mapping[str, Any] | None, assumed: Iterable[str]) -> dict[str, Any] | None:
    """Lay what the herd book or a person says over the roster's row; under it, what only a sheet said of a mob."""
    if row is None:
        return dict(animal) if animal else None
    sure = {key: value for key, value in (animal or {}).items() if key not in assumed}
    return {**(animal or {}), **row.as_dict(), **sure}


def _said(data: Settled | Weighing) -> dict[str, str]:
    """Return the visual number that a person read: their word goes before the roster's."""
    visual = (data.animal or {}).get("visual")
    return {"visual": str(visual)} if visual else {}
