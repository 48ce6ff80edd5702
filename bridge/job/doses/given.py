"""What one animal is given: the sheet's treatments for its weight, and what a person said of them.

a person said          the dose
not given              skipped: it counts nowhere
another amount         that amount, whatever the arithmetic says
another batch          that batch
none was given         skipped: they struck the weighing out so; struck out without that word, its doses stand
nothing                what the sheet says, for the weight shown when the animal settled; but nothing where it had the
                       same product already in this job, or today in another: never twice by a slip; nor where it may
                       be the animal that had it a minute ago, come on again: a person has to look, and say; nor where
                       it left before it settled: no dose was shown to anybody.  What was given by what was hardly
                       shown counts, and is asked about (`doubtful`)

Whose a stay was may turn out when it is long over: an animal known by another tag, two that are one.  What was told
while it could be given stands: what was given then was given, what was not was not.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime
from types import MappingProxyType

from neckyoke.bridge.events import DoseSaid, Former, Settled, Treatment, Weighing
from neckyoke.bridge.job.doses import withholding
from neckyoke.bridge.job.doses.dosing import MILLILITRES, Dose, dose_for, spell_amount
from neckyoke.bridge.job.doses.doubtful import asked, doubts, settled
from neckyoke.bridge.job.doses.held import PastDose
from neckyoke.bridge.job.doses.shown import NOT_SHOWN, NOTHING, OTHER_SHEET, Shown, is_same
from neckyoke.bridge.job.doses.treatments import TreatmentTable

UNSEEN = "not given, unless you say so: it left before its weight settled, and no dose was shown"


def plain(name: str) -> str:
    """Spell a treatment's name for comparison."""
    return name.strip().casefold()


def treatments(
    tables: Iterable[TreatmentTable],
    data: Settled | Weighing,
    when: datetime,
    before: Iterable[PastDose] = (),
    shown: Shown = NOTHING,
    perhaps: Mapping[str, datetime] = MappingProxyType({}),
    sheet: str | None = None,
) -> tuple[Treatment, ...]:
    """Return an animal's treatments by the sheet, and what was shown of another one before and stands.

    `when`: the moment of the dose, on the farm's clock; `before`: what the animal was given earlier; `shown`: what was
    published of this stay before; `perhaps`: when each product was given, by plain name, to the animal before it, which
    it may be (`maybe_same`); `sheet`: the title of the sheet that has the tables.
    """
    tables = tuple(tables)
    said, had = _said(data), had_in(before, data.job, when)
    kg, poor = data.weight.first_kg or data.weight.kg, data.weight.grade == "poor"

    def made(table: TreatmentTable) -> Treatment:
        name = plain(table.name)
        word, told = said.get(name, _none_given(table.name, data)), shown.unsaid.get(name)
        before = had.get(name) if told is None or told.skipped else None
        at = told.given_before if told is not None and told.given_before is not None else before
        unsaid = word is None or (word.given is None and word.amount is None)
        had_it = perhaps.get(name) if told is None or told.skipped else None
        if had_it is not None and data.maybe_same is not None:
            made = _treatment(table, word, kg, when, poor=poor)
            if unsaid:
                return _not_sure(made, had_it, data.maybe_same, when)
            return made.model_copy(update={"given_before": had_it}) if made.skipped else made
        if at is not None and unsaid:
            return _not_again(table, at, when, still=before is not None)
        lacked = shown.lacked(name, sheet)
        gone = never_shown(data) and (told is None or told.skipped)
        if unsaid and (gone or lacked == NOT_SHOWN):
            return _not_given(table.name, table.batch).model_copy(update={"remark": UNSEEN if gone else lacked})
        doubted = doubts(table, data, shown.showings) if lacked is None else (lacked,)
        return _treatment(table, word, kg, when, poor=poor, doubts=doubted if unsaid else ())

    found = {plain(one.name): made(one) for one in tables}
    for name, one in shown.stand(sheet, found).items():
        if name not in found or not is_same(found[name], one):
            found[name] = _stands(one, said.get(name, _none_given(one.name, data)))
    return tuple(found.values())


def _stands(one: Treatment, said: DoseSaid | None) -> Treatment:
    """Return what was shown by another sheet as it was given, which is asked unless a person has spoken."""
    if said is not None and said.given is False:
        return _not_given(one.name, one.batch)
    if said is None or (said.given is None and said.amount is None):
        return asked(one if said is None else _mended(one, said), OTHER_SHEET)
    return _mended(one, said)


def _none_given(name: str, data: Settled | Weighing) -> DoseSaid | None:
    """Return the word on a dose that lies in striking its weighing out, where a person said that nothing was given."""
    return DoseSaid(name=name, given=False) if isinstance(data, Weighing) and data.none_given else None


def never_shown(data: Settled | Weighing) -> bool:
    """Return whether nobody can have seen what it was to be given: it left before its weight settled."""
    return isinstance(data, Weighing) and data.settled is None


def had_in(before: Iterable[PastDose], job: str | None, when: datetime) -> dict[str, datetime]:
    """Return when each product was given last, where that was in this job or today."""
    return {
        plain(one.name): one.at
        for one in before
        if (one.job is not None and one.job == job) or one.at.astimezone(when.tzinfo).date() == when.date()
    }


def _not_again(table: TreatmentTable, at: datetime, when: datetime, *, still: bool) -> Treatment:
    """Return one that was not given, since it was given before; or was thought to be, which is not so any more."""
    then = _then(at, when)
    had = f"given {then}: not given again unless you say so"
    remark = had if still else f"not given: it was taken for one that had it {then}"
    return _not_given(table.name, table.batch).model_copy(update={"given_before": at, "remark": remark})


def _not_sure(dose: Treatment, at: datetime, former: Former, when: datetime) -> Treatment:
    """Return one that may have been given a minute ago, if this is that stay's animal; what it is, if not."""
    much = spell_amount(dose.amount, dose.unit or MILLILITRES) if dose.amount is not None else "it"
    remark = (
        f"may have been given {_then(at, when)}, if this is number {former.number} again: look.  "
        f"If it is another, give {much} and say so"
    )
    if _stood(former, at):
        remark = f"{_stopped(former)}, to be given {much}: look, and say whether this one has had it"
    return _not_given(dose.name, dose.batch).model_copy(update={"given_before": at, "remark": remark})


def _stood(former: Former, at: datetime) -> bool:
    """Return whether a dose was shown while the animal stood there that the box stopped at: it may stand there yet."""
    return former.since is not None and at >= former.since


def _stopped(former: Former) -> str:
    return f"the box stopped while number {former.number} stood here"


def in_doubt(made: Iterable[Treatment], data: Settled | Weighing) -> bool:
    """Return whether a person has to look whether any of its treatments was given a minute ago."""
    return bool(_doubted(made, data))


def is_asked_of_another(name: str, data: Settled | Weighing) -> bool:
    """Return whether it is asked of a treatment if the animal before it had it, and if this is that one, come again."""
    at = _doubted(data.treatments, data).get(plain(name))
    return at is not None and data.maybe_same is not None and not _stood(data.maybe_same, at)


def _doubted(made: Iterable[Treatment], data: Settled | Weighing) -> dict[str, datetime]:
    """Return by plain name when each dose may have been given that a person has to look at."""
    if data.maybe_same is None:
        return {}
    said = spoken(data)
    before = ((plain(one.name), one.given_before) for one in made if one.skipped)
    return {name: at for name, at in before if at is not None and name not in said}


def struck_out(data: Settled | Weighing, number: int) -> str:
    """Return in words what becomes of the doses of a weighing that a person struck out; empty where it has none."""
    given = [one for one in data.treatments if not one.skipped]
    if not given:
        return ""
    names = " and ".join(dict.fromkeys(one.name for one in given))
    until = withholding.longest(one.withheld_until for one in given)
    held = "" if until is None else f", withheld until {'a date not known' if until == withholding.UNKNOWN else until}"
    return f"Its {names} still counts as given{held}.  If it was not, say so: skip, with --number {number}."


def doubt(data: Settled | Weighing) -> str:
    """Return in words what a person has to look at before this one may leave; empty where nothing is in doubt."""
    doubted, former = _doubted(data.treatments, data).values(), data.maybe_same
    if former is None or not doubted:
        return ""
    if all(_stood(former, at) for at in doubted):
        return f"{_stopped(former)}: look, and say whether this one has had it"
    return f"it may be number {former.number} again: look, and say whether it was given"


def _then(at: datetime, when: datetime) -> str:
    local = at.astimezone(when.tzinfo)
    day = "today" if local.date() == when.date() else local.date().isoformat()
    return f"{day} at {local:%H:%M}"


def treatments_afterwards(tables: Iterable[TreatmentTable], data: Weighing, when: datetime) -> Iterator[Treatment]:
    """Yield the treatments of a weighing of long ago: what was given stands, but for what is now said of it.

    `tables`: those of the sheet that it was weighed under, none where that is not at hand any more.
    """
    said = _said(data)
    again = {plain(one.name): one for one in treatments(tables, data, when)}
    for one in data.treatments:
        word, given_now = said.get(plain(one.name), _none_given(one.name, data)), again.get(plain(one.name))
        if word is not None and word.given is False:
            yield _not_given(one.name, one.batch)
        elif one.skipped and word is not None and (word.given or word.amount is not None):
            yield given_now or _lost(one, word)
        elif (
            one.skipped
            and word is None
            and one.given_before is None
            and one.remark != NOT_SHOWN
            and given_now is not None
            and not given_now.skipped
        ):
            yield given_now  # what was said of it was taken back
        elif word is not None:
            yield _mended(one, word)
        else:
            yield one


def unsaid(given: Iterable[Treatment], by_sheet: Iterable[Treatment], names: Collection[str]) -> Iterator[Treatment]:
    """Yield the treatments of a weighing of long ago after what was said of some, by plain name, was taken back.

    Those are as the sheet has them with what else was said; where it is not at hand, the dose is the one by weight.
    """
    again = {plain(one.name): one for one in by_sheet}
    for one in given:
        name = plain(one.name)
        yield one if name not in names else again.get(name) or _by_weight(one)


def _by_weight(one: Treatment) -> Treatment:
    return one if one.exact is None else one.model_copy(update={"amount": one.exact, "dose_ml": one.exact_ml})


def _said(data: Settled | Weighing) -> dict[str, DoseSaid]:
    skipped = data.skipped if isinstance(data, Weighing) else ()
    said = {plain(name): DoseSaid(name=name, given=False) for name in skipped}  # events of before doses could be mended
    return said | {plain(one.name): one for one in data.doses_said}


def spoken(data: Settled | Weighing) -> set[str]:
    """Return by plain name the treatments of which a person said whether, or how much, was given."""
    return {name for name, word in _said(data).items() if word.given is not None or word.amount is not None}


def _treatment(
    table: TreatmentTable,
    said: DoseSaid | None,
    kg: float | None,
    when: datetime,
    *,
    poor: bool,
    doubts: Iterable[str] = (),
) -> Treatment:
    if said is not None and said.given is False:
        return _not_given(table.name, table.batch)
    dose = None if table.dose_to_heaviest else dose_for(table.rule, kg)
    made = Treatment(
        name=table.name,
        amount=dose.amount if dose else None,
        exact=dose.exact if dose else None,
        unit=table.rule.unit,
        dose_ml=dose.amount if dose and dose.unit == MILLILITRES else None,
        exact_ml=dose.exact if dose and dose.unit == MILLILITRES else None,
        withheld_until=withholding.clear_from(when, table.withhold_days),
        export_from=withholding.clear_from(when, table.export_days),
        batch=table.batch,
        expires=table.expires.isoformat() if table.expires else None,
        route=table.route,
        body_site=table.body_site,
        given_by=table.given_by,
        reason=table.reason,
        remark="; ".join([*_remarks(table, dose, when, poor=poor, by_person=_is_amount(said)), *doubts]) or None,
    )
    return made if said is None else _mended(made, said)


def _remarks(table: TreatmentTable, dose: Dose | None, when: datetime, *, poor: bool, by_person: bool) -> Iterator[str]:
    if table.dose_to_heaviest and not by_person:
        yield "one dose for the group, by its heaviest: see the tally"
    if dose is None and not table.dose_to_heaviest and not by_person:
        yield "no weight to dose by"
    if poor and dose and not table.fixed and not by_person:
        yield "the weight is poor: weigh again before dosing by it"
    if dose and dose.remark and not by_person:
        yield dose.remark
    if table.expires and table.expires < when.date():
        yield f"batch expired on {table.expires.isoformat()}"
    if table.withhold_days is None:
        yield "no withholding period given: counts as withheld"


def _is_amount(said: DoseSaid | None) -> bool:
    return said is not None and said.amount is not None


def _mended(one: Treatment, said: DoseSaid) -> Treatment:
    """Return a treatment with the amount and batch that a person named; another batch has its own expiry."""
    change: dict[str, object] = {}
    one = settled(one) if said.given is not None or said.amount is not None else one
    if said.amount is not None:
        in_ml = (one.unit or MILLILITRES) == MILLILITRES
        change = {"amount": said.amount, "unit": one.unit or MILLILITRES, "dose_ml": said.amount if in_ml else None}
    if said.batch is not None and said.batch != one.batch:
        change |= {"batch": said.batch, "expires": None}
    return one.model_copy(update=change)


def _not_given(name: str, batch: str | None) -> Treatment:
    return Treatment(name=name, skipped=True, batch=batch)


def _lost(one: Treatment, said: DoseSaid) -> Treatment:
    """Return one that was given after all where its sheet is not at hand: the dates are not known."""
    unknown = withholding.UNKNOWN
    remark = "its job sheet is not at hand: no dose known, counts as withheld"
    lost = Treatment(name=one.name, withheld_until=unknown, export_from=unknown, batch=one.batch, remark=remark)
    return _mended(lost, said)
