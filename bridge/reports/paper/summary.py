"""The day in a dozen plain lines, for a message to the office."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, tzinfo

from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.doses.dosing import spell_amount
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.reports.paper.lists import by_name, leaders, spell_lost
from neckyoke.bridge.reports.tally import Tally, Used

NAMED = 12
"""Animals named in a line."""
MOST_TREATMENTS = 4
ASIDE = {
    "untagged": "without a tag",
    "repeats": "weighed again",
    "not_expected": "not on the roster",
    "poor": "with a poor weight",
    "no_weight": "without a weight",
    "voided": "struck out",
    "paused": "recorded while paused",
}


def summary(tally: Tally, about: About | None = None, zone: tzinfo = UTC) -> tuple[str, ...]:
    """Return the lines; what there is nothing of has none."""
    return tuple(_lines(tally, about or About(), zone))


def _lines(tally: Tally, about: About, zone: tzinfo) -> Iterator[str]:
    place = f"{about.place}: " if about.place else ""
    yield f"{place}{', '.join([about.heading(tally), *about.beside(tally, zone)])}."
    yield _who(tally)
    weight, gain = tally.weight, tally.gain
    if weight.mean is None:
        yield "No weight good enough to count."
    else:
        lightest, heaviest = (leaders(tally.animals, kind, 1)[0].name for kind in ("lightest", "heaviest"))
        yield (
            f"Mean {weight.mean:.1f} kg over {weight.count}, {weight.smallest:.1f} ({lightest}) to "
            f"{weight.largest:.1f} ({heaviest}); {weight.total:.0f} kg in all."
        )
    if gain.mean is not None:
        least, most = (leaders(tally.animals, kind, 1)[0].name for kind in ("gained least", "gained most"))
        ends = f"{gain.smallest:.2f} ({least}) to {gain.largest:.2f} ({most})"
        yield f"Gain {gain.mean:.2f} kg/day over {gain.count}, {ends}."
    if known := sum(row.gained is not None for row in tally.animals):
        lost = [spell_lost(row) for row in tally.losers]
        yield f"Lost weight, {len(lost)} of {known}: {_some(lost)}." if lost else f"Lost weight: none of {known}."
    if pens := Counter(row.setting.pen for row in tally.animals if row.setting.pen is not None):
        told = ", ".join(f"{pen} {many}" for pen, many in sorted(pens.items()))
        yield f"Pens, {sum(pens.values())} of {len(tally.animals)}: {told}."
    for name, used in list(tally.treatments.items())[:MOST_TREATMENTS]:
        yield f"{name}: {_used(used)}."
    if (more := len(tally.treatments) - MOST_TREATMENTS) > 0:
        yield f"And {more} more treatments: see the register."
    if held := sorted((row for row in tally.animals if row.withheld), key=by_name):
        yield f"Withheld from meat when weighed: {_some([f'{row.name} until {_until(row.withheld)}' for row in held])}."
    if aside := [f"{tally.counts[key]} {text}" for key, text in ASIDE.items() if tally.counts[key]]:
        yield f"To look at: {', '.join(aside)}."
    if tally.treatments:
        yield cautions.DOSES


def _who(tally: Tally) -> str:
    many = len(tally.animals)
    text = f"{many} animal{'' if many == 1 else 's'}"
    if tally.missing:
        return f"{text}; {len(tally.missing)} expected and not seen: {_some(list(tally.missing))}."
    return f"{text}{'; all who were expected came' if tally.counts['not_seen'] == 0 else ''}."


def _used(used: Used) -> str:
    parts = [f"{used.given} given"]
    amounts = " and ".join(spell_amount(amount, unit) for unit, amount in used.totals.items())
    parts += [f"{amounts} in all"] if amounts else []
    parts += [f"{used.skipped} not given"] if used.skipped else []
    parts += [f"batch {', '.join(sorted(used.batches))}"] if used.batches else []
    clear = [f"{_until(one)} ({what})" for one, what in ((used.meat, "meat"), (used.export, "export")) if one]
    return ", ".join([*parts, *([f"clear from {', '.join(clear)}"] if clear else [])])


def _until(clear: str | None) -> str:
    return "a date not known" if clear == UNKNOWN else clear or ""


def _some(names: list[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")
