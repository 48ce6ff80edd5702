"""Turn the assignment and its margin into one stay's verdict, and keep how it came about.

assigned    chance that it is wrong (doubt.py)    verdict
a tag       `doubt_percent` or less               the tag
a tag       more                                  the tag, flagged tag-doubtful
a tag       any, heard in ROAMS stays or more     the tag, flagged tag-doubtful: as one in the next pen is
a tag       margin less than FITS, over a tag     no tag, flagged two-tags
            (by hand: less likely than LIKELY)
no tag      (some tag was heard)                  no tag, flagged no-tag and tag-elsewhere
no tag      (none was heard)                      no tag, flagged no-tag
a person's word                                   as they said, flagged by-person
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor, inf

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.doubt import NOTHING, is_between, wrong_percent
from neckyoke.bridge.station.tags.readers.closer import Around, soon_again
from neckyoke.bridge.station.tags.readers.detections import Pass, Span, during
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.protocols.tagcode import TagCode

CLEAR = 4.5
FITS, LIKELY = 1.2, 0.3
THIN = 0.3
ROAMS = 4
SURENESS, STALE = (50.0, 90.0, 97.0, 99.0, 99.5), 3.0
"""What was said of how sure a tag is, in percent, is said anew when final: if one of these lies between, and the chance
of a wrong one is so many times what was said, or so many times less."""
SAID = "a person said so"
ALONE = "one animal fits between the reader ahead and the platform, and it alone came past"
BETWEEN = "it came past the reader ahead in its turn, and both neighbours were heard at the platform in theirs"
STEADY = "it came past the reader ahead as long before its first foot as usual"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is held of one stay.  `seen` counts tags heard in it; `rule` is the line of the table that decided.

    `both`: the two that fit, where neither is clearly ahead.
    """

    number: int
    code: TagCode | None
    link: str | None = None
    reads: int = 0
    flags: tuple[Flag, ...] = ()
    seen: int = 0
    rule: str = ""
    final_at: float | None = None  # None: final
    sure_percent: float | None = None  # None: no tag, or a person's word
    both: tuple[TagCode, ...] = ()
    shared: bool = False  # with a neighbour, whose animal it may be (shared.py)


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
    doubt_percent: float,
    around: Around = NOTHING,
) -> Verdict:
    """Find the line of the table for one stay.

    `score`: of the pass it got; a tag more likely wrong than `doubt_percent` is flagged.  `around`: what
    the stays beside it got, and what a closer look rests on.
    """
    span = spans[at]
    seen = _seen(passes, span)
    if got.tag is None:
        flags = (Flag.NO_TAG, *([Flag.TAG_ELSEWHERE] if seen else []))
        rule = "the tag heard here belongs elsewhere" if seen else "no tag was heard"
        return Verdict(span.number, None, flags=flags, seen=seen, rule=rule)
    one = passes[got.tag]
    near = one.near
    if near and got.rival is not None and not is_given(got, score):
        both = one.code, passes[got.rival].code
        rule = f"{both[0]} and {both[1]} both fit, neither is clearly ahead"
        return Verdict(span.number, None, flags=(Flag.TWO_TAGS,), seen=seen, rule=rule, both=both)
    mine = during(near, span) or near or one.heard
    alone = not near and score is not None and score.alone
    steady = not near and score is not None and score.timed and got.margin >= CLEAR
    wrong = wrong_percent(at, spans, passes, got, score, models, around, steady=steady or alone)
    doubtful = wrong > doubt_percent or _roams(got.tag, spans, passes) >= ROAMS
    between = not one.near and is_between(at, spans, passes, around.given)
    sure = ALONE if alone else STEADY if steady else BETWEEN if between else "one tag is clearly ahead"
    return Verdict(
        span.number,
        one.code,
        max(mine, key=lambda heard: heard.reads).link,
        sum(heard.reads for heard in mine),
        (Flag.TAG_DOUBTFUL,) if doubtful else (),
        seen,
        _doubt(at, spans, passes, got, score, models) if doubtful else sure,
        sure_percent=sure_percent(wrong),
    )


def is_given(got: Assigned, score: Score | None) -> bool:
    """Return whether an assigned pass is given too: one that is hardly ahead of another would be a guess."""
    unclear = got.margin < FITS if score is None or score.chance is None else score.chance < LIKELY
    return not unclear or got.rival is None


def sure_percent(wrong: float) -> float:
    """Return the chance that a tag is right, in percent: to a tenth, rounded down, and never all of it."""
    return min(99.9, floor(10 * (100 - wrong)) / 10)


def is_stale(said: Verdict, now: Verdict) -> bool:
    """Return whether a tag is clearly surer, or less sure, than was said of it."""
    if said.sure_percent is None or now.sure_percent is None:
        return False
    wrong, rather = sorted((100 - said.sure_percent, 100 - now.sure_percent))
    across = bisect_right(SURENESS, said.sure_percent) != bisect_right(SURENESS, now.sure_percent)
    return across and rather >= STALE * wrong


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
    at: int,
    spans: Sequence[Span],
    passes: Sequence[Pass],
    got: Assigned,
    score: Score | None,
    models: Mapping[str, ReaderModel],
) -> str:
    """Return what speaks most against a tag that is in doubt."""
    assert got.tag is not None, "a tag was given"
    near = passes[got.tag].near
    if not near:
        return "heard only ahead of the platform: by its place in the queue"
    roams = _roams(got.tag, spans, passes)
    if roams >= ROAMS:
        return f"it was heard in {roams} stays, as a tag in the next pen is"
    if score is not None and score.owner is not None:
        return f"by the order in which tags were read: number {spans[score.owner].number} may be its owner"
    if got.taker is not None:
        untagged = "had no tag and " if got.taker_untagged else ""
        return f"number {spans[got.taker].number} {untagged}may be its owner"
    if all(heard.position == "platform" for heard in near):
        span = spans[at]
        share, usual = heard_slots(during(near, span), span) / slots(span), models[near[0].link].share
        if share < THIN * usual:
            return f"heard in {100 * share:.0f} % of the stay, where {100 * usual:.0f} % is usual"
    return "it fits, but the evidence is thin"


def _roams(of: int, spans: Sequence[Span], passes: Sequence[Pass]) -> int:
    """Count the stays in which a tag was heard, one pass or two: it is silent through one, and heard in the next."""
    every = [passes[at].near for at in (of, *soon_again(of, passes))]
    return sum(1 for span in spans if any(during(near, span, slack=False) for near in every))


def _seen(passes: Sequence[Pass], span: Span) -> int:
    """Count the tags heard in a stay, but for those that only passed ahead."""
    return sum(1 for one in passes if during(one.near, span, slack=False))
