"""One tag for two stays: an animal that stepped off the platform and came on again.

Passes are dealt to stays so that no read can speak for two; but where one follows the other soon and weighs the same,
both may be one animal's, whose tag is heard all along, and whichever stay got the pass leaves the other without a tag.
It has the same one, in doubt, where that was heard for half of it, and no other tag was: an animal that weighs the same
as the one before it, and whose own tag is dead, would look the same while that one lingers.  A person who has spoken of
either has looked: nothing is shared then; nor where they said that the second is another animal.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span, during
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.stays import OpenStay
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

HEARD, LEAST = 0.5, 2
"""It was heard for this share of the seconds of the stay, and in so many of them."""

ANOTHER = "a person said that it is another animal than the one whose tag was heard"
SURE_PERCENT = 95.0
"""How sure such a tag is said to be, by hand: of those in tests/bench/came_back.py all were right."""


def share(
    stays: Sequence[OpenStay], spans: Sequence[Span], passes: Sequence[Pass], verdicts: dict[int, Verdict]
) -> None:
    """Let two stays that may be one animal's (`again`) have the tag that one of them has.

    Where they are not (`apart`) it is the first one's: the second was asked about with it, and is not that one.
    """
    for stay in stays:
        stay.shared = stay.shared and stay.number not in verdicts
    for at in range(1, len(stays)):
        one, two = stays[at - 1], stays[at]
        found, dealt = _shared(at, stays, spans, passes, verdicts), verdicts.get(two.number)
        if found is not None and not two.apart:
            found[0].shared, verdicts[found[0].number] = True, found[1]
        elif found is not None and found[0] is two:
            two.parted = found[1], True
        elif two.apart and dealt is not None and dealt.code is not None and not one.word and not two.word:
            if found is not None:
                verdicts[one.number] = replace(found[1], shared=False, rule=ANOTHER)
            elif not one.shared or one.code != dealt.code:
                continue
            two.parted, verdicts[two.number] = (dealt, False), bare(dealt)


def _shared(
    at: int, stays: Sequence[OpenStay], spans: Sequence[Span], passes: Sequence[Pass], verdicts: Mapping[int, Verdict]
) -> tuple[OpenStay, Verdict] | None:
    """Return which of two stays, the second at `at`, has no tag where the other's was alone heard, and that as its."""
    one, two = stays[at - 1], stays[at]
    codes = _code(one, verdicts), _code(two, verdicts)
    if not two.again or two.number != one.number + 1 or (codes[0] is None) == (codes[1] is None):
        return None
    bare_at, code = (at, codes[0]) if codes[1] is None else (at - 1, codes[1])
    stay, verdict = stays[bare_at], verdicts.get(stays[bare_at].number)
    if code is None or verdict is None or one.word or two.word or Flag.TWO_TAGS in verdict.flags:
        return None
    if (heard := _alone(code, spans[bare_at], passes)) is None:
        return None
    other = (one if stay is two else two).number
    return stay, replace(
        verdict,
        code=code,
        link=heard[-1].link,
        reads=sum(one.reads for one in heard),
        flags=(Flag.TAG_DOUBTFUL,),
        sure_percent=SURE_PERCENT,
        shared=True,
        rule=f"no other tag was heard, and it weighs what number {other} weighs: it may have come on again",
    )


def set_apart(stays: Sequence[OpenStay], number: int, *, another: bool) -> list[Verdict]:
    """Take that a stay is of another animal than the one before it, or no more; return what that changes of final ones.

    Those that are not final are decided anew (`share`).
    """
    stay = next((one for one in stays if one.number == number), None)
    if stay is None:
        return []
    stay.apart, held = another, stay.verdict
    if not stay.closed or stay.word or held is None:
        return []
    one = next((one for one in stays if one.number == number - 1), None)
    if another and are_shared(one.verdict if one is not None else None, held):
        stay.parted, stay.verdict, stay.shared = (held, stay.shared), bare(held), False
    elif not another and stay.parted is not None and held.code is None:
        (stay.verdict, stay.shared), stay.parted = stay.parted, None
    return [stay.verdict] if stay.verdict is not None and stay.verdict is not held else []


def are_shared(one: Verdict | None, two: Verdict) -> bool:
    """Return whether two stays have one tag, of which only one got the pass."""
    return two.shared or (one is not None and one.shared and one.code == two.code)


def bare(shared: Verdict) -> Verdict:
    """Return what is held of a stay that shared a tag, when it is known to be another animal's."""
    return Verdict(shared.number, None, flags=(Flag.NO_TAG,), seen=shared.seen, rule=ANOTHER, final_at=shared.final_at)


def _code(stay: OpenStay, verdicts: Mapping[int, Verdict]) -> TagCode | None:
    verdict = verdicts.get(stay.number)
    return verdict.code if verdict is not None else stay.code


def _alone(code: TagCode, span: Span, passes: Sequence[Pass]) -> Sequence[Detection] | None:
    """Return what was heard of a tag in a stay, if it is enough and no other tag was heard."""
    mine: list[Detection] = []
    for one in passes:
        heard = during(one.near, span, slack=False)
        if heard and one.code != code:
            return None
        mine += heard
    enough = heard_slots(mine, span) >= max(LEAST, HEARD * slots(span))
    return sorted(mine, key=lambda heard: heard.t) if enough else None
