"""A person's word on a tag taken back: what each stay is then, by the table in unword.py, row by row.

In each row number 1 was said to have `C`; `was` is what a stay was before that, `then` after, `now` when it is taken
back.  Rules of our own, no outside source.
"""

from dataclasses import replace

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.stays import OpenStay
from neckyoke.bridge.station.tags.unword import put_back
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

A, B, C, D = (TagCode(999, 101 + n) for n in range(4))


def stay(number: int, code: TagCode | None, **more: object) -> OpenStay:
    flags = () if code else (Flag.NO_TAG,)
    made = OpenStay(number, 20.0 * number, 1, 20.0 * number + 9, verdict=Verdict(number, code, flags=flags))
    return replace(made, **more)  # type: ignore[arg-type]


def word(number: int, said: TagCode | None, had: TagCode | None, **more: object) -> OpenStay:
    flags = (Flag.BY_PERSON,)
    of = stay(number, said, word=True, said=said, had=had, unsaid=(had,), verdict=Verdict(number, said, flags=flags))
    return replace(of, **more)  # type: ignore[arg-type]


OPEN, FINAL = stay(1, A), stay(1, A, closed=True)
SAID = word(1, C, A)
IN_DOUBT = Verdict(1, A, flags=(Flag.TAG_DOUBTFUL,))
HAD_C = stay(2, C, closed=True)
ROBBED = stay(2, None, unsaid=(C,), reopened=True)


@pytest.mark.parametrize(
    ("was", "then", "now", "back", "again"),
    [
        # of the one that was spoken of
        (OPEN, SAID, SAID, replace(SAID, word=False, said=None, had=None, unsaid=None), []),  # to be decided anew
        (FINAL, replace(SAID, closed=True), replace(SAID, closed=True), FINAL, [A]),
        (OPEN, SAID, replace(SAID, closed=True), FINAL, [A]),  # it became final meanwhile
        (
            replace(OPEN, verdict=None),
            SAID,
            replace(SAID, closed=True, without=OPEN.verdict),
            replace(FINAL, without=OPEN.verdict),
            [A],
        ),  # and stood there when it was spoken of
        (
            OPEN,
            SAID,
            replace(SAID, closed=True, without=IN_DOUBT),
            replace(FINAL, verdict=IN_DOUBT, without=IN_DOUBT),
            [A],
        ),
        (
            word(1, B, A),
            word(1, C, A),
            word(1, C, A),
            word(1, B, A, verdict=SAID.verdict),
            [],
        ),  # an earlier word stands
        (word(1, B, A), SAID, replace(SAID, closed=True), word(1, B, A, verdict=SAID.verdict, closed=True), []),
        (
            word(1, B, A),
            SAID,
            replace(SAID, closed=True, reopened=True),
            word(1, B, A, verdict=SAID.verdict, closed=True),
            [],
        ),
        (FINAL, SAID, word(1, D, A), word(1, D, A), []),  # a later word stands
        (stay(1, C), word(1, C, C), word(1, C, C, closed=True), stay(1, C, closed=True), [C]),
        # of one beside it
        (HAD_C, ROBBED, ROBBED, HAD_C, [C]),
        (HAD_C, ROBBED, replace(ROBBED, closed=True), HAD_C, [C]),
        (stay(2, C), stay(2, None), stay(2, None, closed=True), HAD_C, [C]),  # it would be final with its tag
        (stay(2, C), stay(2, None), stay(2, None), stay(2, None), []),  # to be decided anew
        (
            stay(2, A),
            stay(2, None),
            stay(2, None, closed=True),
            stay(2, None, closed=True),
            [],
        ),  # that tag was not said
        (
            stay(2, B),
            stay(2, B),
            stay(2, None, closed=True),
            stay(2, None, closed=True),
            [],
        ),  # the word changed nothing
        (stay(2, B, closed=True), stay(2, B, closed=True), stay(2, D), stay(2, D), []),
        (OpenStay(2, 40.0, 1), OpenStay(2, 40.0, 1), stay(2, D), stay(2, D), []),  # it stood there, and has a tag since
        (HAD_C, ROBBED, word(2, D, None), word(2, D, None), []),  # somebody has spoken of it since
    ],
)
def test_a_stay_is_what_it_would_be(
    was: OpenStay, then: OpenStay, now: OpenStay, back: OpenStay, again: list[TagCode]
) -> None:
    other = stay(8, D, closed=True)
    begun = stay(9, C)
    stays = [replace(now), replace(other), replace(begun)]
    found = put_back(stays, C, {was.number: was, 8: other}, {then.number: then, 8: other, 9: begun})
    assert stays == [back, other, begun]
    assert [(one.number, one.code) for one in found] == [(back.number, code) for code in again]
    assert put_back([replace(now)], C, {}, {then.number: then}) == put_back([replace(now)], C, {1: was}, {}) == []


@pytest.mark.parametrize(("before", "unsaid"), [(HAD_C, (C,)), (replace(HAD_C, unsaid=(B,), reopened=True), (B,))])
def test_a_tag_that_another_word_gives_away_leaves_its_stay_open(before: OpenStay, unsaid: tuple[TagCode]) -> None:
    stays = [replace(ROBBED), word(3, C, None)]
    assert put_back(stays, C, {2: before}, {2: ROBBED}) == []
    assert stays[0] == replace(before, closed=False, reopened=True, unsaid=unsaid)
    own = [replace(ROBBED), word(3, D, None)]
    assert [one.code for one in put_back(own, C, {2: before}, {2: ROBBED})] == [C], "that word gave another"
    assert own[0] == before


def test_that_it_has_no_tag_is_given_away_by_nobody() -> None:
    bare = stay(1, None, closed=True)
    said = word(1, C, None, closed=True)
    stays = [replace(said), word(3, None, A)]
    assert [one.code for one in put_back(stays, C, {1: bare}, {1: said})] == [None]
    assert stays[0] == bare


def test_a_word_that_it_has_no_tag_robs_nobody() -> None:
    """Number 2 had none before either, and was decided otherwise meanwhile."""
    now = stay(2, D, closed=True)
    stays = [replace(now)]
    assert put_back(stays, None, {2: stay(2, None)}, {2: stay(2, B)}) == []
    assert stays == [now]
