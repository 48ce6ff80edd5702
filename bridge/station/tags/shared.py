"""One tag for two stays: an animal that stepped off the platform and came on again.

Passes are dealt to stays so that no read can speak for two; but where one follows the other soon and weighs the same,
both may be one animal's, whose tag is heard all along, and whichever stay got the pass leaves the other without a tag.
It has the same one, in doubt, where that was heard for half of it, and no other tag was: an animal that weighs the same
as the one before it, and whose own tag is dead, would look the same while that one lingers.  A person who has spoken of
either has looked: nothing is shared then.
"""

from collections.abc import Sequence
from dataclasses import replace

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span, during
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.stays import OpenStay
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

HEARD, LEAST = 0.5, 2
"""It was heard for this share of the seconds of the stay, and in so many of them."""

SURE_PERCENT = 95.0
"""How sure such a tag is said to be, by hand: of those in tests/bench/came_back.py all were right."""


def share(
    stays: Sequence[OpenStay], spans: Sequence[Span], passes: Sequence[Pass], verdicts: dict[int, Verdict]
) -> None:
    """Let two stays that may be one animal's (`again`) have the tag that one of them has."""
    for stay in stays:
        stay.shared = stay.shared and stay.number not in verdicts
    for at in range(1, len(stays)):
        one, two = stays[at - 1], stays[at]
        codes = _code(one, verdicts), _code(two, verdicts)
        if not two.again or two.number != one.number + 1 or (codes[0] is None) == (codes[1] is None):
            continue
        bare, code = (at, codes[0]) if codes[1] is None else (at - 1, codes[1])
        stay, verdict = stays[bare], verdicts.get(stays[bare].number)
        if code is None or verdict is None or one.word or two.word or Flag.TWO_TAGS in verdict.flags:
            continue
        if (heard := _alone(code, spans[bare], passes)) is None:
            continue
        other = (one if stay is two else two).number
        stay.shared = True
        verdicts[stay.number] = replace(
            verdict,
            code=code,
            link=heard[-1].link,
            reads=sum(one.reads for one in heard),
            flags=(Flag.TAG_DOUBTFUL,),
            sure_percent=SURE_PERCENT,
            rule=f"no other tag was heard, and it weighs what number {other} weighs: it may have come on again",
        )


def _code(stay: OpenStay, verdicts: dict[int, Verdict]) -> TagCode | None:
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
