"""Why a weighing came out as it did, on one page of a terminal.

Pure: takes what a station kept of one stay while tracing and returns lines of text.  Time runs to the right, in
seconds since the animal stepped on; weights above, tags below; then the score of each tag (tags/scores.py), and the
line of the verdicts' table that decided.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from textwrap import shorten, wrap

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.station.platform.happenings import NOT_RECKONED, Reckoned
from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.verdict import Candidate, Case
from neckyoke.bridge.station.weight.grading import PROMISED_PERCENT

NAME, WIDTH = 20, 56
"""Columns of a row's name and of the time line."""
BEFORE_S, AFTER_S = 4.0, 4.0
BARS = " ▁▂▃▄▅▆▇█"
MOST_PARTS, LEAST_PERCENT = 3, 0.01
"""Parts of an expected error that are told, if they are as large as this."""
MOST_TAGS, MOST_LINES = 3, 8
"""Tags whose points are told, and the lines that these take up; two are told always."""
ROWS = 26
"""A page of a terminal; beyond it only the latest revision is told."""
LINE = 80
"""Columns of the narrowest terminal."""
TIED = "\N{NO-BREAK SPACE}"
CURVE = 600
"""Readings kept of one stay."""


@dataclass(slots=True)
class Trace:
    """What is kept of one stay.

    (t, kg shown) of its readings, when it settled, its revisions with their times, and what its weight rests on.
    """

    curve: list[tuple[float, float]] = field(default_factory=list)
    settled: float | None = None
    revisions: list[tuple[float, Weighing]] = field(default_factory=list)
    reckoned: Reckoned = NOT_RECKONED


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
    """Return why one weighing came out as it did."""
    weighing = trace.revisions[-1][1]
    span = case.span
    axis = _Axis(span.on - BEFORE_S, span.off + AFTER_S)
    lines = [
        *fold(f"Number {weighing.number}: {sum_up(weighing)}"),
        "",
        _row("seconds", _scale(axis, span)),
        _row("", axis.marks([span.on, span.off], "|")),
    ]
    lines += _weights(trace, weighing, axis)
    lines += fold(_reckoned(trace.reckoned)) if trace.reckoned.doubts else []
    shown = _shown(case)
    for candidate in shown:
        by_link: dict[str, list[Detection]] = {}
        for heard in candidate.one.heard:
            by_link.setdefault(heard.link, []).append(heard)
        for link, detections in by_link.items():
            marks = axis.marks([heard.t for heard in detections], "•")
            if marks.strip():
                lines.append(_row(f"…{str(candidate.one.code)[-6:]} {link}", marks))
    lines += ["", "What speaks for each tag, in points (3 are odds of 20 to 1, 7 of 1000 to 1):"]
    lines += [line for candidate in shown for line in _points(candidate)] or ["  no tag was heard near this stay"]
    if len(case.candidates) > len(shown):
        lines.append(f"  and {len(case.candidates) - len(shown)} more")
    lines += ["", *_decision(case, weighing)]
    lines += _history(trace, span, ROWS - len(lines))
    return [line.rstrip() for line in lines]


def sum_up(weighing: Weighing) -> str:
    """Return in short what a weighing came to."""
    kg = "no weight" if weighing.weight.kg is None else f"{weighing.weight.kg:g} kg ({weighing.weight.grade})"
    tag = f"tag {weighing.tag.code} {weighing.tag.national}" if weighing.tag else "no tag"
    flags = f", flagged {', '.join(weighing.flags)}" if weighing.flags else ""
    return f"{kg}, {tag}{flags}"


def fold(text: str) -> list[str]:
    """Break a long line of the page."""
    return wrap(text, LINE, subsequent_indent="    ", break_on_hyphens=False)


def _row(name: str, cells: str) -> str:
    return f"{name if len(name) <= NAME else f'{name[: NAME - 1]}…':{NAME}} {cells}"


def _scale(axis: _Axis, span: Span) -> str:
    """Write the seconds since stepping on along the axis, as many as fit."""
    step = next((s for s in (1, 2, 5, 10, 20, 30, 60, 120, 300, 600) if (axis.end - axis.start) / s <= WIDTH / 6), 1800)
    row = [" "] * WIDTH
    for n in range(-1, int((axis.end - span.on) / step) + 1):
        at = axis.column(span.on + n * step)
        if at is not None and at + len(mark := str(n * step)) <= WIDTH:
            row[at : at + len(mark)] = mark
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
        lines.append(_row(f"within 1 % of {kg:.5g}", plateau))
    if trace.settled is not None and (at := axis.column(trace.settled)) is not None:
        first = weighing.weight.first_kg
        said = f"first weight{f', {first:g} kg' if first is not None else ''}"
        fits = at + len(said) + 2 <= WIDTH
        lines.append(_row("settled", " " * at + f"^ {said}" if fits else f"{said} ^".rjust(at + 1)))
    return lines


def _reckoned(reckoned: Reckoned) -> str:
    """Return how far off the weight is expected to be, by what, and what came of the indicator's smoothing."""
    doubts, promised = reckoned.doubts, PROMISED_PERCENT["good"]
    assert doubts is not None, "something was weighed"
    parts = sorted(doubts.parts().items(), key=lambda part: -part[1])[:MOST_PARTS]
    made_of = ", ".join(f"{name} {percent:.2f}" for name, percent in parts if percent >= LEAST_PERCENT)
    told = f"error about {doubts.error_percent():.2f} %{f' ({made_of})' if made_of else ''}"
    told += f", over {promised:g} % in {100 * doubts.chance_beyond(promised):.1f} of 100"
    if doubts.zero_percent > 0:
        told += f"; {doubts.zero_percent:.1f} % may lie there unseen"
    if reckoned.limit in {"fair", "poor"}:
        told += f"; how it stood allows no better than {reckoned.limit}"
    if reckoned.delay_s:
        told += f"; the display, {reckoned.delay_s:.1f} s late, {'is undone' if reckoned.undone else 'had arrived'}"
    return told


def _points(candidate: Candidate) -> list[str]:
    """Write a tag's points and what they are made of, by reader; a part is not broken over two lines."""
    parts: dict[str, list[str]] = {}
    for name, points in sorted(candidate.score.parts.items(), key=lambda part: -abs(part[1])):
        link, _, said = name.rpartition(": ")
        parts.setdefault(link, []).append(f"{points:+.1f} {said}".replace(" ", TIED))
    told = "; ".join(f"{link}:{TIED}{', '.join(mine)}" if link else ", ".join(mine) for link, mine in parts.items())
    head = f"  {candidate.one.code}  {candidate.score.total:+6.1f}  "
    if candidate.elsewhere is not None:
        told += f"; it{TIED}is{TIED}number{TIED}{candidate.elsewhere}'s"
    lines = wrap(told, LINE, initial_indent=head, subsequent_indent=" " * len(head))
    return [line.replace(TIED, " ") for line in lines]


def _shown(case: Case) -> list[Candidate]:
    """Choose the candidates that fit on a page: the two that it was between, then those with most points."""
    chosen = sorted(case.candidates, key=lambda one: one.one.code not in {case.verdict.code, case.rival})[:MOST_TAGS]
    if sum(len(_points(one)) for one in chosen) > MOST_LINES:
        chosen = chosen[:2]
    return sorted(chosen, key=lambda one: -one.score.total)


def _decision(case: Case, weighing: Weighing) -> list[str]:
    """Return what decided; what a person said is told in their words."""
    visual = (weighing.animal or {}).get("visual")
    ear = f"visual number {visual}" if visual else ""
    if Flag.BY_PERSON in weighing.flags:
        tag = f"tag {weighing.tag.id}" if weighing.tag else "no tag"
        return fold(f"Decided: a person said so: {tag}{ear and f', {ear}'}.")
    doubt = ", with doubt" if Flag.TAG_DOUBTFUL in case.verdict.flags else ""
    sure = f" ({case.verdict.sure_percent:.1f} % sure)" if case.verdict.sure_percent is not None else ""
    lines = fold(f"Decided{doubt}: {case.verdict.rule}{sure}.")
    mine = max((one.score.total for one in case.candidates if one.elsewhere is None), default=0.0)
    if any(one.score.total > max(mine, 0.0) for one in case.candidates):
        lines.append("Tags are assigned so that all animals together have the most points.")
    if ear:
        lines += fold(f"A person said: {ear}.")
    return lines if case.margin == inf else lines + fold(_next_best(case))


def _next_best(case: Case) -> str:
    if case.margin == 0 and case.rival is None and case.taker is None:  # what is final of its neighbours decided
        return "Next best: another tag or none here, were the weighings beside it not final."
    here = f"{case.rival} here" if case.rival else "no tag here"
    there = f" and this one to number {case.taker}" if case.taker else ""
    return f"Next best: {here}{there}, {case.margin:.1f} points behind."


def _history(trace: Trace, span: Span, room: int) -> list[str]:
    """Describe the latest revisions in order, as many as there is room for, if there was more than one.

    The last is told also where there is none, its reason in one line.
    """
    lines: list[str] = []
    for t, weighing in reversed(trace.revisions if len(trace.revisions) > 1 else ()):
        tag = weighing.tag.id if weighing.tag else "no tag"
        told = [f"Revision {weighing.revision}, {max(0.0, t - span.off):.0f} s after it left: {tag}"]
        told += [f"    {part}" for part in wrap(f"because {weighing.why}", LINE - 4)] if weighing.why else []
        if lines and len(told) + len(lines) > room:
            break
        if len(told) > max(room, 2):
            told = [told[0], f"    {shorten(f'because {weighing.why}', LINE - 4, placeholder=' …')}"]
        lines = told + lines
    return lines
