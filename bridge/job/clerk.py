"""Fills into events what the job knows: sheet, roster row, details, treatments, gain, pen and the flags that follow.

The clerk refuses nothing and changes nothing that the station said: it adds.  It is a function of what it was given, in
order: the sheets with the weighings they hold from, the roster, earlier weights, and the events themselves.  A sheet
changed in mid-run holds from the next animal on; a weighing amended later is filled by the sheet that held for it, and
a clerk that no longer knows that sheet leaves what stands in the event alone.

Which moment counts: a dose is given and a gate moves when the animal settles, by the weight shown then (`first_kg`), so
the same dose and pen stand in the settled event and in the weighing, though its weight may be a little finer by then.
Dates are the farm's (`zone`).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, tzinfo
from typing import Any, Protocol, TypeAlias

from neckyoke.bridge import animal_event
from neckyoke.bridge.events import Event, Flag, Settled, Weighing, WithheldFor
from neckyoke.bridge.job import growth
from neckyoke.bridge.job.doses import flagged
from neckyoke.bridge.job.doses.given import in_doubt, treatments, treatments_afterwards, unsaid
from neckyoke.bridge.job.doses.held import BOOK, ROSTER, PastDose, holds, withheld_for
from neckyoke.bridge.job.doses.shown import NOTHING, Shown
from neckyoke.bridge.job.findings import findings
from neckyoke.bridge.job.past import SURE
from neckyoke.bridge.job.pens.taken import Taken
from neckyoke.bridge.job.pens.where import pens
from neckyoke.bridge.job.roster.roster import Animal, Roster
from neckyoke.bridge.job.roster.whose import described, key_of, row_of
from neckyoke.bridge.job.sheet import Limits, Sheet
from neckyoke.bridge.station.settings import Needs

History: TypeAlias = Callable[[str, str], Iterable[tuple[datetime, float]]]
"""Returns an animal's weights known from the journal and when they were taken, but for one weighing's (`Past.weights`).

An animal is meant by its id in the herd book; by its tag where no book is kept."""
Doses: TypeAlias = Callable[[str, datetime, str], Iterable[PastDose]]
"""Returns what an animal was given before a moment, but for one weighing's (`Past.doses`)."""
Before: TypeAlias = Callable[[str], Shown]
"""Returns the treatments of a recent stay as they were published last (`Past.shown`)."""
Had: TypeAlias = Callable[[str], Mapping[str, datetime]]
"""Returns when the animal of a recent stay was given each of its treatments (`Past.had`)."""
Known: TypeAlias = animal_event.Animal
"""An animal as the herd book knows it; `Animal` is a row of the roster."""


@dataclass(frozen=True, slots=True)
class Held:
    """A sheet and its roster, who was weighed in the job that it holds for, and who went where."""

    sheet: Sheet | None = None
    roster: Roster | None = None
    weighed: Mapping[str, str] = field(default_factory=dict)
    taken: Taken = field(default_factory=Taken)


class InForce(Protocol):
    """Knows which sheet holds for which animal."""

    @property
    def next(self) -> Held:
        """What holds for the next animal."""

    def held(self, number: int) -> Held | None:
        """Return what holds for the weighing of a number; None when that is not known any more."""

    def called(self, title: str | None) -> Held | None:
        """Return the last sheet of a title, while it is at hand."""


@dataclass(slots=True)
class OneSheet:
    """One sheet for everybody, or none."""

    next: Held = Held()

    def held(self, _number: int) -> Held:
        """Return the one."""
        return self.next

    def called(self, title: str | None) -> Held | None:
        """Return the one if it is called so."""
        return self.next if self.next.sheet and self.next.sheet.title == title else None


OURS = frozenset({Flag.NOT_EXPECTED, Flag.ALREADY_WEIGHED, Flag.WEIGHT_UNLIKELY, Flag.WITHHELD, Flag.NOT_GIVEN})
"""Flags that come from what the job knows of an animal."""
BY_DATE = frozenset({Flag.WEIGHT_UNLIKELY, Flag.WITHHELD})
"""Those that another date of the weighing may change."""


class Clerk:
    """One station's clerk.

    `history`, `doses`, `shown` and `had` answer from the journal; `sheets` tells which sheet holds for whom.
    """

    def __init__(
        self,
        sheets: InForce | None = None,
        *,
        history: History = lambda *_: (),
        doses: Doses = lambda *_: (),
        shown: Before = lambda _: NOTHING,
        had: Had = lambda _: {},
        zone: tzinfo = UTC,
    ) -> None:
        self._zone = zone
        self._history, self._doses, self._shown, self._had = history, doses, shown, had
        self._sheets = sheets or OneSheet()

    @property
    def sheet(self) -> Sheet | None:
        """The sheet that holds for the next animal."""
        return self._sheets.next.sheet

    @property
    def roster(self) -> Roster | None:
        """The roster that holds for the next animal."""
        return self._sheets.next.roster

    @property
    def not_seen(self) -> list[Animal]:
        """Animals of the roster not weighed yet in the present job."""
        held = self._sheets.next
        return held.roster.not_seen(held.weighed) if held.roster else []

    def sheet_of(self, number: int) -> Sheet | None:
        """Return the sheet that holds for a number."""
        held = self._sheets.held(number)
        return held.sheet if held else None

    def sheet_called(self, title: str | None) -> Sheet | None:
        """Return the last sheet of a title, while it is at hand."""
        held = self._sheets.called(title)
        return held.sheet if held else None

    def needed(self, number: int) -> Needs:
        """Return what holds the animal of a number: findings until a person has given them, a tag until it is known."""
        sheet = self.sheet_of(number)
        if sheet is None:
            return Needs()
        return Needs(sheet.require_tag, tuple(one.name for one in sheet.findings if one.needed))

    def listed(self, number: int, tag: str) -> str | None:
        """Return the visual number that the roster holding for a number has for a tag."""
        held = self._sheets.held(number)
        row = held.roster.by_tag(tag) if held and held.roster else None
        return row.visual if row else None

    def mob(self, number: int) -> str | None:
        """Return the mob of the sheet that holds for a number."""
        held = self._sheets.held(number)
        return held.sheet.of_mob if held and held.sheet else None

    def fill(self, event: Event, who: Known | None = None) -> Event:
        """Return the event with what the job knows of it.  `who`: its animal in the herd book, whose id the event has.

        Filling twice is filling once.
        """
        data = event.data
        if not isinstance(data, Settled | Weighing):
            return event
        held = self._sheets.held(data.number)
        if held is None or (held.sheet is None and held.roster is None and data.sheet is not None):
            return event
        return event.model_copy(update={"data": data.model_copy(update=self._known(held, data, who))})

    def afterwards(
        self, event: Event, who: Known | None = None, *, other: bool, said_no_more: frozenset[str] = frozenset()
    ) -> Event:
        """Return a weighing of long ago, amended by a person, what follows from it.  `other`: they named its animal.

        The sheet it was weighed under may be held no more: then the journal alone says what is known of the animal.
        What was given to it and where it went stand, but for what was not given, and for treatments (by plain name) of
        which what was said is `said_no_more`.
        """
        data = event.data
        assert isinstance(data, Weighing), "only weighings are amended"
        held = self._held_of(data)
        when = (data.settled or data.off).astimezone(self._zone)
        tables = held.sheet.treatments if held.sheet else ()
        change: dict[str, Any] = {
            "treatments": tuple(treatments_afterwards(tables, data, when)),
            **self._seen_afterwards(held, data),
        }
        if other:
            bare = data.model_copy(
                update={"flags": tuple(flag for flag in data.flags if flag not in OURS), "details": {}}
            )
            known = self._known(held, bare, who)
            change |= {name: known[name] for name in ("animal", "gain", "flags", "withheld")}
            change |= {"details": known["details"]} if held.sheet else {}
            by_sheet = known["treatments"] if held.sheet else ()
            change["treatments"] = tuple(unsaid(change["treatments"], by_sheet, said_no_more))
        over = flagged.over(change["treatments"], data)
        change["flags"] = tuple(flag for flag in change.get("flags", data.flags) if flag not in over)
        return event.model_copy(update={"data": data.model_copy(update=change)})

    def redated(self, event: Event, who: Known | None = None) -> Event:
        """Return a weighing of long ago whose time was put right: what is known of the animal by its new date.

        What was given to it and where it went stand.
        """
        data = event.data
        assert isinstance(data, Weighing), "only weighings are amended"
        held = self._held_of(data)
        bare = data.model_copy(update={"flags": tuple(flag for flag in data.flags if flag not in BY_DATE)})
        known = self._known(held, bare, who)
        flags = (*bare.flags, *(flag for flag in known["flags"] if flag in BY_DATE))
        gain = known["gain"] or (None if held.roster else data.gain)
        update = {"flags": flags, "gain": gain, "withheld": known["withheld"]}
        return event.model_copy(update={"data": data.model_copy(update=update)})

    def _held_of(self, data: Weighing) -> Held:
        """Return what holds for a weighing of long ago; nothing when its sheet is not at hand any more."""
        held = self._sheets.held(data.number) if data.job else self._sheets.called(data.sheet)
        return held if held is not None and held.sheet is not None and held.sheet.title == data.sheet else Held()

    def _seen_afterwards(self, held: Held, data: Weighing) -> dict[str, Any]:
        """Return the findings of a weighing of long ago, and where it should be by them; where it went stands."""
        seen = findings(held.sheet.findings if held.sheet else (), data.findings, data.animal)
        if held.sheet is None or data.weight.kg is None or data.weight.grade not in SURE:
            return {"findings": seen}
        kg = data.weight.first_kg or data.weight.kg
        known = {**(data.animal or {}), **data.details}
        _, should = pens(held.sheet, data, kg, data.gain, known, seen, lambda rule: rule.pen == data.pen)
        return {"findings": seen, "pen_should": None if should == data.pen else should}

    def _known(self, held: Held, data: Settled | Weighing, who: Known | None) -> dict[str, Any]:
        sheet, weight = held.sheet, data.weight
        when = (data.settled or data.off if isinstance(data, Weighing) else data.settled).astimezone(self._zone)
        today = data.on.astimezone(self._zone).date()
        row = row_of(held.roster, data, who)
        animal = described(row, data.animal, who.assumed if who else ())
        details = _details(sheet, animal, data.details)
        earlier = self._weights(row, data)
        seen = findings(sheet.findings if sheet else (), data.findings, animal)
        gain = pen = should = None
        if weight.kg is not None and weight.grade in SURE:
            gain = growth.gain_since(earlier, today, weight.kg)
            known = {**(animal or {}), **details}
            kg = weight.first_kg or weight.kg
            pen, should = pens(
                sheet, data, kg, gain, known, seen, lambda rule: held.taken.goes(rule, data, kg, held.roster)
            )
        key = key_of(data, row)
        names = dict.fromkeys(name for name in (key, data.tag.id if data.tag else None) if name)
        before = [dose for name in names for dose in self._doses(name, data.on, data.weighing)]
        shown = self._shown(data.weighing) if isinstance(data, Weighing) else NOTHING  # while it stands it can be given
        brought = ((ROSTER, row.withheld_until if row else None), (BOOK, who.withheld_until if who else None))
        withheld = withheld_for(before, brought, today)
        perhaps = self._had(data.maybe_same.weighing) if data.maybe_same else {}
        given = data.treatments
        if sheet is not None or not given:
            tables, title = (sheet.treatments, sheet.title) if sheet else ((), None)
            given = treatments(tables, data, when, before, shown, perhaps, title)
        given = () if isinstance(data, Weighing) and data.told_in else given
        flags = list(_flags(held, data, row, who, withheld))
        limits = (sheet.limits if sheet else Limits()).model_dump()
        if weight.kg is not None and growth.is_unlikely(weight.kg, earlier, today, **limits):
            flags.append(Flag.WEIGHT_UNLIKELY)
        flags += flagged.flags(given, data, when, before, perhaps)
        return {
            "sheet": sheet.title if sheet else data.sheet,
            "animal": animal,
            "details": details,
            "treatments": given,
            "gain": gain,
            "pen": pen,
            "findings": seen,
            "withheld": withheld,
            **(
                {"pen_should": should}
                if isinstance(data, Weighing)
                else {
                    "may_leave": not (
                        data.missing or (sheet and holds(withheld, sheet.leaving)) or in_doubt(given, data)
                    )
                }
            ),
            "flags": (*data.flags, *(flag for flag in flags if flag not in data.flags)),
        }

    def _weights(self, row: Animal | None, data: Settled | Weighing) -> list[tuple[date, float]]:
        """Gather earlier weights from the roster and the journal; where both know a day, the journal is nearer."""
        key = key_of(data, row)
        known = dict(row.weights) if row else {}
        for moment, kg in self._history(key, data.weighing) if key else ():
            if moment < data.on:
                known[moment.astimezone(self._zone).date()] = kg
        return sorted(known.items())


def _flags(
    held: Held,
    data: Settled | Weighing,
    row: Animal | None,
    who: Known | None,
    withheld: Iterable[WithheldFor],
) -> Iterable[Flag]:
    named = data.tag is not None or bool((data.animal or {}).get("visual"))
    inducted = who is not None and held.sheet is not None and who.mob == held.sheet.of_mob
    if held.roster is not None and row is None and named and not inducted:
        yield Flag.NOT_EXPECTED
    if _weighed_before(held, data, row):
        yield Flag.ALREADY_WEIGHED
    if any(one.kind == "meat" for one in withheld):
        yield Flag.WITHHELD


def _weighed_before(held: Held, data: Settled | Weighing, row: Animal | None) -> bool:
    """Return whether the animal was weighed before under this sheet."""
    names = row.names if row else ()
    return any(held.weighed.get(name, data.weighing) != data.weighing for name in names)


def _details(sheet: Sheet | None, animal: Mapping[str, Any] | None, given: Mapping[str, Any]) -> dict[str, Any]:
    """Lay the animal's own values over the sheet's, and what a person said of this one over both."""
    standing = sheet.details.as_dict() if sheet else {}
    own = {key: animal[key] for key in standing if animal and key in animal}
    return {**standing, **own, **given}
