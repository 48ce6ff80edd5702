"""A layout for frames that no built-in layout reads, or none all of: drafted in every way there is, and tried out.

A way of drafting finds something in most samples.  What counts is how much of the sample the layout then reads; of
several that read as much the plainer one is taken.  A draft is a proposal: it is never sure.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from neckyoke.protocols.recognition.candidates import Trial, fits, try_layout
from neckyoke.protocols.recognition.doubts import CLEARLY, Doubt, find_doubts, jumps, least_sure, roughness
from neckyoke.protocols.recognition.drafting.check import Checked, find_check_within
from neckyoke.protocols.recognition.drafting.columns import induce_columns, induce_unmarked
from neckyoke.protocols.recognition.drafting.numbers import induce_numbers, parts_thousands
from neckyoke.protocols.recognition.drafting.sketch import RARE, Draft
from neckyoke.protocols.recognition.finding import Sure
from neckyoke.protocols.scale.builtin import LayoutError, layout_from_table

NEARLY: Final = 0.05
"""Share of the frames that a less plain way of drafting must read more, for it passes damaged ones."""

BRACKETS: Final = "Brackets stand around numbers.  They may mean a minus, so nothing is drafted: see when they come."
THOUSANDS: Final = Doubt("The comma is taken to part thousands: compare with the display.")
FORWARDS: Final = (
    "As some frames of = and a number, these may send the last digit first: compare with the display; if they do"
)
BACKWARDS: Final = "As some frames of = and a number, these seem to send the last digit first: compare; if they do"

_BRACKETED: Final = re.compile(rb"\( *[+-]?[ 0-9.,]*[0-9.,] *\)")
_EQUALS: Final = re.compile(r"(?: \*)?=(?: [*+])?\(\?P<value>[^P]*\)(?: \*)?")


def is_bracketed(frames: Sequence[bytes]) -> bool:
    """Return whether brackets stand around numbers, as they do around negative ones in accounts."""
    return sum(bool(_BRACKETED.search(frame)) for frame in frames) > RARE * len(frames)


def draft(sample: bytes, frames: Sequence[bytes], behind: Checked | None = None) -> tuple[Draft, Trial] | None:
    """Draft a layout that reads the sample, and read it; None when none does.  `behind` are checks behind the ETX."""
    if is_bracketed(frames):
        return None
    ways = list(_checked(behind)) if behind else [*_ways(frames), *filter(None, [induce_unmarked(sample)])]
    if parts_thousands(frames):
        ways = [replace(way, table={**way.table, "thousands": ","}, doubts=(*way.doubts, THOUSANDS)) for way in ways]
    tried = [(way, trial) for way in ways if (trial := _try(sample, way.table))]
    if not tried:
        return None
    likely = [one for one in tried if _sure(*one) is not Sure.UNSURE] or tried
    most = max(trial.share for _, trial in likely)
    return _in_order(sample, *next(one for one in likely if one[1].share > most - NEARLY))


def _ways(frames: Sequence[bytes]) -> Iterator[Draft]:
    """Draft in every way, the plainest first."""
    checked = find_check_within(frames)
    if checked:
        yield from _checked(checked)
    if not checked or checked.checksum is None:
        yield from _plain(frames)


def _checked(checked: Checked) -> Iterator[Draft]:
    yield from map(checked.covering, _plain(checked.bodies))


def _plain(frames: Sequence[bytes]) -> Iterator[Draft]:
    yield from filter(None, (induce_columns(frames), induce_numbers(frames)))


def _try(sample: bytes, table: Mapping[str, Any]) -> Trial | None:
    """Read the sample by a drafted layout; None when it does not fit after all."""
    try:
        trial = try_layout(sample, layout_from_table("own", table))
    except LayoutError:
        return None
    return trial if fits(trial) else None


def _sure(drafted: Draft, trial: Trial) -> Sure:
    return least_sure((*drafted.doubts, *find_doubts(trial.readings)))


def _in_order(sample: bytes, drafted: Draft, trial: Trial) -> tuple[Draft, Trial]:
    """Find out in which order the digits come, where that is a question."""
    equals = bool(_EQUALS.fullmatch(drafted.table["pattern"]))
    if not equals and not jumps(trial.readings):
        return drafted, trial
    table = {**drafted.table, "backwards": True}
    turned = _try(sample, table)
    if not (turned or equals):
        return drafted, trial
    here = roughness(trial.readings)
    there = roughness(turned.readings) if turned else float("inf")
    at_most = Sure.LIKELY if max(here, there) > CLEARLY * min(here, there) else Sure.UNSURE
    if turned and there < here:
        doubts = (*drafted.doubts, Doubt(f"{BACKWARDS} not, take out backwards = true.", at_most))
        return replace(drafted, table=table, doubts=doubts), turned
    doubts = (*drafted.doubts, Doubt(f"{FORWARDS}, take the # from backwards = true.", at_most))
    return replace(drafted, doubts=doubts, hints=("backwards = true",)), trial
