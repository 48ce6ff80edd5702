"""The day on one printable page: HTML that needs nothing beside it, no network, no script."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, tzinfo

from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.reports.drawn import PICTURES
from neckyoke.bridge.reports.pictures.svg import escape
from neckyoke.bridge.reports.show import said_beside, split_details, treatment_lines, weight_lines, when_and_what
from neckyoke.bridge.reports.statistics import Figures
from neckyoke.bridge.reports.tally import Tally

STYLE = """
@page { size: A4; margin: 14mm }
body { font: 10.5pt/1.35 "Liberation Sans", Arial, sans-serif; color: #222; max-width: 180mm; margin: 8mm auto }
h1 { font-size: 17pt; margin: 0 } h2 { font-size: 11.5pt; margin: 5mm 0 1mm } p { margin: 1mm 0 }
table { border-collapse: collapse } td, th { padding: 0.6mm 4mm 0.6mm 0; text-align: right }
td:first-child, th:first-child { text-align: left } thead th { border-bottom: 1px solid #999; font-weight: normal }
.counts td { text-align: left } .counts b { font-size: 15pt } svg { width: 100%; height: auto }
.look { border-left: 3px solid #a33; padding-left: 3mm } .side { display: flex; flex-wrap: wrap; gap: 0 12mm }
footer { margin-top: 6mm; border-top: 1px solid #999; font-size: 8.5pt }
@media print { body { margin: 0; max-width: none } section { break-inside: avoid } }
"""

COUNTS: Mapping[str, str] = {
    "animals": "animals",
    "untagged": "untagged",
    "repeats": "weighed again",
    "not_expected": "not on the roster",
    "not_seen": "not seen",
    "withheld": "withheld",
    "voided": "struck out",
    "paused": "recorded while paused",
}
MOST_NAMED = 60


def html(tally: Tally, sheet: Sheet | None = None, site: str = "", zone: tzinfo = UTC) -> str:
    """Write the page.  Everything a person typed is escaped."""
    title = ", ".join(tally.sheets) or "Weighing day"
    body = "\n".join(_body(tally, sheet, title, site, zone))
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{STYLE}</style></head>\n'
        f"<body>\n{body}\n</body></html>\n"
    )


def _body(tally: Tally, sheet: Sheet | None, title: str, site: str, zone: tzinfo) -> Iterable[str]:
    yield f"<h1>{escape(title)}</h1>"
    beside = [sheet.mob if sheet else None, site, list(when_and_what(tally, zone))[-1] if tally.began else None]
    yield f"<p>{escape(' · '.join(one for one in beside if one))}</p>"
    yield _counts(tally)
    yield from _to_look_at(tally)
    if tally.weight.mean is None:
        yield "<p>No weight good enough to count.</p>"
    else:
        lines = "".join(f"<p>{escape(line)}</p>" for line in weight_lines(tally, sheet))
        yield f"<section><h2>Weights</h2>{lines}{PICTURES['weights'](tally, ())}</section>"
        yield '<div class="side">'
        if tally.by_pen:
            yield _section("Pens", _figures("pen", tally.by_pen, tally.gain_by_pen))
        same, differing = split_details(tally)
        for name, values in differing.items():
            yield _section(name.capitalize(), _figures(name, values, {}))
        yield "</div>"
        if same:
            yield f"<p>All: {escape(', '.join(f'{name} {value}' for name, value in same.items()))}</p>"
    if tally.treatments:
        told = (f"<p><b>{escape(name)}</b>: {escape(text)}</p>" for name, text in treatment_lines(tally, sheet))
        yield _section("Treatments", "".join(told))
    yield f"<footer>{''.join(f'<p>{escape(one)}</p>' for one in said_beside(tally))}</footer>"


def _counts(tally: Tally) -> str:
    cells = "".join(
        f"<td><b>{tally.counts[key]}</b><br>{text}</td>"
        for key, text in COUNTS.items()
        if key == "animals" or tally.counts[key]
    )
    return f'<table class="counts"><tr>{cells}</tr></table>'


def _to_look_at(tally: Tally) -> Iterable[str]:
    lines = []
    if tally.counts["poor"]:
        lines.append(f"{tally.counts['poor']} with a poor weight: not in the figures; weigh again.")
    if tally.counts["no_weight"]:
        lines.append(f"{tally.counts['no_weight']} without a weight.")
    if tally.not_seen:
        named, more = tally.not_seen[:MOST_NAMED], len(tally.not_seen) - MOST_NAMED
        lines.append(f"Not seen: {', '.join(named)}{f' and {more} more' if more > 0 else ''}.")
    if lines:
        yield f'<div class="look">{"".join(f"<p>{escape(line)}</p>" for line in lines)}</div>'


def _section(title: str, inner: str) -> str:
    return f"<section><h2>{escape(title)}</h2>{inner}</section>"


def _figures(name: str, values: Mapping[str, Figures], gains: Mapping[str, Figures]) -> str:
    head = [name, "animals", "mean kg", "from", "to", "CV %", "total kg", *(["kg/day"] if gains else [])]
    rows = []
    for value, one in values.items():
        gain = gains.get(value)
        row = [value, str(one.count), _one(one.mean), _one(one.smallest), _one(one.largest)]
        row += [_one(one.cv_percent), _one(one.total), *([_two(gain.mean if gain else None)] if gains else [])]
        rows.append(row)
    return _rows(head, rows)


def _rows(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    top = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def _one(number: float | None) -> str:
    return "" if number is None else f"{number:.1f}"


def _two(number: float | None) -> str:
    return "" if number is None else f"{number:.2f}"
