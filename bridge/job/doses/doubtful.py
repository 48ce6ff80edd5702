"""A dose that may have been given otherwise than it is recorded: who gave it saw little of it, or another weight.

A dose is recorded by what was shown when the animal settled (`given`).  Three things may be wrong with that, all seen
only when it has left:

shown to nobody  the animal came under the sheet when it had left: the job was paused, or under no sheet as yet, and a
                 person counted it in.
shown briefly    it left so soon after it settled that nobody can have read the dose and given it: it may not have been
                 given.  It counts, for what counts too often withholds an animal that is clear, and what counts too
                 seldom clears one that is not.
another weight   the weight shown was of an animal half on, or of one and a half: by the last weight it is another
                 dose; or one of such a weight was on show before it, for long enough to be given.  Too little may leave
                 the sickness, and breeds what withstands the drug; too much may harm, and the withholding period of a
                 label is for its own dose.  The label and a veterinarian say what follows.

A person's word settles each.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from neckyoke.bridge.events import Settled, Treatment, Weighing
from neckyoke.bridge.job.doses.dosing import Dose, dose_for, spell, spell_amount
from neckyoke.bridge.job.doses.shown import Showing
from neckyoke.bridge.job.doses.treatments import TreatmentTable

SHOWN_S = 2.0
"""A dose that was on show for less may not have been given: nobody reads a sign, sets a dose and gives it in that time.
Judgement; no source."""
OTHER, OTHER_POOR = 1.1, 1.25
"""Of two weights of which one is this many times the other the doses are two; and where the last one is poor.
Judgement: a dosing gun's mark is of the size of the first."""
SURE = frozenset({"good", "fair"})
"""Grades that promise something."""
ASKED = ("if it was not given, say so", "see the label", "say which it was given")
"""How remarks end that a person's word settles."""


def asks(one: Treatment) -> bool:
    """Return whether a treatment's remarks ask anything."""
    return any(part.endswith(ASKED) for part in _parts(one))


def settled(one: Treatment) -> Treatment:
    """Return a treatment of which a person has spoken: its remarks ask nothing any more."""
    parts = [part for part in _parts(one) if not part.endswith(ASKED)]
    return one.model_copy(update={"remark": "; ".join(parts) or None})


def asked(one: Treatment, remark: str) -> Treatment:
    """Return a treatment with one more remark, once."""
    return one.model_copy(update={"remark": "; ".join(dict.fromkeys([*_parts(one), remark]))})


def _parts(one: Treatment) -> list[str]:
    return (one.remark or "").split("; ") if one.remark else []


def doubts(table: TreatmentTable, data: Settled | Weighing, showings: Sequence[Showing] = ()) -> Iterator[str]:
    """Yield in words what is in doubt of a treatment that was given by what was shown."""
    if not isinstance(data, Weighing) or data.settled is None:
        return
    stood_s = (data.off - data.settled).total_seconds()
    if (shown_s := stood_s - _since_s(table, data.weight.first_kg, showings)) < SHOWN_S:
        yield f"it was on show for {max(0.0, shown_s):.1f} s: if it was not given, say so"
    if table.dose_to_heaviest:
        return
    first_kg, last_kg = data.weight.first_kg, data.weight.kg
    for one, then in pairwise(showings):
        lasted_s = then.after_s - one.after_s
        if not one.poor and lasted_s >= SHOWN_S and (dose := _other(table, one.kg, first_kg, OTHER)):
            much = f"{spell_amount(dose.amount, dose.unit)} by {spell(one.kg or 0.0)} kg"
            yield f"{much} was on show before, for {lasted_s:.0f} s: say which it was given"
    apart = OTHER if data.weight.grade in SURE else OTHER_POOR
    if first_kg is not None and (dose := _other(table, last_kg, first_kg, apart)):
        much = spell_amount(dose.amount, dose.unit)
        yield f"by {spell(first_kg)} kg, as shown; by {spell(last_kg or 0.0)} kg it is {much}: see the label"


def _since_s(table: TreatmentTable, by_kg: float | None, showings: Sequence[Showing]) -> float:
    """Return since when the dose by a weight was on show, in seconds after the animal settled: by what weight ever."""
    given, since_s = dose_for(table.rule, by_kg), 0.0
    for one in reversed(showings):
        dose = dose_for(table.rule, one.kg)
        if given is None or dose is None or dose.amount != given.amount:
            break
        since_s = one.after_s
    return since_s


def _other(table: TreatmentTable, kg: float | None, by_kg: float | None, apart: float) -> Dose | None:
    """Return the dose for a weight, where that and the weight are others than what was given, and what it was by."""
    if not kg or not by_kg or by_kg / apart <= kg <= by_kg * apart:
        return None
    given, dose = dose_for(table.rule, by_kg), dose_for(table.rule, kg)
    return dose if given and dose and given.amount != dose.amount else None
