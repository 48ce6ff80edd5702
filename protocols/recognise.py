"""A sample of what a device sends -> the framing and layout that fit it best, how sure that is, and why.

Three questions, in this order:

1. Does it look like text at all?  `score` says how printable, how repetitive and how readable a sample is.  With
   samples taken at several serial settings, `best_setting` takes the best, if it is clearly ahead.
2. Is it a tag reader's or a scale's?  Every built-in decoder reads the sample; what share of its frames it reads is its
   fit.  Built-in layouts shut each other out, so the best is clear unless the stream is mixed or damaged.
3. When none fits, or frames carry a check that none looks at, `draft` looks at what changes from frame to frame.

The answer is `sure` only with frames enough, one decoder clearly ahead, a weight that changed, and a stable mark that
agrees with it: frames called moving must change more than those called stable.  A draft is never sure, and neither is a
weight sent without a decimal point, since a point that is not sent cannot be known from the bytes.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from neckyoke.protocols.framing.framer import make_framer
from neckyoke.protocols.recognition.candidates import AUTO, Trial, fits, try_all, try_tags
from neckyoke.protocols.recognition.doubts import NO_POINT, SURENESS, Doubt, find_doubts, least_sure
from neckyoke.protocols.recognition.drafting.check import UNREAD_BEHIND, find_check_behind
from neckyoke.protocols.recognition.drafting.proposal import further, propose, unknown, with_decimals
from neckyoke.protocols.recognition.finding import Finding, Kind, Part, Sure
from neckyoke.protocols.recognition.strangers import find_strangers, find_tags_beside, outline
from neckyoke.protocols.recognition.words import find_parts, find_words
from neckyoke.protocols.scale.builtin import BUILT_IN
from neckyoke.protocols.scale.layout import Parity
from neckyoke.protocols.scale.parity import holds, strip_table
from neckyoke.protocols.tagcode import HexOrder, Remark

__all__ = [
    "SAMPLE",
    "BestSetting",
    "Finding",
    "Kind",
    "Part",
    "Sure",
    "best_setting",
    "find_parity",
    "recognise",
    "score",
]

SAMPLE: Final = 16384
"""Bytes looked at: some twenty seconds of a fast indicator."""
ENOUGH: Final = 20
"""Frames of a scale that make an answer sure; a reader's codes prove themselves, so few are enough."""
ENOUGH_TAGS: Final = 3
ANOTHER: Final = 0.1
"""Share of frames read by something else that says that two devices speak."""
CLEAR: Final = 0.1
"""How far the best serial setting's score must be ahead."""

_TWO_DEVICES: Final = "{0} reads {1:.0%} as well: perhaps two devices speak on this line."
_TEXT: Final = frozenset(bytes(range(0x20, 0x7F)) + b"\t\r\n\x02\x03\x0c")


@dataclass(frozen=True, slots=True)
class BestSetting:
    """The serial setting whose sample reads best.  `setting` is None when none is clearly ahead."""

    setting: str | None
    scores: Mapping[str, float]
    finding: Finding


def score(sample: bytes) -> float:
    """Return from 0 to 1 how much a sample looks like a device's text: printable, repetitive, and readable.

    The wrong baud rate or parity garbles a repetitive stream into another repetitive stream, so what counts most is
    that frames are read.
    """
    sample = _seven_bits(sample[:SAMPLE])
    frames = _frames(sample)
    if not frames:
        return 0.0
    text = sum(byte in _TEXT for byte in sample) / len(sample)
    outlines = Counter(map(outline, frames))
    repeats = outlines.most_common(1)[0][1] / len(frames)
    read = try_all(sample)[0].share
    return round(text * (0.3 + 0.1 * repeats + 0.6 * read), 4)


def best_setting(samples: Mapping[str, bytes]) -> BestSetting:
    """Take the best of samples taken at several serial settings, and say what it is.

    Sample with eight data bits and no parity at each baud rate: seven bits and parity then show in the highest bit,
    whereas a port set to seven bits delivers the same text whichever parity is right.  Settings that give the same
    finding are one; the first of them is taken.
    """
    scores = {setting: score(sample) for setting, sample in samples.items()}
    ranked = sorted(scores, key=lambda setting: -scores[setting])
    if not ranked:
        return BestSetting(None, scores, recognise(b""))
    finding = recognise(samples[ranked[0]])
    rivals = [setting for setting in ranked[1:] if scores[setting] > scores[ranked[0]] - CLEAR]
    if finding.sure is Sure.UNSURE or any(recognise(samples[rival]) != finding for rival in rivals):
        return BestSetting(None, scores, replace(finding, sure=Sure.UNSURE))
    return BestSetting(ranked[0], scores, finding)


def recognise(sample: bytes) -> Finding:
    """Return what a sample is.  Never raises; when unsure it says so."""
    sample = sample[:SAMPLE]
    parity = find_parity(sample)
    if parity is None:
        return _recognise(sample)
    finding = _recognise(sample.translate(strip_table(parity)))
    remedy = f"The bytes carry {parity} parity: set bits=7 and parity={parity} on the port if you can."
    finding = replace(finding, parity=parity, doubts=(*finding.doubts, remedy))
    if finding.kind is Kind.SCALE and finding.layout != AUTO:
        table = {**(finding.table or {"like": finding.layout}), "parity": parity}
        return replace(finding, layout="own", table=table)
    return replace(finding, sure=Sure.UNSURE)


def find_parity(sample: bytes) -> Parity | None:
    """Find the parity of seven-bit text seen through an eight-bit port; None for plain text and for noise."""
    if sum(byte >= 0x80 for byte in sample) * 10 < len(sample) or not sample:
        return None
    kinds: tuple[Parity, ...] = ("even", "odd", "mark")
    for parity in kinds:
        if sum(holds(byte, parity) and (byte & 0x7F) in _TEXT for byte in sample) >= 0.95 * len(sample):
            return parity
    return None


def _seven_bits(sample: bytes) -> bytes:
    """Take the parity off, where there is one."""
    parity = find_parity(sample)
    return sample.translate(strip_table(parity)) if parity else sample


def _frames(sample: bytes) -> list[bytes]:
    return [piece for piece in make_framer("auto").feed(sample) if isinstance(piece, bytes)]


def _recognise(sample: bytes) -> Finding:
    trials = [trial for trial in try_all(sample) if trial.frames]
    if not trials:
        what = "Bytes came, but no frame ended." if sample else "Nothing came."
        return Finding(
            Kind.UNKNOWN, Sure.UNSURE, (what,), ("Check the baud rate, and that the device sends by itself.",)
        )
    best = trials[0]
    if fits(best) and best.tags:
        return _reader(sample, best, trials[1:])
    frames = _frames(sample)
    behind = find_check_behind(sample)
    if behind or not fits(best):
        finding = propose(sample, frames, trials, behind)
        if finding or not fits(best):
            return finding or unknown(frames, best)
    finding = _scale(best, trials[1:], [UNREAD_BEHIND] if behind else [])
    unread = any(doubt.text in finding.doubts for doubt in find_strangers(best))
    if unread and (more := further(sample, frames, trials)):
        return more
    return with_decimals(finding, sample, frames, best) if NO_POINT.text in finding.doubts else finding


def _reader(sample: bytes, best: Trial, others: Sequence[Trial]) -> Finding:
    """Describe a tag reader; find out in which order it spells hexadecimal digits."""
    reads = best.tags
    why = [f"{len(reads)} of {len(best.frames)} frames are tag codes, the first {reads[0].code}."]
    doubts: list[str] = []
    order: HexOrder | None = None
    other = try_tags(sample, "air")
    sure = Sure.SURE if len(reads) >= ENOUGH_TAGS else Sure.LIKELY
    if [read.code for read in other.tags] != [read.code for read in reads]:
        here, there = _ordinary(best), _ordinary(other)
        order = "value" if here > there else "air"
        best = best if here > there else other
        why.append(f"Its 16 hexadecimal digits make ordinary codes in {order} order ({max(here, there):.0%} of them).")
        if max(here, there) < 0.9 or min(here, there) > 0.1:
            sure = Sure.UNSURE
            doubts.append("In which order the digits stand is not clear: compare a code with the tag's print.")
    beside = _rivals(others) or find_strangers(best)
    return Finding(
        Kind.READER,
        min(sure, least_sure(beside), key=SURENESS.index),
        tuple(why),
        (*doubts, *(doubt.text for doubt in beside)),
        hex_order=order,
        example=best.example(),
        frames=len(best.frames),
        fit=best.share,
    )


def _ordinary(trial: Trial) -> float:
    """Share of the tag reads whose code is an animal's without oddities, or a test transponder's."""
    codes = [read.code for read in trial.tags]
    fine = [code for code in codes if not set(code.remarks()) - {Remark.TEST_CODE} and not (code.retag or code.user)]
    return len(fine) / len(codes) if codes else 0.0


def _scale(best: Trial, others: Sequence[Trial], known: Sequence[Doubt]) -> Finding:
    """Describe a scale read by a built-in layout or the free-form one; look for what speaks against it."""
    why = [f"Layout {best.name} reads {best.share:.0%} of {len(best.frames)} frames."]
    if best.name != AUTO:
        why.append(f"Source of this shape: {BUILT_IN[best.name].source}.")
    doubts = [*known, *find_doubts(best.readings)]
    if len(best.readings) < ENOUGH:
        doubts.append(Doubt(f"Only {len(best.readings)} frames were read: listen for longer."))
    tags = [doubt for trial in others if trial.tags for doubt in find_tags_beside(best, trial)]
    doubts += tags or ([] if best.name == AUTO else _rivals(others)) or find_strangers(best)
    return Finding(
        Kind.SCALE,
        least_sure(doubts),
        tuple(why + _words(best)),
        tuple(doubt.text for doubt in doubts),
        layout=best.name,
        example=best.example(),
        parts=find_parts(best),
        words=find_words(best),
        frames=len(best.frames),
        fit=best.share,
    )


def _rivals(others: Sequence[Trial]) -> list[Doubt]:
    """Return a doubt when another layout than `auto` reads a good part of the frames too."""
    rivals = [trial for trial in others if trial.name != AUTO and trial.readings and trial.share >= ANOTHER]
    return [Doubt(_TWO_DEVICES.format(rival.name, rival.share), Sure.UNSURE) for rival in rivals[:1]]


def _words(trial: Trial) -> list[str]:
    """Return what the frames were found to say, with counts."""
    readings = trial.readings
    units = sorted({reading.unit for reading in readings})
    said = Counter(reading.stable for reading in readings)
    lines = [f"Unit: {', '.join(units)}."]
    if said[True] or said[False]:
        lines.append(f"Stable in {said[True]} frames, moving in {said[False]}.")
    else:
        lines.append("It does not say when the weight is stable; that is judged from the weights.")
    return lines
