"""The tally told: as JSON for programs, as text for a terminal, in one line for a live view."""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, tzinfo
from typing import Any

from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.doses.dosing import GroupDose, dose_group, spell_amount
from neckyoke.bridge.job.growth import shrink
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.many import many
from neckyoke.bridge.reports.paper import lists, look_at
from neckyoke.bridge.reports.paper.lists import leaders, spell_lost
from neckyoke.bridge.reports.statistics import Figures
from neckyoke.bridge.reports.tally import Seen, Tally, Used

BAR = 40
"""Characters of the longest bar of a histogram."""
MOST_ROWS = 20
"""A detail with more values than this, such as a birth date, is in the JSON only."""


def as_json(tally: Tally, sheet: Sheet | None = None, named: int = lists.NAMED) -> dict[str, Any]:
    """Spell the tally for a program: kilograms, kilograms a day, percent, millilitres; null for what is not known."""
    shown: dict[str, Any] = {
        "sheets": list(tally.sheets),
        "began": tally.began,
        "ended": tally.ended,
        "counts": dict(tally.counts),
        "weight": _weights(tally.weight),
        "by_pen": {pen: _weights(one) for pen, one in tally.by_pen.items()},
        "by_detail": {
            name: {value: _weights(one) for value, one in values.items()} for name, values in tally.by_detail.items()
        },
        "by_finding": {
            name: {
                value: {"animals": one.animals, "weight": _weights(one.weight), "gain": _gains(one.gain)}
                for value, one in values.items()
            }
            for name, values in tally.by_finding.items()
        },
        "gain": _gains(tally.gain),
        "gain_by_pen": {pen: _gains(one) for pen, one in tally.gain_by_pen.items()},
        "treatments": [{"name": name, **_used(one)} for name, one in tally.treatments.items()],
        "lightest": tally.lightest,
        "heaviest": tally.heaviest,
        "not_seen": list(tally.not_seen),
        "look_at": look_at.as_json(tally),
        **lists.as_json(tally, named),
        "distribution": {
            "width_kg": tally.distribution.width,
            "bins": [
                {"at_least_kg": low, "below_kg": high, "count": count}
                for low, high, count in tally.distribution.spans()
            ],
        },
        "cautions": said_beside(tally),
    }
    if sheet is not None and sheet.shrink_percent is not None:
        shown["shrunk"] = {
            "percent": sheet.shrink_percent,
            "mean_kg": _round(_shrunk(tally.weight.mean, sheet.shrink_percent)),
            "total_kg": _round(shrink(tally.weight.total, sheet.shrink_percent)),
        }
    if sheet is not None and (groups := group_doses(tally, sheet)):
        shown["group_doses"] = [
            {
                "treatment": treatment,
                "pen": pen,
                "heaviest_kg": group.heaviest_kg,
                "lightest_kg": group.lightest_kg,
                "amount": group.dose.amount,
                "exact": group.dose.exact,
                "unit": group.dose.unit,
                "split": group.split,
            }
            for treatment, pen, group in groups
        ]
    return shown


def group_doses(tally: Tally, sheet: Sheet) -> list[tuple[str, str | None, GroupDose]]:
    """Dose each group to its heaviest, where the sheet asks for it: all animals (pen None), and each pen by itself."""
    groups = [(None, tally.weight), *tally.by_pen.items()]
    return [
        (treatment.name, pen, dose)
        for treatment in sheet.treatments
        if treatment.dose_to_heaviest
        for pen, one in groups
        if one.smallest is not None
        and one.largest is not None
        and (dose := dose_group(treatment.rule, (one.smallest, one.largest)))
    ]


def _round(number: float | None, places: int = 3) -> float | None:
    return None if number is None else round(number, places)


def _shrunk(kg: float | None, percent: float) -> float | None:
    return None if kg is None else shrink(kg, percent)


def _weights(one: Figures) -> dict[str, float | int | None]:
    return {
        "count": one.count,
        "mean_kg": _round(one.mean),
        "median_kg": _round(one.median),
        "sd_kg": _round(one.sd),
        "cv_percent": _round(one.cv_percent),
        "min_kg": _round(one.smallest),
        "max_kg": _round(one.largest),
        "total_kg": _round(one.total),
        "within_10_percent": _round(one.within_10_percent),
    }


def _gains(one: Figures) -> dict[str, float | int | None]:
    return {
        "count": one.count,
        "mean_kg_per_day": _round(one.mean),
        "median_kg_per_day": _round(one.median),
        "sd_kg_per_day": _round(one.sd),
        "min_kg_per_day": _round(one.smallest),
        "max_kg_per_day": _round(one.largest),
    }


def _used(one: Used) -> dict[str, Any]:
    return {
        "given": one.given,
        "skipped": one.skipped,
        "undosed": one.undosed,
        "total_ml": _round(one.total_ml),
        "totals": [{"amount": _round(amount), "unit": unit} for unit, amount in one.totals.items()],
        "batches": sorted(one.batches),
    }


def as_line(tally: Tally) -> str:
    """Return the tally in one line, for a live view."""
    counts, weight = tally.counts, tally.weight
    parts = [many(counts["animals"] or 0, "animal")]
    parts += [f"{counts[key]} {text}" for key, text in _ASIDE.items() if counts[key]]
    if weight.mean is not None:
        parts.append(f"mean {weight.mean:.1f} kg over {weight.count} ({weight.smallest:.1f} to {weight.largest:.1f})")
    if tally.gain.mean is not None:
        parts.append(f"gain {tally.gain.mean:.2f} kg/day over {tally.gain.count}")
    return ", ".join(parts)


_ASIDE: Mapping[str, str] = {
    "untagged": "untagged",
    "repeats": "weighed again",
    "not_expected": "not on the roster",
    "not_seen": "not seen",
    "withheld": "withheld",
    "poor": "with a poor weight",
    "no_weight": "without a weight",
    "voided": "struck out",
    "paused": "recorded while paused",
}


def as_text(tally: Tally, sheet: Sheet | None = None, zone: tzinfo = UTC) -> str:
    """Return the tally as text for a terminal."""
    return "\n".join(_text(tally, sheet, zone)) + "\n"


def _text(tally: Tally, sheet: Sheet | None, zone: tzinfo) -> Iterator[str]:
    yield from when_and_what(tally, zone)
    yield as_line(tally)
    if tally.missing:
        yield f"not seen: {', '.join(tally.missing)}"
    if tally.weight.mean is not None:
        yield ""
        yield from weight_lines(tally, sheet)
        if lost := lost_line(tally):
            yield lost
        yield ""
        yield from histogram(tally)
        yield from _tables(tally)
    if tally.treatments:
        yield ""
        for name, told in treatment_lines(tally, sheet):
            yield f"{name}: {told}"
    if look := list(look_at.lines(tally, MOST_ROWS)):
        yield ""
        yield "Look at these:"
        yield from (f"- {line}" for line in look)
    yield ""
    yield from said_beside(tally)


def when_and_what(tally: Tally, zone: tzinfo) -> Iterator[str]:
    """Name the sheets and the time the tally spans, on the farm's clock."""
    if tally.sheets:
        yield ", ".join(tally.sheets)
    if tally.began and tally.ended:
        began, ended = (datetime.fromisoformat(one).astimezone(zone) for one in (tally.began, tally.ended))
        end = f"{ended:%H:%M}" if began.date() == ended.date() else f"{ended:%Y-%m-%d %H:%M}"
        yield f"{began:%Y-%m-%d %H:%M} to {end} {zone}"


def said_beside(tally: Tally) -> list[str]:
    """Return the cautions that go with what the tally shows."""
    return [cautions.WEIGHTS, *([cautions.DOSES] if tally.treatments else [])]


def _tables(tally: Tally) -> Iterator[str]:
    yield from _table("pen", tally.by_pen, tally.gain_by_pen)
    same, differing = split_details(tally)
    for name, values in differing.items():
        yield from _table(name, values, {})
    for name, seen in tally.by_finding.items():
        yield from _seen_table(name, seen)
    if same:
        yield ""
        yield f"all: {', '.join(f'{name} {value}' for name, value in same.items())}"


def _seen_table(name: str, values: Mapping[str, Seen]) -> Iterator[str]:
    """Return what was seen as lines: all animals with each value, the mean weight and gain of those that have one."""
    if len(values) > MOST_ROWS:
        return
    width = max(len(name), *(len(value) for value in values))
    yield ""
    yield f"{name:{width}}  animals  mean kg  kg/day"
    for value, one in values.items():
        mean, gain = one.weight.mean, one.gain.mean
        kg, per_day = ("" if mean is None else f"{mean:.1f}"), ("" if gain is None else f"{gain:.2f}")
        yield f"{value:{width}}  {one.animals:7}  {kg:>7}  {per_day:>6}".rstrip()


def split_details(tally: Tally) -> tuple[dict[str, str], dict[str, Mapping[str, Figures]]]:
    """Part the details into those all weighed animals share and those worth a table; keys as a person reads them."""
    same: dict[str, str] = {}
    differing: dict[str, Mapping[str, Figures]] = {}
    for name, values in tally.by_detail.items():
        only = next(iter(values))
        if values[only].count == tally.weight.count:
            same[name.replace("_", " ")] = only
        elif len(values) <= MOST_ROWS:
            differing[name.replace("_", " ")] = values
    return same, differing


def weight_lines(tally: Tally, sheet: Sheet | None) -> Iterator[str]:
    """Return the figures of all weights, and of all gains, in a few lines."""
    weight, gain = tally.weight, tally.gain
    spread = "" if weight.sd is None else f", SD {weight.sd:.1f} kg, CV {weight.cv_percent:.1f} %"
    over = f"over {weight.count} of {len(tally.animals)}"
    yield f"weight, {over}: mean {weight.mean:.1f} kg, median {weight.median:.1f} kg{spread}"
    lightest, heaviest = (leaders(tally.animals, kind, 1)[0].name for kind in ("lightest", "heaviest"))
    yield f"lightest {weight.smallest:.1f} kg ({lightest}), heaviest {weight.largest:.1f} kg ({heaviest})"
    yield (
        f"total {weight.total:.1f} kg over {weight.count}; {weight.within_10_percent:.1f} % within 10 % of the mean, "
        f"half from {weight.quarter:.1f} to {weight.three_quarters:.1f} kg"
    )
    if sheet is not None and sheet.shrink_percent:
        percent = sheet.shrink_percent
        mean, total = _shrunk(weight.mean, percent), shrink(weight.total, percent)
        yield f"less {percent:g} % pencil shrink: mean {mean:.1f} kg, total {total:.1f} kg, over {weight.count}"
    if gain.mean is not None:
        least, most = (leaders(tally.animals, kind, 1)[0].name for kind in ("gained least", "gained most"))
        ends = f"{gain.smallest:.2f} ({least}) to {gain.largest:.2f} ({most})"
        yield f"gain, over {gain.count}: mean {gain.mean:.2f} kg/day, {ends}"


def lost_line(tally: Tally) -> str | None:
    """Name those that lost weight since they were last weighed; None where no last weight is known."""
    known = sum(row.gained is not None for row in tally.animals)
    if not known:
        return None
    lost = ", ".join(spell_lost(row) for row in tally.losers[:MOST_ROWS])
    more = f" and {len(tally.losers) - MOST_ROWS} more" if len(tally.losers) > MOST_ROWS else ""
    return f"lost weight, {len(tally.losers)} of {known}: {lost}{more}" if lost else f"lost weight: none of {known}"


def treatment_lines(tally: Tally, sheet: Sheet | None) -> Iterator[tuple[str, str]]:
    """Return in lines of each treatment how much was used, and the doses by group that the sheet asks for."""
    for name, used in tally.treatments.items():
        yield name, _used_text(used)
    yield from group_lines(tally, sheet)


def group_lines(tally: Tally, sheet: Sheet | None) -> Iterator[tuple[str, str]]:
    """Return the doses by group that the sheet asks for, a line each."""
    for name, pen, group in group_doses(tally, sheet) if sheet else ():
        yield f"{name}, {f'pen {pen}' if pen else 'all'}", _group_text(group)


def _used_text(used: Used) -> str:
    amounts = [spell_amount(amount, unit) for unit, amount in used.totals.items()]
    parts = [f"{used.given} given"]
    parts += [f"{' and '.join(amounts)} in all"] if amounts else []
    parts += [f"{used.skipped} skipped"] if used.skipped else []
    parts += [f"{used.undosed} without a known dose"] if used.undosed else []
    parts += [f"batch {', '.join(sorted(used.batches))}"] if used.batches else []
    return ", ".join(parts)


def _group_text(group: GroupDose) -> str:
    text = f"{spell_amount(group.dose.amount, group.dose.unit)} each, by the heaviest ({group.heaviest_kg:g} kg)"
    return f"{text}; {group.split}" if group.split else text


def histogram(tally: Tally) -> Iterator[str]:
    """Draw the distribution with plain characters, one bin a line."""
    spans = tally.distribution.spans()
    most = max((count for _, _, count in spans), default=0)
    for low, _, count in spans:
        yield f"{low:7g} {'#' * round(BAR * count / most):{BAR}} {count or ''}".rstrip()


def _table(name: str, values: Mapping[str, Figures], gains: Mapping[str, Figures]) -> Iterator[str]:
    if not values:
        return
    wide = max(len(name), *(len(value) for value in values))
    yield ""
    yield f"{name:{wide}}  animals   mean    min    max    total kg{'   kg/day' if gains else ''}"
    for value, one in values.items():
        gain = gains[value].mean if value in gains else None
        end = "" if gain is None else f"{gain:9.2f}"
        yield (
            f"{value:{wide}}  {one.count:7}{one.mean:7.1f}{one.smallest:7.1f}{one.largest:7.1f}{one.total:12.1f}{end}"
        )
