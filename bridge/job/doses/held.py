"""Who is withheld as it stands at the crush, because of what, and whether that holds it there.

Telling and holding are two things: three weeks after a drench every animal is withheld, and may well go back to grass.
What is withheld is always told.  Under a sheet for animals that leave (`leaving = "meat"` or `"export"`) it also holds:
for meat what is withheld from slaughter, for export what is withheld from either.  Doses of the very weighing never do.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, TypeAlias

from neckyoke.bridge.events import WithheldFor
from neckyoke.bridge.job.doses.withholding import UNKNOWN, is_withheld


@dataclass(frozen=True, slots=True)
class PastDose:
    """One treatment that an animal was given: when, in which job, and from which dates it is clear (`withholding`)."""

    name: str
    at: datetime
    job: str | None
    meat: str | None
    export: str | None


Leaving: TypeAlias = Literal["meat", "export"]
ROSTER, BOOK = "roster", "herd book"
"""Named as the product where a date was brought along without one."""


def withheld_for(
    doses: Iterable[PastDose], brought: Iterable[tuple[str, str | None]], today: date
) -> tuple[WithheldFor, ...]:
    """Return what holds an animal today.  `brought`: names and first clear dates that came without a dose.

    Of one product and kind the date that lasts longest; the reasons that last longest first.
    """
    longest: dict[tuple[str, Leaving], str] = {}
    for product, kind, clear in _dates(doses, brought):
        before = longest.get((product, kind))
        if is_withheld(clear, today) and clear is not None and (before is None or _later(clear, before)):
            longest[product, kind] = clear
    made = [
        WithheldFor(product=product, kind=kind, until=None if clear == UNKNOWN else clear)
        for (product, kind), clear in longest.items()
    ]
    return tuple(sorted(made, key=lambda one: one.until or "9999", reverse=True))


def _dates(
    doses: Iterable[PastDose], brought: Iterable[tuple[str, str | None]]
) -> Iterator[tuple[str, Leaving, str | None]]:
    for dose in doses:
        yield dose.name, "meat", dose.meat
        yield dose.name, "export", dose.export
    for name, clear in brought:
        yield name, "meat", clear


def _later(clear: str, before: str) -> bool:
    return clear == UNKNOWN or (before != UNKNOWN and clear > before)


def holds(withheld: Iterable[WithheldFor], leaving: Leaving | None) -> bool:
    """Return whether an animal that leaves for this purpose is held."""
    if leaving is None:
        return False
    return any(leaving == "export" or one.kind == "meat" for one in withheld)


def spell_withheld(withheld: Iterable[WithheldFor]) -> str:
    """Return in words until when an animal is withheld for what, the longest of each; empty where it is not."""
    said: dict[str, str] = {}
    for one in withheld:  # the longest come first
        said.setdefault(one.kind, f"{one.until or 'a date not known'} for {one.kind} ({one.product})")
    return f"withheld until {' and '.join(said.values())}" if said else ""
