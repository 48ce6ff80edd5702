"""Fills into events what the job knows: sheet, roster row, details, treatments, gain, pen and the flags that follow.

The clerk refuses nothing and changes nothing that the station said: it adds.  It is a function of what it was given, in
order: the sheets with the weighings they hold from, the roster, earlier weights, and the events themselves.  A sheet
changed in mid-run holds from the next animal on; a weighing amended later is filled by the sheet that held for it, and
a clerk that no longer knows that sheet leaves what stands in the event alone.

Which moment counts: a dose is given and a gate moves when the animal settles, by the weight shown then (`first_kg`), so
the same dose and pen stand in the settled event and in the weighing, though its weight may be a little finer by then.
Dates are those of the sheet's own clock (`utc_offset_hours`).
"""

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, TypeAlias

from neckyoke.bridge.events import Event, Flag, Settled, Treatment, Weighing
from neckyoke.bridge.job import drafting, growth
from neckyoke.bridge.job.doses import withholding
from neckyoke.bridge.job.doses.dosing import MILLILITRES, dose_for
from neckyoke.bridge.job.doses.treatments import TreatmentTable
from neckyoke.bridge.job.past import SURE
from neckyoke.bridge.job.roster.roster import Animal, Roster
from neckyoke.bridge.job.sheet import Limits, Sheet

History: TypeAlias = Callable[[str, str], Iterable[tuple[datetime, float]]]
"""Gives a tag's weights known from the journal and when they were taken, but for one weighing's (`Past.weights`)."""
Withheld: TypeAlias = Callable[[str, datetime, str], str | None]
"""Gives a tag's first clear date by treatments before a moment, but for one weighing's (`Past.clear_from`)."""

SHEETS_KEPT = 16
"""How many sheets back an amendment can reach."""


@dataclass(slots=True)
class _Held:
    """A sheet and its roster, the number of the last weighing before it, and who was weighed under it."""

    sheet: Sheet | None
    roster: Roster | None
    after: int
    weighed: dict[str, str] = field(default_factory=dict)


OURS = frozenset({Flag.NOT_EXPECTED, Flag.ALREADY_WEIGHED, Flag.WEIGHT_UNLIKELY, Flag.WITHHELD})
"""Flags that come from what the job knows of an animal."""


class Clerk:
    """One station's clerk.

    `history` and `withheld` answer from the journal.  `weighed` maps the keys of animals weighed under the present
    sheet to their weighing ids, as `Clerk.weighed` gave it when the run before ended.
    """

    def __init__(
        self,
        sheet: Sheet | None = None,
        roster: Roster | None = None,
        *,
        history: History = lambda *_: (),
        withheld: Withheld = lambda *_: None,
        weighed: Mapping[str, str] | None = None,
    ) -> None:
        self._history, self._withheld = history, withheld
        self._held = deque([_Held(sheet, roster, -1, dict(weighed or {}))], maxlen=SHEETS_KEPT)
        self._last = 0

    @property
    def sheet(self) -> Sheet | None:
        """The sheet that holds for the next animal."""
        return self._held[-1].sheet

    @property
    def roster(self) -> Roster | None:
        """The roster that holds for the next animal."""
        return self._held[-1].roster

    @property
    def weighed(self) -> dict[str, str]:
        """Animals weighed under the present sheet: `Animal.key` to weighing id."""
        return dict(self._held[-1].weighed)

    @property
    def not_seen(self) -> list[Animal]:
        """Animals of the roster not weighed yet under the present sheet."""
        held = self._held[-1]
        return held.roster.not_seen(held.weighed) if held.roster else []

    def change(self, sheet: Sheet | None, roster: Roster | None = None, after: int | None = None) -> None:
        """Let another sheet hold for weighings numbered above `after`; without it, above all seen so far.

        A sheet of the same title is the same job, mended: who was weighed under it stays weighed.
        """
        same = sheet is not None and self.sheet is not None and sheet.title == self.sheet.title
        self._held.append(_Held(sheet, roster, self._last if after is None else after, self.weighed if same else {}))

    def treatments_of(self, number: int) -> tuple[str, ...]:
        """Name the treatments of the sheet that holds for a number."""
        held = self._held_for(number)
        return tuple(one.name for one in held.sheet.treatments) if held and held.sheet else ()

    def fill(self, event: Event) -> Event:
        """Return the event with what the job knows of it.  Filling twice is filling once."""
        data = event.data
        if not isinstance(data, Settled | Weighing):
            return event
        self._last = max(self._last, data.number)
        held = self._held_for(data.number)
        if held is None or (held.sheet is None and held.roster is None and data.sheet is not None):
            return event
        return event.model_copy(update={"data": data.model_copy(update=self._known(held, data))})

    def afterwards(self, event: Event, *, other: bool) -> Event:
        """Return a weighing of long ago, amended by a person, what follows from it.  `other`: they named its animal.

        The sheet it was weighed under may be held no more: then the journal alone says what is known of the animal.
        What was given to it and where it went stand, but for what was not given.
        """
        data = event.data
        assert isinstance(data, Weighing), "only weighings are amended"
        sheets = (held for held in reversed(self._held) if held.sheet and held.sheet.title == data.sheet)
        held = next(sheets, _Held(None, None, -1))
        change: dict[str, Any] = {"treatments": tuple(_given_or_not(held.sheet, data))}
        if other:
            bare = data.model_copy(
                update={"flags": tuple(flag for flag in data.flags if flag not in OURS), "details": {}}
            )
            known = self._known(held, bare)
            change |= {name: known[name] for name in ("animal", "gain", "flags")}
            change |= {"details": known["details"]} if held.sheet else {}
        else:
            self._again(held, data, _find(held.roster, data))
        return event.model_copy(update={"data": data.model_copy(update=change)})

    def _held_for(self, number: int) -> _Held | None:
        return next((held for held in reversed(self._held) if held.after < number), None)

    def _known(self, held: _Held, data: Settled | Weighing) -> dict[str, Any]:
        sheet, weight = held.sheet, data.weight
        when = data.settled or data.off if isinstance(data, Weighing) else data.settled
        today = _local(sheet, when).date()
        row = _find(held.roster, data)
        animal = {**row.as_dict(), **_said(data)} if row else data.animal
        details = _details(sheet, animal, data.details)
        earlier = self._weights(sheet, row, data)
        gain = pen = None
        if weight.kg is not None and weight.grade in SURE:
            gain = growth.gain_since(earlier, today, weight.kg)
            pen = _pen(sheet, weight.first_kg or weight.kg, earlier, today, {**(animal or {}), **details})
        flags = [*self._flags(held, data, row, today), *_unlikely(sheet, weight.kg, earlier, today)]
        return {
            "sheet": sheet.title if sheet else data.sheet,
            "animal": animal,
            "details": details,
            "treatments": _treatments(sheet, data, when) if sheet else data.treatments,
            "gain": gain,
            "pen": pen,
            "flags": (*data.flags, *(flag for flag in flags if flag not in data.flags)),
        }

    def _weights(self, sheet: Sheet | None, row: Animal | None, data: Settled | Weighing) -> list[tuple[date, float]]:
        """Gather earlier weights from the roster and the journal; where both know a day, the journal is nearer."""
        tag = data.tag.id if data.tag else row.tag if row else None
        known = dict(row.weights) if row else {}
        for moment, kg in self._history(tag, data.weighing) if tag else ():
            if moment < data.on:
                known[_local(sheet, moment).date()] = kg
        return sorted(known.items())

    def _flags(self, held: _Held, data: Settled | Weighing, row: Animal | None, today: date) -> Iterable[Flag]:
        named = data.tag is not None or bool((data.animal or {}).get("visual"))
        if held.roster is not None and row is None and named:
            yield Flag.NOT_EXPECTED
        if self._again(held, data, row):
            yield Flag.ALREADY_WEIGHED
        tag = data.tag.id if data.tag else row.tag if row else None
        clear = [row.withheld_until if row else None, self._withheld(tag, data.on, data.weighing) if tag else None]
        if withholding.is_withheld(withholding.longest(clear), today):
            yield Flag.WITHHELD

    def _again(self, held: _Held, data: Settled | Weighing, row: Animal | None) -> bool:
        """Return whether the animal was weighed before under this sheet; a weighing that stands is remembered."""
        key = row.key if row else None
        first = held.weighed.get(key) if key else None
        if isinstance(data, Weighing) and (first is None or data.weighing == first or data.revision > 1):
            for old in [old for old, weighing in held.weighed.items() if weighing == data.weighing]:
                del held.weighed[old]
            if key and key not in held.weighed and Flag.VOIDED not in data.flags:
                held.weighed[key] = data.weighing
        return first is not None and first != data.weighing


def _local(sheet: Sheet | None, moment: datetime) -> datetime:
    return sheet.local(moment) if sheet else moment.astimezone(UTC)


def _find(roster: Roster | None, data: Settled | Weighing) -> Animal | None:
    if roster is None:
        return None
    found = roster.by_tag(data.tag.id) if data.tag else None
    visual = _said(data).get("visual")
    named = roster.by_visual(visual) if visual and found is None else None
    return found or (named if data.tag is None or (named and named.tag is None) else None)


def _said(data: Settled | Weighing) -> dict[str, str]:
    """Return the visual number that a person read: their word goes before the roster's."""
    visual = (data.animal or {}).get("visual")
    return {"visual": str(visual)} if visual else {}


def _details(sheet: Sheet | None, animal: Mapping[str, Any] | None, given: Mapping[str, Any]) -> dict[str, Any]:
    """Lay the animal's own values over the sheet's, and what a person said of this one over both."""
    standing = sheet.details.as_dict() if sheet else {}
    own = {key: animal[key] for key in standing if animal and key in animal}
    return {**standing, **own, **given}


def _pen(
    sheet: Sheet | None, kg: float, earlier: Sequence[tuple[date, float]], today: date, known: Mapping[str, Any]
) -> str | None:
    gain = growth.gain_since(earlier, today, kg)
    return drafting.pen_for(sheet.pens, kg, gain.kg_per_day if gain else None, known) if sheet else None


def _treatments(sheet: Sheet, data: Settled | Weighing, when: datetime) -> tuple[Treatment, ...]:
    skipped = {drafting.plain(name) for name in data.skipped} if isinstance(data, Weighing) else set()
    kg = data.weight.first_kg or data.weight.kg
    poor = data.weight.grade == "poor"
    local = sheet.local(when)
    return tuple(
        Treatment(name=one.name, skipped=True, batch=one.batch)
        if drafting.plain(one.name) in skipped
        else _treatment(one, kg, local, poor=poor)
        for one in sheet.treatments
    )


def _given_or_not(sheet: Sheet | None, data: Weighing) -> Iterable[Treatment]:
    """Yield the treatments of a weighing of long ago by what is now said not to have been given."""
    skipped = {drafting.plain(name) for name in data.skipped}
    again = {one.name: one for one in _treatments(sheet, data, data.settled or data.off)} if sheet else {}
    for one in data.treatments:
        if drafting.plain(one.name) in skipped:
            yield Treatment(name=one.name, skipped=True, batch=one.batch)
        elif one.skipped:  # it was given after all
            unknown = withholding.UNKNOWN
            remark = "its job sheet is not at hand: no dose known, counts as withheld"
            lost = Treatment(name=one.name, withheld_until=unknown, export_from=unknown, batch=one.batch, remark=remark)
            yield again.get(one.name, lost)
        else:
            yield one


def _treatment(one: TreatmentTable, kg: float | None, when: datetime, *, poor: bool) -> Treatment:
    dose = None if one.dose_to_heaviest else dose_for(one.rule, kg)
    remarks = [
        "one dose for the group, by its heaviest: see the tally" if one.dose_to_heaviest else None,
        "no weight to dose by" if dose is None and not one.dose_to_heaviest else None,
        "the weight is poor: weigh again before dosing by it" if poor and dose and not one.fixed else None,
        dose.remark if dose else None,
        f"batch expired on {one.expires.isoformat()}" if one.expires and one.expires < when.date() else None,
        "no withholding period given: counts as withheld" if one.withhold_days is None else None,
    ]
    return Treatment(
        name=one.name,
        amount=dose.amount if dose else None,
        exact=dose.exact if dose else None,
        unit=one.rule.unit,
        dose_ml=dose.amount if dose and dose.unit == MILLILITRES else None,
        exact_ml=dose.exact if dose and dose.unit == MILLILITRES else None,
        withheld_until=withholding.clear_from(when, one.withhold_days),
        export_from=withholding.clear_from(when, one.export_days),
        batch=one.batch,
        expires=one.expires.isoformat() if one.expires else None,
        route=one.route,
        body_site=one.body_site,
        given_by=one.given_by,
        reason=one.reason,
        remark="; ".join(remark for remark in remarks if remark) or None,
    )


def _unlikely(
    sheet: Sheet | None, kg: float | None, earlier: Sequence[tuple[date, float]], today: date
) -> Iterable[Flag]:
    """Compare with the latest earlier weight: gut fill and so much a day are allowed (`Limits`)."""
    before = [weight for weight in earlier if weight[0] < today]
    if kg is None or not before:
        return
    limits = sheet.limits if sheet else Limits()
    since, then = before[-1]
    allowed = then * limits.fill_percent / 100 + limits.kg_per_day * (today - since).days
    if abs(kg - then) > allowed:
        yield Flag.WEIGHT_UNLIKELY
