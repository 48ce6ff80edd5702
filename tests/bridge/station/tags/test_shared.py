"""One tag for two stays that may be one animal's: where it alone was heard, in doubt, and never over a word."""

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.pairing import WINDOW_STAYS, Pairing
from neckyoke.bridge.station.tags.shared import SURE_PERCENT
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

A, B, C = (TagCode(999, 112200 + n) for n in range(3))
FIRST, SECOND = (5.0, 13.0), (15.0, 25.0)


def heard(pairing: Pairing, code: TagCode, start: float, end: float) -> list[tuple[float, TagCode]]:
    return [(start + 0.4 * n, code) for n in range(int((end - start) / 0.4) + 1)]


def stood(
    *reads: tuple[TagCode, float, float], again: bool = True
) -> tuple[Pairing, list[Verdict], dict[int, Verdict]]:
    """Let two stand there, with these reads; return what is shown of the second as it settles, and all held then."""
    pairing = Pairing({"panel": "platform"})
    now: dict[int, Verdict] = {}
    spoken = sorted(one for code, start, end in reads for one in heard(pairing, code, start, end))
    shown: list[Verdict] = []
    steps: list[tuple[float, str]] = [(FIRST[0], "on"), (FIRST[1], "off"), (SECOND[0], "on"), (18.0, "show")]
    for t, what in sorted([*steps, (SECOND[1], "off"), *((t, str(code)) for t, code in spoken)]):
        number = 1 if t <= FIRST[1] else 2
        if what == "on":
            pairing.began(number, t)
        elif what == "show":
            *lost, mine = shown = pairing.show(2, t, maybe_same=True, again=again)
            assert mine.number == 2
            now |= {one.number: one for one in lost}
        elif what == "off":
            now |= {one.number: one for one in pairing.ended(number, t, again=again and number == 2)}
        else:
            pairing.read(t, "panel", next(code for at, code in spoken if (at, str(code)) == (t, what)))
    return pairing, shown, now


def codes(now: dict[int, Verdict]) -> list[TagCode | None]:
    return [now[number].code for number in sorted(now)]


ALL_ALONG = ((A, 5.2, 12.8), (A, 15.2, 24.8))


def test_it_is_shown_with_the_tag_that_alone_is_heard_and_both_keep_it_in_doubt() -> None:
    _, shown, now = stood(*ALL_ALONG)
    (second,) = shown
    assert (second.code, second.flags, second.sure_percent) == (A, (Flag.TAG_DOUBTFUL,), SURE_PERCENT)
    assert second.reads > 4
    assert codes(now) == [A, A]
    assert (Flag.TAG_DOUBTFUL,) in {now[1].flags, now[2].flags}, "whichever the pass was not dealt to"


@pytest.mark.parametrize(
    ("reads", "again"),
    [
        (ALL_ALONG, False),  # it weighs something else, or came later
        ((ALL_ALONG[0], (A, 15.2, 16.0)), True),  # heard for a moment, as one that lingers
        ((*ALL_ALONG, (B, 17.0, 17.5)), True),  # another was heard too
    ],
)
def test_else_no_two_stays_have_one_tag(reads: Sequence[tuple[TagCode, float, float]], *, again: bool) -> None:
    _, _, now = stood(*reads, again=again)
    assert codes(now).count(A) == 1


def test_a_tag_of_its_own_that_is_heard_later_takes_the_doubt_away() -> None:
    _, shown, now = stood(ALL_ALONG[0], (A, 15.2, 17.0), (B, 18.4, 24.8))
    assert shown[-1].code == A
    assert codes(now) == [A, B]


@pytest.mark.parametrize(("number", "code"), [(1, None), (1, B), (2, None), (2, B), (1, A)])
def test_a_person_who_speaks_of_either_has_looked(number: int, code: TagCode | None) -> None:
    pairing, _, now = stood(*ALL_ALONG)
    now |= {one.number: one for one in pairing.word(26.0, number, code)}
    assert now[number].code == code
    assert codes(now).count(A) <= 1


@pytest.mark.parametrize("reads", [ALL_ALONG, ALL_ALONG[:1]])
def test_a_person_who_says_that_the_second_wears_the_tag_of_the_first_says_that_it_is_that_animal(
    reads: Sequence[tuple[TagCode, float, float]],
) -> None:
    """To take it from the first would leave that stay, and the dose given in it, nobody's."""
    pairing, _, now = stood(*reads)
    now |= {one.number: one for one in pairing.word(26.0, 2, A)}
    assert codes(now) == [A, A]
    assert Flag.BY_PERSON in now[2].flags
    undone, _, held = stood(*reads)
    was = undone.stays
    undone.word(26.0, 2, A)
    held |= {one.number: one for one in undone.unword(27.0, A, was, undone.stays)}
    assert codes(held)[0] == A, "taken back the first is as it was"
    assert Flag.BY_PERSON not in held[1].flags
    now |= {one.number: one for one in pairing.word(27.0, 2, B)}
    assert codes(now) == [A, B], "what they say next of the second is of the second"


def test_it_is_the_one_just_before_that_may_have_come_on_again_and_no_earlier_one() -> None:
    pairing, _, now = stood((A, 5.2, 12.8), (B, 15.2, 24.8), again=False)
    assert codes(now) == [A, B]
    pairing.began(3, 27.0)
    now |= {one.number: one for one in pairing.ended(3, 35.0, again=True)}
    changed = {one.number: one for one in pairing.word(36.0, 3, A)}
    assert changed.keys() == {3}, "of the first nothing was said"
    assert not pairing.stays[1].word


def test_of_one_that_weighs_something_else_the_tag_is_taken_as_ever() -> None:
    pairing, _, now = stood(*ALL_ALONG[:1], again=False)
    now |= {one.number: one for one in pairing.word(26.0, 2, A)}
    assert codes(now) == [None, A]


def test_both_keep_it_for_good_and_nobody_else_gets_it() -> None:
    pairing, _, now = stood(*ALL_ALONG)
    for number in range(3, 3 + 2 * WINDOW_STAYS):
        on = 10.0 * number
        pairing.began(number, on)
        for t, tag in heard(pairing, TagCode(999, number), on + 0.5, on + 5.0):
            pairing.read(t, "panel", tag)
        now |= {one.number: one for one in pairing.ended(number, on + 6.0)}
    now |= {one.number: one for one in pairing.finish()}
    assert codes(now)[:2] == [A, A]
    assert A not in codes(now)[2:]
    assert pairing.is_final(1)
    assert pairing.is_final(2)


READS = st.lists(st.tuples(st.sampled_from([A, B, C]), st.floats(4.0, 25.0), st.floats(0.0, 10.0)), max_size=5)


@given(READS)
def test_it_gives_a_tag_where_there_was_none_and_takes_none_away(reads: list[tuple[TagCode, float, float]]) -> None:
    """Beside the same reads and stays that do not weigh the same: what is not shared is as it would be."""
    calls = [(code, start, min(start + length, 26.0)) for code, start, length in reads]
    (_, _, now), (_, _, apart) = stood(*calls), stood(*calls, again=False)
    for number in (1, 2):
        if apart[number].code is not None or now[number].code is None:
            assert now[number] == apart[number]
        else:
            assert now[number].code == apart[3 - number].code
            assert now[number].flags == (Flag.TAG_DOUBTFUL,)
