"""The day on one page to hand over: HTML that needs nothing beside it, no network, no script, and prints well.

Every figure says over how many animals it is.  Everything a person typed is escaped.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, tzinfo

from neckyoke.bridge.job.doses.dosing import spell_amount
from neckyoke.bridge.job.doses.withholding import UNKNOWN
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.reports.drawn import PICTURES
from neckyoke.bridge.reports.paper import look_at
from neckyoke.bridge.reports.paper.about import About
from neckyoke.bridge.reports.paper.animals import table
from neckyoke.bridge.reports.paper.html_parts import grid, one_place, page, section, two_places, wide
from neckyoke.bridge.reports.paper.lists import KINDS, by_name, leaders, spell_lost
from neckyoke.bridge.reports.pictures.mob_growth import Spread
from neckyoke.bridge.reports.pictures.svg import escape
from neckyoke.bridge.reports.rows import Row
from neckyoke.bridge.reports.show import group_lines, said_beside, split_details, weight_lines
from neckyoke.bridge.reports.statistics import Figures
from neckyoke.bridge.reports.tally import Seen, Tally

COUNTS: Mapping[str, str] = {
    "animals": "animals",
    "untagged": "without a tag",
    "repeats": "weighed again",
    "not_expected": "not on the roster",
    "not_seen": "not seen",
    "withheld": "withheld",
    "voided": "struck out",
    "paused": "recorded while paused",
}
MOST_NAMED = 60
CAPTIONS: Mapping[str, str] = {
    "weights": "Weights",
    "then-and-now": "Weight against last weight",
    "gains": "Gains",
    "mob": "The mob over its jobs",
}


def html(
    tally: Tally,
    sheet: Sheet | None = None,
    site: str = "",
    zone: tzinfo = UTC,
    *,
    about: About | None = None,
    growth: Sequence[Spread] = (),
) -> str:
    """Write the page.  `site` stands for the property where `about` names none; `growth` is the mob's over its jobs."""
    known = about or About()
    known = About(known.place or site or None, known.mob or (sheet.mob if sheet else None), known.station, known.turn)
    title = known.heading(tally)
    whole = f"{known.place}: {title}" if known.place else title
    body = "\n".join(_body(tally, sheet, known, zone, growth))
    return page(whole, body)


def _body(tally: Tally, sheet: Sheet | None, about: About, zone: tzinfo, growth: Sequence[Spread]) -> Iterator[str]:
    above = f"<p>{escape(about.place)}</p>" if about.place else ""
    beside = " · ".join(escape(one) for one in about.beside(tally, zone))
    yield f"<header>{above}<h1>{escape(about.heading(tally))}</h1><p>{beside}</p></header>\n<main>"
    yield _counts(tally)
    yield from _to_look_at(tally)
    if tally.weight.mean is None:
        yield "<p>No weight good enough to count.</p>"
    else:
        yield section("Figures", "".join(f"<p>{escape(line)}</p>" for line in weight_lines(tally, sheet)), keep=True)
        yield f'<div class="pictures">{"".join(_pictures(tally, growth))}</div>'
        yield from _losers(tally)
        yield section("Who stands out", f'<div class="lists">{"".join(_leaders(tally))}</div>')
        yield from _groups(tally)
    yield from _doses(tally, sheet)
    if tally.animals:
        yield _animals(tally)
    yield f"</main>\n<footer>{''.join(f'<p>{escape(one)}</p>' for one in said_beside(tally))}</footer>"


def _counts(tally: Tally) -> str:
    shown = ((key, text) for key, text in COUNTS.items() if key == "animals" or tally.counts[key])
    cells = "".join(f"<div><b>{tally.counts[key]}</b>{text}</div>" for key, text in shown)
    return f'<div class="counts">{cells}</div>'


def _to_look_at(tally: Tally) -> Iterable[str]:
    lines = [f"{line}." for line in look_at.lines(tally, MOST_NAMED)]
    if tally.missing:
        named, more = tally.missing[:MOST_NAMED], len(tally.missing) - MOST_NAMED
        lines.append(f"Not seen: {', '.join(named)}{f' and {more} more' if more > 0 else ''}.")
    if held := [row for row in tally.animals if row.withheld]:
        told = ", ".join(f"{row.name} ({_until(row.withheld)})" for row in sorted(held, key=by_name)[:MOST_NAMED])
        lines.append(f"{len(held)} withheld from meat when weighed, until: {told}.")
    if lines:
        yield f'<div class="look"><h2>Look at these</h2>{"".join(f"<p>{escape(line)}</p>" for line in lines)}</div>'


def _until(clear: str | None) -> str:
    return "not known" if clear == UNKNOWN else clear or ""


def _pictures(tally: Tally, growth: Sequence[Spread]) -> Iterator[str]:
    for name, draw in PICTURES.items():
        if name != "mob" or growth:
            yield f"<figure><figcaption>{CAPTIONS[name]}</figcaption>{draw(tally, growth)}</figure>"


def _losers(tally: Tally) -> Iterator[str]:
    known = sum(row.gained is not None for row in tally.animals)
    if not known:
        return
    if not tally.losers:
        yield section("Lost weight", f"<p>None of {known} with a last weight.</p>", keep=True)
        return
    told = ", ".join(spell_lost(row) for row in tally.losers[:MOST_NAMED])
    more = len(tally.losers) - MOST_NAMED
    text = f"{len(tally.losers)} of {known} with a last weight: {told}{f' and {more} more' if more > 0 else ''}."
    short = any((row.days or 0) < 14 for row in tally.losers)
    fill = "<p>Within fewer than 14 days gut fill alone can make the difference.</p>" if short else ""
    yield section("Lost weight", f"<p>{escape(text)}</p>{fill}")


def _leaders(tally: Tally) -> Iterator[str]:
    for kind, (key, _) in KINDS.items():
        if found := leaders(tally.animals, kind):
            many, unit = (tally.weight.count, "kg") if key == "kg" else (tally.gain.count, "kg/day")
            rows = ([row.name, one_place(row.kg) if key == "kg" else two_places(row.gain)] for row in found)
            yield f'<div class="keep"><h3>{kind.capitalize()} of {many}</h3>{grid(["animal", unit], rows)}</div>'


def _groups(tally: Tally) -> Iterator[str]:
    """Write the tables by pen, finding and detail."""
    if tally.by_pen:
        seen = {pen: Seen(0, one, tally.gain_by_pen.get(pen, Figures(0))) for pen, one in tally.by_pen.items()}
        yield _seen("Pens", "pen", seen, tally)
    for name, values in tally.by_finding.items():
        yield _seen(name.capitalize(), name, values, tally)
    same, differing = split_details(tally)
    for name, details in differing.items():
        by_value = {value: Seen(0, one, Figures(0)) for value, one in details.items()}
        yield _seen(name.capitalize(), name, by_value, tally)
    if same:
        yield f"<p>All {tally.weight.count} with a sure weight: {escape(_all(same))}</p>"


def _all(same: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {value}" for name, value in same.items())


def _seen(title: str, name: str, values: Mapping[str, Seen], tally: Tally) -> str:
    head = [name, "animals", "mean kg", "over", "lightest", "heaviest", "total kg", "kg/day", "over", "least", "most"]
    gains = any(one.gain.count for one in values.values())
    rows = []
    for value, one in values.items():
        mine = [row for row in tally.animals if _is_in(row, name, value)]
        lightest, heaviest, least, most = (_end(mine, kind) for kind in ENDS)
        row = [value, str(len(mine)), one_place(one.weight.mean), str(one.weight.count), lightest, heaviest]
        row += [one_place(one.weight.total) if one.weight.count else ""]
        row += [two_places(one.gain.mean), str(one.gain.count), least, most] if gains else []
        rows.append(row)
    return section(title, wide(title, grid(head if gains else head[:7], rows)), keep=True)


ENDS = ("lightest", "heaviest", "gained least", "gained most")


def _end(rows: Sequence[Row], kind: str) -> str:
    """Name who ends the list of a group, with the figure."""
    first = leaders(rows, kind, 1)
    if not first:
        return ""
    figure = f"{first[0].gain:.2f}" if KINDS[kind][0] == "gain" else f"{first[0].kg:.1f}"
    return f"{figure} ({first[0].name})"


def _is_in(row: Row, name: str, value: str) -> bool:
    if name == "pen":
        return row.setting.pen == value
    details = ((key.replace("_", " "), said) for key, said in row.setting.details)
    return (name, value) in row.findings or (name, value) in details


def _doses(tally: Tally, sheet: Sheet | None) -> Iterator[str]:
    if not tally.treatments:
        return
    rows = []
    for name, used in tally.treatments.items():
        in_all = " and ".join(spell_amount(amount, unit) for unit, amount in used.totals.items())
        over = f"{in_all}, over {used.given - used.undosed}" if in_all else ""
        clear = [_until(one) or "none" for one in (used.meat, used.export)]
        rows.append([name, str(used.given), str(used.skipped), over, ", ".join(sorted(used.batches)), *clear])
    head = ["product", "animals given", "not given", "in all", "batch", "last clear from (meat)", "(export)"]
    beside = "".join(f"<p>{escape(name)}: {escape(told)}</p>" for name, told in group_lines(tally, sheet))
    yield section("Doses used", wide("Doses used", grid(head, rows, "texts")) + beside, keep=True)


def _animals(tally: Tally) -> str:
    head, rows = table(tally)
    title = f"The animals, {len(tally.animals)}"
    return section(title, wide(title, grid(head, rows, "animals")))
