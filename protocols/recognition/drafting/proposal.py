"""What to say of a sample that no built-in layout reads, or not all of, or not so that it can be corrected by hand."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from neckyoke.protocols.readings import Reject, WeightReading
from neckyoke.protocols.recognition.candidates import AUTO, Trial
from neckyoke.protocols.recognition.doubts import (
    DECIMALS,
    NO_POINT,
    SURENESS,
    TAKE_MARK,
    Doubt,
    falls_deep,
    find_doubts,
    least_sure,
)
from neckyoke.protocols.recognition.drafting.check import Checked
from neckyoke.protocols.recognition.drafting.draft import BRACKETS, draft, is_bracketed
from neckyoke.protocols.recognition.drafting.sketch import Draft
from neckyoke.protocols.recognition.finding import Finding, Kind, Sure
from neckyoke.protocols.recognition.strangers import find_strangers, find_tags_beside
from neckyoke.protocols.recognition.words import find_parts, find_words
from neckyoke.protocols.scale.freeform import KNOWN_WORDS

FURTHER: Final = 0.05
"""Share of the frames that a draft must read more than a layout, to be taken for it."""
DAMAGED: Final = 0.02
"""Share of the frames that it may read otherwise: no two decoders make the same of a damaged one."""
AS_MANY: Final = 0.9
"""Share of the frames read by a layout that a draft must read, to be taken for it without need."""

_WORD: Final = re.compile(rb"(?<![A-Za-z])[A-Za-z]{2,}")
_DEEP: Final = Doubt("Many weights are far below nought: what was taken for a minus may be another mark.", Sure.UNSURE)
_THE_SAME: Final = "The layout below was drafted to read the same, so that decimals can be added to it."


def propose(sample: bytes, frames: Sequence[bytes], trials: Sequence[Trial], behind: Checked | None) -> Finding | None:
    """Draft a layout, and say what it reads; None when none can be drafted.  `behind` are checks behind the ETX."""
    found = draft(sample, frames, behind)
    return _beside(_told(*found), found[1], trials) if found else None


def unknown(frames: Sequence[bytes], best: Trial) -> Finding:
    """Return how far the nearest layout gets."""
    came = max(len(frames), len(best.frames))
    read = sum(not isinstance(outcome, Reject) for _, outcome in best.frames)
    why = f"{came} frames came; the nearest layout, {best.name}, reads {read} of them."
    return Finding(
        Kind.UNKNOWN,
        Sure.UNSURE,
        (why if read else f"{came} frames came, and no layout reads any of them.",),
        (
            *([BRACKETS] if is_bracketed(frames) else []),
            "Check baud rate and parity; send a sample to the maintainers, or write a layout (DEVELOPERS.md).",
        ),
        example=best.example() or next(iter(frames), b""),
        frames=came,
        fit=min(1.0, read / came),
    )


def with_decimals(finding: Finding, sample: bytes, frames: Sequence[bytes], best: Trial) -> Finding:
    """Return a table to which the decimals that are not sent can be added; for `auto`, one that reads the same."""
    if best.name != AUTO:
        return replace(finding, layout="own", table={"like": best.name}, hints=DECIMALS)
    found = draft(sample, frames)
    if found and _agree(best, found[1]) and len(found[1].readings) >= AS_MANY * len(best.readings):
        told = _told(*found)
        sure = min(told.sure, finding.sure, key=SURENESS.index)
        doubts = tuple(dict.fromkeys((*told.doubts, *finding.doubts)))
        return replace(told, sure=sure, why=(*finding.why, _THE_SAME), doubts=doubts)
    by_hand = NO_POINT.text.replace(TAKE_MARK, "write a layout of your own (DEVELOPERS.md) with")
    return replace(finding, doubts=tuple(by_hand if text == NO_POINT.text else text for text in finding.doubts))


def further(sample: bytes, frames: Sequence[bytes], trials: Sequence[Trial]) -> Finding | None:
    """Draft a layout for what the best decoder leaves unread too.

    None unless it reads the rest just as that does, and what it reads more says nothing new: that may be an alarm.
    """
    best = trials[0]
    found = draft(sample, frames)
    if found is None or len(found[1].readings) < len(best.readings) + FURTHER * len(best.frames):
        return None
    new = _letters(found[1]) - _letters(best) - {word.encode() for word in KNOWN_WORDS}
    return _beside(_told(*found), found[1], trials) if _agree(best, found[1]) and not new else None


def _letters(trial: Trial) -> set[bytes]:
    """Return the words of the frames that are read, in capitals."""
    read = (frame for frame, outcome in trial.frames if isinstance(outcome, WeightReading))
    return {word.upper() for frame in read for word in _WORD.findall(frame)}


def _agree(best: Trial, other: Trial) -> bool:
    """Return whether two decoders make the same weights of the same frames, and call none moving that is stable."""
    known = {frame: outcome for frame, outcome in best.frames if isinstance(outcome, WeightReading)}
    differ = [
        frame
        for frame, outcome in other.frames
        if isinstance(outcome, WeightReading)
        and (one := known.get(frame))
        and (one.kg != outcome.kg or (one.stable is not None and one.stable is not outcome.stable))
    ]
    return len(differ) <= DAMAGED * len(best.frames)


def _told(drafted: Draft, trial: Trial) -> Finding:
    """Return what a drafted layout makes of the sample."""
    deep = [_DEEP] if falls_deep(trial.readings) else []
    doubts = (*drafted.doubts, *find_doubts(trial.readings), *deep, *find_strangers(trial))
    return Finding(
        Kind.SCALE,
        least_sure(doubts),
        (f"A layout drafted from the frames reads {trial.share:.0%} of {len(trial.frames)}.",),
        tuple(doubt.text for doubt in doubts),
        layout="own",
        table=drafted.table,
        hints=(*drafted.hints, *(DECIMALS if NO_POINT in doubts else ())),
        example=trial.example(),
        parts=find_parts(trial),
        words=find_words(trial),
        frames=len(trial.frames),
        fit=trial.share,
    )


def _beside(finding: Finding, trial: Trial, others: Sequence[Trial]) -> Finding:
    """Add a reader that speaks on the line too."""
    tags = [doubt for other in others if other.tags for doubt in find_tags_beside(trial, other)]
    if not tags:
        return finding
    return replace(finding, sure=least_sure(tags), doubts=(*finding.doubts, *(doubt.text for doubt in tags)))
