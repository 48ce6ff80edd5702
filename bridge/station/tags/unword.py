"""A person's word on a tag taken back: the stays at hand as though it had not been said, as far as nobody spoke since.

The words go first, all of them, for what a stay gets back depends on whether its tag is another's by a word that
stands.  Then each stay that the word changed, and only those: what later words did to the others is theirs.

    was final, and its tag is now another's by word    open again, as that word would have found it
    was final, or became so with what the word did     final as it was, or as it would have been without the word
    was spoken of, and was open                        decided anew
"""

from collections.abc import Mapping, Sequence

from neckyoke.bridge.station.tags.stays import OpenStay
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode


def put_back(
    stays: Sequence[OpenStay],
    code: TagCode | None,
    before: Mapping[int, OpenStay],
    after: Mapping[int, OpenStay],
) -> list[Verdict]:
    """Put the stays back; return the verdicts that are held again.

    `before` and `after` are what they were around the word, `code` the tag that it gave.
    """
    around = [(one, before[one.number], after[one.number]) for one in stays if one.number in before.keys() & after]
    spoken = {was.number for _, was, then in around if was.words != then.words}
    kept = {stay.number for stay, _, then in around if stay.words[:2] != then.words[:2]}
    for stay, was, _ in around:
        if stay.number in spoken - kept:
            stay.word, stay.said, stay.had, stay.unsaid = was.word, was.said, was.had, was.unsaid
            stay.withdrawn = was.withdrawn
    again = []
    for stay, was, then in around:
        changed = stay.number in spoken or then.reopened or (was.settled, was.closed) != (then.settled, then.closed)
        if not changed or stay.number in spoken & kept or (stay.word and stay.number not in spoken):
            continue
        robbed = code is not None and was.code == code
        held = was.verdict
        if stay.number in spoken and not was.closed and stay.without is not None:
            held = held if _said_elsewhere(stays, stay, stay.without.code) else stay.without
        if was.closed and not stay.word and _said_elsewhere(stays, stay, was.code):
            stay.verdict, stay.shared, stay.closed, stay.reopened = was.verdict, was.shared, False, True
            stay.unsaid = was.unsaid if was.reopened else (was.code,)
        elif held is not None and (was.closed or (stay.closed and (stay.number in spoken or robbed))):
            if not stay.word and stay.verdict != held:
                again.append(held)
                stay.verdict, stay.shared = held, held.shared if held is stay.without else was.shared
            stay.closed, stay.reopened = stay.closed or was.closed, was.reopened
            stay.unsaid = was.unsaid
        elif stay.number in spoken:
            stay.closed = False
    return again


def _said_elsewhere(stays: Sequence[OpenStay], stay: OpenStay, code: TagCode | None) -> bool:
    """Return whether a word that stands gives a tag to another stay."""
    return code is not None and any(one.word and one.said == code for one in stays if one is not stay)
