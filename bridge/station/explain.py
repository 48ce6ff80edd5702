"""Why a weighing came out as it did, on one page of a terminal.

Pure: takes what a station kept of one stay while tracing and gives lines of text.  Time runs to the right, in seconds
since the animal stepped on; weights above, tags below; then the points that each tag got (evidence.py), and the line of
pairing's table that decided.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from textwrap import wrap

from bridge.events import Weighing
from bridge.station.ears import Heard, Span
from bridge.station.verdict import Candidate, Case

WIDTH = 56
"""Columns of the time line."""
BEFORE_S, AFTER_S = 4.0, 4.0
BARS = " ▁▂▃▄▅▆▇█"
MOST_TAGS = 5
LINE = 96
CURVE = 600
"""Readings kept of one stay."""


@dataclass(slots=True)
class Trace:
    """What is kept of one stay: (t, kg shown) of its readings, when it settled, its revisions with their times."""

    curve: list[tuple[float, float]] = field(default_factory=list)
    settled: float | None = None
    revisions: list[tuple[float, Weighing]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Axis:
    """Turns time into columns."""

    start: float
    end: float

    def column(self, t: float) -> int | None:
        at = int((t - self.start) / (self.end - self.start) * WIDTH)
        return at if 0 <= at < WIDTH else None

    def marks(self, times: Sequence[float], mark: str) -> str:
        row = [" "] * WIDTH
        for t in times:
            if (at := self.column(t)) is not None:
                row[at] = mark
        return "".join(row)


def explain(trace: Trace, case: Case) -> list[str]:
    """Say why one weighing came out as it did."""
    weighing = trace.revisions[-1][1]
    span = case.span
    axis = _Axis(span.on - BEFORE_S, span.off + AFTER_S)
    lines = [_title(weighing), "", _row("seconds", _scale(axis, span)), _row("", axis.marks([span.on, span.off], "|"))]
    lines += _weights(trace, weighing, axis)
    shown = case.candidates[:MOST_TAGS]
    for candidate in shown:
        by_link: dict[str, list[Heard]] = {}
        for heard in candidate.one.heard:
            by_link.setdefault(heard.link, []).append(heard)
        for link, heards in by_link.items():
            marks = axis.marks([heard.t for heard in heards], "•")
            if marks.strip():
                lines.append(_row(f"…{str(candidate.one.code)[-6:]} {link}", marks))
    lines += ["", "What speaks for each tag, in points (3 are odds of 20 to 1, 7 of 1000 to 1):"]
    lines += [line for candidate in shown for line in _points(candidate)] or ["  no tag was heard near this stay"]
    if len(case.candidates) > MOST_TAGS:
        lines.append(f"  and {len(case.candidates) - MOST_TAGS} more with less")
    lines += ["", *_decision(case), *_history(trace, span)]
    return [line[:LINE].rstrip() for line in lines]


def _title(weighing: Weighing) -> str:
    kg = "no weight" if weighing.weight.kg is None else f"{weighing.weight.kg:g} kg ({weighing.weight.grade})"
    tag = f"tag {weighing.tag.code} {weighing.tag.national}" if weighing.tag else "no tag"
    flags = f", flagged {', '.join(weighing.flags)}" if weighing.flags else ""
    return f"Number {weighing.number}: {kg}, {tag}{flags}"


def _row(name: str, cells: str) -> str:
    return f"{name[:20]:20} {cells}"


def _scale(axis: _Axis, span: Span) -> str:
    """Write the seconds since stepping on along the axis, as many as fit."""
    step = next((s for s in (1, 2, 5, 10, 20, 30, 60, 120, 300, 600) if (axis.end - axis.start) / s <= WIDTH / 6), 1800)
    row = [" "] * (WIDTH + 6)
    for n in range(-1, int((axis.end - span.on) / step) + 1):
        at = axis.column(span.on + n * step)
        if at is not None:
            row[at : at + len(str(n * step))] = str(n * step)
    return "".join(row)


def _weights(trace: Trace, weighing: Weighing, axis: _Axis) -> list[str]:
    columns: list[list[float]] = [[] for _ in range(WIDTH)]
    for t, shown_kg in trace.curve:
        if (at := axis.column(t)) is not None:
            columns[at].append(shown_kg - weighing.weight.zero_kg)
    means = [sum(column) / len(column) if column else None for column in columns]
    top = max((mean for mean in means if mean is not None), default=0.0)
    bars = "".join(" " if mean is None or top <= 0 else BARS[max(0, min(8, round(8 * mean / top)))] for mean in means)
    lines = [_row(f"weight, top {top:.0f} kg", bars)]
    kg = weighing.weight.kg
    if kg:
        plateau = "".join("=" if mean is not None and abs(mean - kg) <= 0.01 * kg else " " for mean in means)
        lines.append(_row(f"within 1 % of {kg:g}", plateau))
    if trace.settled is not None:
        first = weighing.weight.first_kg
        said = f"^ first weight{f', {first:g} kg' if first is not None else ''}"
        lines.append(_row("settled", " " * (axis.column(trace.settled) or 0) + said))
    return lines


def _points(candidate: Candidate) -> list[str]:
    """Write a tag's points, and under it what they are made of."""
    parts = sorted(candidate.points.parts.items(), key=lambda part: -abs(part[1]))
    lines = [f"  {candidate.one.code}  {candidate.points.total:+6.1f} "]
    for name, points in parts:
        said = f" {points:+.1f} {name};"
        if len(lines[-1]) + len(said) > LINE:
            lines.append(" " * 27)
        lines[-1] += said
    return [line.rstrip(";") for line in lines]


def _decision(case: Case) -> list[str]:
    verdict = case.verdict
    if case.lead == float("inf"):
        return [f"Decided: {verdict.rule}."]
    other = f"{case.rival} instead" if case.rival else "another tag or none here"
    return [f"Decided: {verdict.rule}.", f"The next best way, {other}, is {case.lead:.1f} points behind."]


def _history(trace: Trace, span: Span) -> list[str]:
    lines = []
    for t, weighing in trace.revisions[-4:]:
        tag = weighing.tag.id if weighing.tag else "no tag"
        lines.append(f"Revision {weighing.revision}, {max(0.0, t - span.off):.0f} s after it left: {tag}")
        lines += [f"    {part}" for part in wrap(f"because {weighing.why}", LINE - 4)] if weighing.why else []
    return lines if len(trace.revisions) > 1 else []
