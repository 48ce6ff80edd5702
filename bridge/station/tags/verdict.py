"""Turn the assignment and its margin into one stay's verdict, and keep how it came about.

assigned    margin                                verdict
a tag       CLEAR or more                         the tag
a tag       CLEAR or more, but less of it heard   the tag, flagged tag-doubtful
than THIN of what is usual
a tag       any, heard in ROAMS stays or more     the tag, flagged tag-doubtful: as one in the next pen is
a tag       CLEAR or more, heard only ahead, but  the tag
a steady time before the first foot
a tag       any, heard only ahead                 the tag, flagged tag-doubtful: order alone can be upset unseen
a tag       less than SURE, read only by hand     the tag, flagged tag-doubtful: so can a person's order
a tag       FITS or more                          the tag, flagged tag-doubtful
a tag       less, and the rival is a tag          no tag, flagged two-tags
a tag       less, and the rival is no tag         the tag, flagged tag-doubtful
no tag      (some tag was heard)                  no tag, flagged no-tag and tag-elsewhere
no tag      (none was heard)                      no tag, flagged no-tag
a person's word                                   as they said, flagged by-person
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span, during
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.protocols.tagcode import TagCode

CLEAR, SURE = 4.5, 6.4
FITS = 1.2
THIN = 0.3
ROAMS = 4
SAID = "a person said so"
STEADY = "it came past the reader ahead as long before its first foot as usual"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is held of one stay.  `seen` counts tags heard in it; `rule` is the line of the table that decided."""

    number: int
    code: TagCode | None
    link: str | None = None
    reads: int = 0
    flags: tuple[Flag, ...] = ()
    seen: int = 0
    rule: str = ""
    final_at: float | None = None  # None: final


@dataclass(frozen=True, slots=True)
class Candidate:
    """For the explanation: one pass, its score, and the number of the other stay that has it, if one does."""

    one: Pass
    score: Score
    elsewhere: int | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """For the explanation: how one verdict came about.

    In the next best assignment, `margin` points behind, the stay gets `rival`, and the stay numbered `taker` its tag.
    """

    span: Span
    candidates: tuple[Candidate, ...]
    margin: float
    rival: TagCode | None
    taker: int | None
    verdict: Verdict

    @classmethod
    def of(
        cls,
        spans: Sequence[Span],
        at: int,
        passes: Sequence[Pass],
        scores: Mapping[int, Score],
        held: Mapping[int, int],
        got: Assigned | None,
        verdict: Verdict,
    ) -> "Case":
        """Make it of the score of each pass at one stay.

        `held`: the number of the stay that has each pass.  `got` is None when a person had the word.
        """
        candidates = [
            Candidate(passes[of], score, held.get(of) if held.get(of) != spans[at].number else None)
            for of, score in scores.items()
        ]
        candidates.sort(key=lambda one: -one.score.total)
        if got is None:
            return cls(spans[at], tuple(candidates), inf, None, None, verdict)
        rival = None if got.rival is None else passes[got.rival].code
        taker = None if got.taker is None else spans[got.taker].number
        return cls(spans[at], tuple(candidates), got.margin, rival, taker, verdict)


def judge(
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
    lost: tuple[Flag, ...],
    final_at: float | None,
) -> Verdict:
    """Find the line of the table for one stay.

    `score`: of the pass it got; `lost`: the flag to add when no reader could hear all of it.
    """
    span = spans[at]
    seen = _seen(passes, span)
    if got.tag is None:
        flags = (Flag.NO_TAG, *([Flag.TAG_ELSEWHERE] if seen else []), *lost)
        rule = "the tag heard here belongs elsewhere" if seen else "no tag was heard"
        return Verdict(span.number, None, flags=flags, seen=seen, rule=rule, final_at=final_at)
    one = passes[got.tag]
    near = one.near
    if near and got.margin < FITS and got.rival is not None:
        rule = f"{one.code} and {passes[got.rival].code} both fit, neither is clearly ahead"
        return Verdict(span.number, None, flags=(Flag.TWO_TAGS, *lost), seen=seen, rule=rule, final_at=final_at)
    mine = during(near, span) or near or one.heard
    timed = score is not None and score.timed
    doubtful, rule = _doubt(got, at, spans, near, models, timed=timed)
    return Verdict(
        span.number,
        one.code,
        max(mine, key=lambda heard: heard.reads).link,
        sum(heard.reads for heard in mine),
        (Flag.TAG_DOUBTFUL, *lost) if doubtful else (),
        seen,
        rule,
        final_at,
    )


def by_person(number: int, code: TagCode | None, span: Span | None = None, passes: Sequence[Pass] = ()) -> Verdict:
    """Return a person's word as a verdict; what was heard of the tag is counted when the stay is still at hand."""
    mine = [heard for one in passes if span and one.code == code for heard in during(one.heard, span)]
    return Verdict(
        number,
        code,
        mine[-1].link if mine else None,
        sum(heard.reads for heard in mine),
        (Flag.BY_PERSON,) if code is not None else (Flag.NO_TAG, Flag.BY_PERSON),
        seen=_seen(passes, span) if span else 0,
        rule=SAID,
    )


def _doubt(
    got: Assigned,
    at: int,
    spans: Sequence[Span],
    near: Sequence[Detection],
    models: Mapping[str, ReaderModel],
    *,
    timed: bool,
) -> tuple[bool, str]:
    """Return whether an assigned tag is doubtful, and why."""
    if not near:
        steady = timed and got.margin >= CLEAR
        return not steady, STEADY if steady else "heard only ahead of the platform: by its place in the queue"
    if got.margin < (CLEAR if any(heard.position == "platform" for heard in near) else SURE):
        if got.taker is None:
            return True, "it fits, but the evidence is thin"
        untagged = "had no tag and " if got.taker_untagged else ""
        return True, f"number {spans[got.taker].number} {untagged}may be its owner"
    roams = sum(1 for span in spans if during(near, span, slack=False))
    if roams >= ROAMS:
        return True, f"it was heard in {roams} stays, as a tag in the next pen is"
    if all(heard.position == "platform" for heard in near):
        span = spans[at]
        share, usual = heard_slots(during(near, span), span) / slots(span), models[near[0].link].share
        if share < THIN * usual:
            return True, f"heard in {100 * share:.0f} % of the stay, where {100 * usual:.0f} % is usual"
    return False, "one tag is clearly ahead"


def _seen(passes: Sequence[Pass], span: Span) -> int:
    """Count the tags heard in a stay, but for those that only passed ahead."""
    return sum(1 for one in passes if during(one.near, span, slack=False))
