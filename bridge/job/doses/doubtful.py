"""A dose that may have been given otherwise than it is recorded: who gave it saw little of it, or another weight.

A dose is recorded by what was shown when the animal settled (`given`).  Three things may be wrong with that, all seen
only when it has left:

shown to nobody  the animal came under the sheet when it had left: the job was paused, or under no sheet as yet, and a
                 person counted it in.
shown briefly    it left so soon after it settled that nobody can have read the dose and given it: it may not have been
                 given.  It counts, for what counts too often withholds an animal that is clear, and what counts too
                 seldom clears one that is not.
another weight   the weight shown first was of an animal half on, or of one and a half: by the last weight it is
                 another dose.  Too little may leave the sickness, and breeds what withstands the drug; too much may
                 harm, and the withholding period of a label is for its own dose.  The label and a veterinarian say
                 what follows.

A person's word settles each.
"""

from collections.abc import Iterator
from datetime import timedelta

from neckyoke.bridge.events import Settled, Treatment, Weighing
from neckyoke.bridge.job.doses.dosing import dose_for, spell, spell_amount
from neckyoke.bridge.job.doses.treatments import TreatmentTable

SHOWN = timedelta(seconds=2)
"""A dose that was on show for less may not have been given: nobody reads a sign, sets a dose and gives it in that time.
Judgement; no source."""
OTHER = 1.1
"""Of two weights of which one is this many times the other the doses are two.  Judgement: a dosing gun's mark is of the
same size."""
SURE = frozenset({"good", "fair"})
"""Grades of a last weight that tell of the first."""


NONE_SHOWN = "no dose was shown, for this sheet did not hold as it stood there: if it was not given, say so"


def is_unshown(one: Treatment | None) -> bool:
    """Return whether it was said of a treatment before that it was shown to nobody."""
    return one is not None and NONE_SHOWN in (one.remark or "")


def doubts(table: TreatmentTable, data: Settled | Weighing, *, without: bool = False) -> Iterator[str]:
    """Yield in words what is in doubt of a treatment that was given by what was shown; `without`: nothing was."""
    if not isinstance(data, Weighing) or data.settled is None:
        return
    if without:
        yield NONE_SHOWN
        return
    shown = data.off - data.settled
    if shown < SHOWN:
        yield f"it was on show for {max(0.0, shown.total_seconds()):.1f} s: if it was not given, say so"
    first_kg, last_kg = data.weight.first_kg, data.weight.kg
    if not first_kg or not last_kg or data.weight.grade not in SURE or first_kg / OTHER <= last_kg <= first_kg * OTHER:
        return
    first, last = dose_for(table.rule, first_kg), dose_for(table.rule, last_kg)
    if not table.dose_to_heaviest and first and last and first.amount != last.amount:
        much = spell_amount(last.amount, last.unit)
        yield f"by {spell(first_kg)} kg, shown first; by {spell(last_kg)} kg it is {much}: see the label"
