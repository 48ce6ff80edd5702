"""Pairing where its parts meet: words on stays, words taken back, readers that cannot be trusted."""

import pytest

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.stays import OpenStay, is_its
from neckyoke.protocols.tagcode import TagCode

A, B, C = (TagCode(999, 112200 + n) for n in range(3))


def paired(*tags: TagCode | None, readers: dict[str, Position] | None = None) -> Pairing:
    """Let stays of ten seconds come every fourteen, each tag heard steadily in its own."""
    pairing = Pairing({"panel": "platform"} if readers is None else readers)
    for n, tag in enumerate(tags):
        pairing.began(n + 1, 14.0 * n)
        if tag is not None:
            for at in range(1, 9):
                pairing.read(14.0 * n + at, "panel", tag)
        pairing.ended(n + 1, 14.0 * n + 10.0)
    return pairing


def codes(pairing: Pairing) -> list[TagCode | None]:
    return [stay.code for _, stay in sorted(pairing.stays.items())]


def test_a_word_on_a_stay_that_is_not_at_hand_changes_nothing() -> None:
    pairing = paired(A, B)
    assert pairing.word(30.0, 7, C) == []
    assert codes(pairing) == [A, B]
    assert pairing.knows(2)
    assert not pairing.knows(7)
    assert pairing.is_final(7)


def test_a_word_takes_the_tag_that_another_word_gave_wherever_that_was() -> None:
    for first, second in ((1, 3), (3, 1)):
        pairing = paired(A, B, None)
        pairing.word(40.0, first, C)
        changed = pairing.word(41.0, second, C)
        assert {one.number: one.code for one in changed}[second] == C
        assert {one.number: one.code for one in changed}[first] is None
        assert pairing.is_final(first)


@pytest.mark.parametrize("said", [None, B, C])
def test_a_word_taken_back_leaves_all_as_it_was(said: TagCode | None) -> None:
    pairing = paired(A, B)
    before = pairing.stays
    pairing.word(30.0, 1, said)
    after = pairing.stays
    assert codes(pairing)[0] == said
    changed = pairing.unword(31.0, said, before, after)
    assert codes(pairing) == [A, B]
    assert {one.number: one.code for one in changed}[1] == A
    assert not pairing.is_final(1)


def test_what_somebody_said_since_stands() -> None:
    pairing = paired(A, B)
    before = pairing.stays
    pairing.word(30.0, 1, C)
    after = pairing.stays
    pairing.word(31.0, 1, None)
    pairing.unword(32.0, C, before, after)
    assert codes(pairing) == [None, B]
    assert pairing.is_final(1)


def test_a_final_verdict_that_a_word_took_a_tag_from_is_put_back_with_the_word() -> None:
    pairing = paired(A, B, C, None, None, None, None)
    assert pairing.is_final(1)
    assert not pairing.is_final(7)
    before = pairing.stays
    pairing.word(100.0, 7, A)
    after = pairing.stays
    assert codes(pairing)[0] is None
    assert codes(pairing)[6] == A
    changed = pairing.unword(101.0, A, before, after)
    assert codes(pairing) == [A, B, C, None, None, None, None]
    assert pairing.is_final(1)
    assert {one.number: one.code for one in changed}[1] == A


def test_without_readers_nobody_is_said_to_be_lost() -> None:
    pairing = paired(None, None, readers={})
    assert [stay.verdict.flags for stay in pairing.stays.values() if stay.verdict] == [(Flag.NO_TAG,)] * 2
    assert pairing.is_final(1)


@pytest.mark.parametrize(("down_s", "lost"), [(0.0, False), (2.0, True)])
def test_all_readers_must_have_been_down_to_be_lost(down_s: float, *, lost: bool) -> None:
    for links in (("panel",), ("panel", "gate")):
        pairing = Pairing(dict.fromkeys(links, "platform"))
        pairing.began(1, 0.0)
        if down_s:
            pairing.link(3.0, "panel", up=False)
            pairing.link(3.0 + down_s, "panel", up=True)
        (verdict,) = pairing.ended(1, 10.0)
        assert (Flag.READER_LOST in verdict.flags) is (lost and len(links) == 1)


def test_a_reader_proves_nothing_by_silence_where_it_could_not_hear() -> None:
    spans = [Span(1, 0.0, 10.0), Span(2, 320.0, 330.0)]
    pairing = Pairing({"panel": "platform", "gate": "platform"})
    assert pairing._deaf(spans) == {(link, n) for link in ("panel", "gate") for n in (1, 2)}, "it never heard anything"
    pairing.read(15.0, "panel", A)
    pairing.read(21.0, "gate", A)
    assert pairing._deaf(spans) == {("panel", 2)}, "for five minutes it heard none"
    pairing.link(322.0, "gate", up=False)
    pairing.link(325.0, "gate", up=True)
    assert pairing._deaf(spans) == {("panel", 2)}
    pairing.link(329.0, "gate", up=False)
    assert pairing._deaf(spans) == {("panel", 2), ("gate", 2)}, "down for more than three tenths of the stay"


AROUND = [Span(1, 0.0, 10.0), Span(2, 200.0, 210.0), Span(3, 220.0, 230.0), Span(4, 400.0, 410.0)]


def heard(*times: float, position: Position = "platform") -> Pass:
    return Pass(A, [Detection(t, "reader", position) for t in times])


@pytest.mark.parametrize(
    ("one", "verdict_heard", "its"),
    [
        (heard(202.0), None, True),
        (heard(150.0), None, True),  # a minute before it, with no stay between
        (heard(139.0), None, False),
        (heard(215.0), None, True),
        (heard(240.0), None, False),  # a whole stay lies between
        (heard(-5.0), None, False),
        (heard(300.0), (290.0, 310.0), True),  # its verdict gave it that one
        (heard(311.0), (290.0, 310.0), False),
        (heard(289.0, 290.0), (290.0, 310.0), True),
        (heard(-155.0, position="ahead"), None, True),  # by the race: six minutes, whatever stood between
        (heard(-161.0, position="ahead"), None, False),
        (heard(269.0, position="ahead"), None, True),
        (heard(271.0, position="ahead"), None, False),
    ],
)
def test_which_pass_of_a_tag_a_word_on_a_stay_can_have_meant(
    one: Pass, verdict_heard: tuple[float, float] | None, *, its: bool
) -> None:
    stay = OpenStay(2, 200.0, 1, off=210.0, heard=verdict_heard)
    assert is_its(one, stay, AROUND[1], AROUND) is its


def test_after_five_minutes_without_anybody_the_race_fills_anew() -> None:
    pairing = paired()
    for number, on in ((1, 0.0), (2, 20.0), (3, 319.9), (4, 619.9), (5, 630.0)):
        pairing.began(number, on)
        pairing.ended(number, on + 5.0)
    assert [stay.turn for _, stay in sorted(pairing.stays.items())] == [1, 2, 3, 1, 2]


def test_a_verdict_is_final_when_so_many_later_stays_have_ended_of_a_race_twice_as_many() -> None:
    positions: tuple[tuple[dict[str, Position], int], ...] = (
        ({"panel": "platform"}, 4),
        ({"hand": "hand"}, 4),
        ({"panel": "ahead"}, 8),
        ({"panel": "platform", "race": "ahead"}, 8),
    )
    for readers, later in positions:
        pairing = paired(*[None] * later, readers=readers)
        assert not pairing.is_final(1)
        pairing = paired(*[None] * (later + 1), readers=readers)
        assert [pairing.is_final(number) for number in (1, 2)] == [True, False]


def test_a_final_stay_teaches_how_often_tags_are_missed_and_one_that_may_change_does_not() -> None:
    def missed(pairing: Pairing) -> float:
        return pairing.habits["panel"]["missed"]

    new = missed(Pairing({"panel": "platform"}))
    assert missed(paired(A, B, C, A)) == new
    assert missed(paired(A, B, C, A, B)) < new
    assert missed(paired(None, A, B, C, A)) > new


def test_however_long_the_day_only_what_can_still_change_something_is_remembered() -> None:
    """Every 14 s, final after four: the oldest not final began 42 s before the last, and 120 s before that count."""
    pairing = paired(*(TagCode(999, 5000 + n) for n in range(60)))
    assert len(pairing.stays) == 4 + 4
    since = 14.0 * 56 - 120.0
    assert [span.number for span in pairing._gone] == [n + 1 for n in range(52) if 14.0 * n + 10.0 >= since]
    assert {code.national for code in pairing._spent} == {5000 + n for n in range(56) if 14.0 * n + 70.0 > since}
    heard = {one.code.national for one in pairing._passes(pairing._spans(None))}
    assert heard == {5000 + n for n in range(60) if 14.0 * n + 8.0 >= since}


def test_when_the_next_decision_falls_due() -> None:
    assert paired().due is None
    pairing = paired(A, B)
    assert pairing.due == 610.0, "ten minutes after its end the first is final"
    pairing.read(30.0, "panel", C)
    assert pairing.due == 40.0, "heard on an empty platform, it is weighed when its neighbours have been"
    pairing.read(35.0, "panel", C)
    assert pairing.due == 40.0
    assert pairing.settle(39.9) == []
    assert pairing.due == 40.0
    pairing.settle(40.0)
    assert pairing.due == 610.0
    pairing.read(50.0, "panel", C)
    pairing.began(3, 55.0)
    assert pairing.due == 610.0, "who stands there now is weighed with it"
    pairing.read(57.0, "panel", C)
    assert pairing.due == 610.0
    pairing.ended(3, 65.0)
    pairing.settle(610.0)
    assert (pairing.is_final(1), pairing.is_final(2), pairing.due) == (True, False, 624.0)
    pairing.settle(665.0)
    assert pairing.is_final(3)
    pairing.read(700.0, "panel", C)
    due = pairing.due
    assert due is None, "nobody is left whose verdict it could change"


def test_an_ended_stay_tells_only_what_changed_and_why_where_that_is_asked() -> None:
    pairing = paired(A, B)
    pairing.trace = True
    pairing.began(3, 28.0)
    for at in range(29, 37):
        pairing.read(float(at), "panel", C)
    assert [one.number for one in pairing.ended(3, 38.0)] == [3]
    assert pairing.settle(39.0) == []
    assert sorted(pairing.cases) == [1, 2, 3]
    assert pairing.believe(3, 39.0).code == C
    assert [one.number for one in pairing.finish()] == []
    assert all(pairing.is_final(number) for number in (1, 2, 3))


def test_what_two_stays_with_two_tags_each_would_have_had_is_one_of_them_only_where_somebody_spoke() -> None:
    """A word leaves its stay's own tag to nobody, be it as much a guess as another; a guess beside it is no tag."""
    pairing = Pairing({"panel": "platform"})
    tags = ((A, B), (C, TagCode(999, 112299)))
    for n, both in enumerate(tags):
        pairing.began(n + 1, 14.0 * n)
        for at in range(1, 9):
            for tag in both:
                pairing.read(14.0 * n + at, "panel", tag)
        pairing.ended(n + 1, 14.0 * n + 10.0)
    assert codes(pairing) == [None, None]
    pairing.word(30.0, 1, TagCode(999, 1))
    of = {number: stay.unsaid for number, stay in pairing.stays.items()}
    assert of[2] == (None,)
    assert of[1] in ((A,), (B,))
