"""Who may not go on a day: every animal whose withholding (or export) date has not passed, until when, and why.

An animal is withheld on a day before its first clear date; where no period was given the date is not known, and it
counts as withheld until a person says otherwise.  Doses of every weighing count, whatever job or tag they were given
under, and also where it was struck out, unless a person said that they were not given.  A roster's own date counts
beside them.
Arithmetic on what was typed: the product label, the veterinarian and local rules decide.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date, datetime, tzinfo
from typing import Any, Literal, TypeAlias

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.job.doses.withholding import UNKNOWN, is_withheld, longest
from neckyoke.bridge.reports.reading import Data, known_as, latest

Kind: TypeAlias = Literal["meat", "export"]
KEYS: dict[Kind, str] = {"meat": "withheld_until", "export": "export_from"}
ROSTER = "roster"
"""Named as the product where the date is the roster's."""


@dataclass(frozen=True, slots=True)
class Because:
    """One reason: the product, when it was given (none for a roster's date), and until when it holds, or not known."""

    product: str
    given: str | None
    until: str | None


@dataclass(slots=True)
class Withheld:
    """One animal that may not go: `until` is the first date on which it may, None when that is not known."""

    visual: str | None
    tag: str | None
    former_tags: tuple[str, ...] = ()
    until: str | None = None
    because: list[Because] = field(default_factory=list)

    def as_dict(self) -> dict[str, Any]:
        """Return it as JSON carries it."""
        return asdict(self)


def withheld_on(
    weighings: Iterable[Data], day: date, zone: tzinfo, kind: Kind = "meat", book: Book | None = None
) -> list[Withheld]:
    """Return the animals withheld on a day, by visual number and then by tag; what nobody can name comes last.

    With the herd book an animal is one under all its tags and numbers, also those of before a retag or a merge, and
    what a roster said of one that was never weighed counts too.  Without it, an animal is the id that its weighings
    carry, or its tag.
    """
    herd = book or Book()
    found: dict[str, list[Data]] = {}
    for data in latest(weighings):
        found.setdefault(_animal_of(data, herd) or f"weighing {data['weighing']}", []).append(data)
    for known in herd.on_paper():
        found.setdefault(herd.root(known.animal), [])
    made = (_withheld(of_one, herd.find(animal), day, zone, kind) for animal, of_one in found.items())
    return sorted((one for one in made if one.because), key=_place)


def _animal_of(data: Data, book: Book) -> str | None:
    """Return what is the same in all weighings of one animal: its id in the herd book, else its tag or number."""
    known, tag = (data.get("animal") or {}).get("id"), (data.get("tag") or {}).get("id")
    worn_by = book.by_tag(tag, at=datetime.fromisoformat(data["on"])) if tag and not known else None
    return book.root(str(known)) if known else book.root(worn_by.animal) if worn_by else known_as(data)


def _withheld(of_one: list[Data], known: Animal | None, day: date, zone: tzinfo, kind: Kind) -> Withheld:
    of_one.sort(key=lambda data: str(data["on"]))
    animals, tags = [data.get("animal") or {} for data in of_one], [data.get("tag") or {} for data in of_one]
    visual = next((one["visual"] for one in reversed(animals) if one.get("visual")), None)
    worn = [tag.get("id") or one.get("tag") for tag, one in zip(tags, animals, strict=True)]
    wearing = next((tag for tag in reversed(worn) if tag), None)
    if known is not None:
        visual, wearing = known.visual or visual, known.tag or wearing
        worn += [tag.id for tag in known.tags]
    made = Withheld(visual, wearing, tuple(dict.fromkeys(tag for tag in worn if tag and tag != wearing)))
    clear = [*_clear_dates(of_one, zone, kind)]
    if kind == "meat" and known is not None and known.withheld_until and not any(one[0] == ROSTER for one in clear):
        clear.append((ROSTER, None, known.withheld_until))
    holding = [(product, given, until) for product, given, until in clear if is_withheld(until, day)]
    made.because = [Because(*one[:2], None if one[2] == UNKNOWN else one[2]) for one in holding]
    until = longest(until for _, _, until in holding)
    made.until = None if until == UNKNOWN else until
    return made


def _clear_dates(of_one: list[Data], zone: tzinfo, kind: Kind) -> Iterator[tuple[str, str | None, str | None]]:
    for data in of_one:
        day = datetime.fromisoformat(data.get("settled") or data["on"]).astimezone(zone).date().isoformat()
        for one in data.get("treatments", ()):
            if not one.get("skipped"):
                yield one["name"], day, one.get(KEYS[kind])
    rostered = next((one for data in reversed(of_one) if (one := (data.get("animal") or {}).get(KEYS[kind]))), None)
    if rostered:
        yield ROSTER, None, str(rostered)


def _place(one: Withheld) -> tuple[bool, list[tuple[int, int, str]], str]:
    """Order by visual number as people count, 9 before 10; without one, by tag."""
    parts = re.findall(r"\d+|\D+", one.visual or "")
    return (
        one.visual is None,
        [(0, int(part), "") if part.isdecimal() else (1, 0, part.casefold()) for part in parts],
        one.tag or "",
    )


def told(found: Sequence[Withheld], day: date, kind: Kind) -> Iterator[str]:
    """Yield who is withheld on a day, a line each: number, tag, until when, because of what, and former tags."""
    if not found:
        yield f"No animal known here is withheld for {kind} on {day.isoformat()}."
        return
    yield f"{len(found)} withheld for {kind} on {day.isoformat()}:"
    width = max(6, *(len(one.visual or "") for one in found))
    yield f"{'visual':{width}}  {'tag':16}  {'until':10}  because of"
    for one in found:
        tag = f"{one.tag[:-12]} {one.tag[-12:]}" if one.tag else "no tag"
        reasons = (f"{why.product}{f' of {why.given}' if why.given else ''}" for why in one.because)
        line = f"{one.visual or '':{width}}  {tag:16}  {one.until or 'not known':10}  {', '.join(reasons)}"
        yield f"{line} (was {', '.join(one.former_tags)})" if one.former_tags else line
