"""What people say of weighings that only the journal knows: what it does to those at hand, and how it is taken back."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing, Weight
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.instructions import NOTES_MAX, TOO_MANY, Identify, Note, Void
from neckyoke.bridge.station.publisher import Publisher
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.bridge.station.words.people import BESIDE, People
from neckyoke.protocols.tagcode import TagCode
from tests.support import events

A, B = TagCode(999, 101), TagCode(999, 102)
START = datetime(2026, 11, 24, 9, tzinfo=UTC)


class Yard:
    """A station's people, with the stays 11 to 15 at hand; the journal knows number 10."""

    def __init__(self, **tags: TagCode) -> None:
        def stamp(t: float) -> Stamp:
            return Stamp(START + timedelta(seconds=t), Clock.SYNCHRONISED)

        self.account = Account()
        settings = Settings("larkmoor", "crush", "indicator")
        self.publisher = Publisher(settings, stamp, self.account, lambda _: True, Memory())
        self.people = People(Pairing({"panel": "platform"}), self.publisher, self.account, stamp)
        for number in range(11, 16):
            record = Record("crush", number, f"w{number}", 20.0 * number)
            record.settled, record.off = record.on + 3, record.on + 9
            record.weight = Weight(kg=318.5, grade="good")
            record.verdict = Verdict(number, tags.get(f"of_{number}"), rule="as heard")
            self.publisher.add(record)
            self.publisher.publish(400.0, record, None)

    def code(self, number: int) -> TagCode | None:
        return self.publisher.records[number].code


def past(number: int = 10, **known: Any) -> Weighing:
    made = events.weighing(number, tag=str(A))
    return made.model_copy(update={"weighing": f"w{number}", "job_number": 4, **known})


def told(found: list[Event]) -> list[tuple[int, int, str | None]]:
    weighings = (event.data for event in found if isinstance(event.data, Weighing))
    return [(one.number, one.revision, one.tag.id if one.tag else None) for one in weighings]


def test_a_note_amends_the_weighing_alone_and_is_answered_by_its_number_in_the_job() -> None:
    yard = Yard(of_11=B)
    reply, found = yard.people.amend(500.0, past(), Note("lame"))
    assert (reply.done, reply.text, reply.weighing) == (True, "Noted on number 4.", "w10")
    assert yard.people.amend(500.0, past(job_number=None), Note("lame"))[0].text == "Noted on number 10."
    assert told(found) == [(10, 2, str(A))]
    assert yard.account.weighed[str(A)] == "w10"


def test_a_note_too_many_is_refused_and_a_word_of_another_kind_is_not() -> None:
    full = past(notes=("x",) * NOTES_MAX)
    reply, found = Yard().people.amend(500.0, full, Note("lame"))
    assert (reply.done, reply.text, found) == (False, TOO_MANY, [])
    assert Yard().people.amend(500.0, full, Void())[0].done


@pytest.mark.parametrize(("code", "heard"), [(A, ("panel", 36)), (B, (None, 0))])
def test_a_word_on_one_whose_reads_are_long_forgotten_leaves_them_counted(
    code: TagCode, heard: tuple[str | None, int]
) -> None:
    yard = Yard()
    record = yard.publisher.records[11]
    record.verdict = Verdict(11, A, "panel", 36)
    [verdict] = yard.people.said(500.0, record, Identify(tag=code), "a1")
    assert (verdict.code, verdict.link, verdict.reads, verdict.flags) == (code, *heard, (Flag.BY_PERSON,))


@pytest.mark.parametrize(("holder", "moves"), [(11, True), (10 + BESIDE, True), (11 + BESIDE, False)])
def test_a_tag_given_to_an_old_weighing_is_taken_from_who_stands_near_by_number(holder: int, *, moves: bool) -> None:
    yard = Yard(**{f"of_{holder}": B})
    _, found = yard.people.amend(500.0, past(), Identify(tag=B))
    if moves:
        assert told(found) == [(holder, 2, None), (10, 2, str(B))]
        assert yard.publisher.records[holder].verdict == Verdict(
            holder, None, flags=(Flag.NO_TAG, Flag.BY_PERSON), rule="a person said so"
        )
        assert yard.account.weighed[str(B)] == "w10"
    else:
        assert told(found) == [(10, 2, str(B))]
        assert isinstance(found[0].data, Weighing)
        assert Flag.REPEAT in found[0].data.flags, "the animal was weighed twice"
        assert yard.account.weighed[str(B)] == f"w{holder}"


def test_that_it_has_no_tag_or_a_visual_number_takes_none_from_anybody() -> None:
    for said in (Identify(), Identify(visual="47"), Void()):
        yard = Yard(of_11=B)
        _, found = yard.people.amend(500.0, past(), said)
        assert [number for number, _, _ in told(found)] == [10]
        assert yard.code(11) == B


def test_struck_out_it_frees_its_tag_for_who_was_a_repeat_of_it() -> None:
    yard = Yard()
    yard.account.count("w10", (str(A),), None)
    record = yard.publisher.records[12]
    record.verdict = Verdict(12, A)
    yard.publisher.publish(450.0, record, None)
    repeated = record.published
    assert repeated is not None
    assert repeated.flags == (Flag.REPEAT,)
    _, found = yard.people.amend(500.0, past(), Void())
    assert told(found) == [(12, 3, str(A)), (10, 2, str(A))]
    now = record.published
    assert now is not None
    assert now.flags == ()


def test_what_an_earlier_run_left_open_is_what_is_said_of_it_now() -> None:
    for name, same in (("w10", True), ("w9", False)):
        yard = Yard()
        yard.publisher.interrupted = past(weighing=name)
        yard.people.amend(500.0, past(), Note("lame"))
        assert yard.publisher.interrupted.notes == (("lame",) if same else ())


def test_a_word_on_an_old_weighing_is_taken_back_beside_it_where_nobody_has_spoken_since() -> None:
    yard = Yard(of_11=B, of_12=A)
    said = Identify(tag=B)
    yard.people.amend(500.0, past(), said)
    yard.people.amended("r1", said, 10)
    spoken = yard.people.spoken("r1")
    assert spoken is not None
    assert (spoken.number, spoken.past) == (10, True)
    assert yard.people.spoken("nobody") is None
    found = yard.people.beside_back(510.0, spoken)
    assert told(found) == [(11, 3, str(B))]
    assert isinstance(found[0].data, Weighing)
    assert found[0].data.why == f"{B} fits, as the stays beside it show: as heard, after a person's word on number 10"
    assert (yard.code(11), yard.code(12)) == (B, A)
    assert yard.people.spoken("r1") is None

    yard.people.amend(520.0, past(), said)
    yard.people.amended("r2", said, 10)
    yard.publisher.records[11].verdict = since = Verdict(11, A, rule="said since")
    again = yard.people.spoken("r2")
    assert again is not None
    assert yard.people.beside_back(530.0, again) == []
    assert yard.publisher.records[11].verdict == since


def test_an_old_weighing_put_back_has_its_claims_again() -> None:
    yard = Yard()
    yard.account.count("w10", (str(B),), None)
    record = yard.publisher.records[12]
    record.verdict = Verdict(12, B)
    yard.publisher.publish(450.0, record, None)
    now = past(revision=3)
    found = yard.people.put_back(500.0, past(tag=now.tag and now.tag.model_copy(update={"id": str(B)})), now)
    assert told(found) == [(12, 3, str(B)), (10, 3, str(A))]
    assert {name: yard.account.weighed[name] for name in (str(A), str(B))} == {str(A): "w10", str(B): "w12"}


def test_a_word_on_a_stay_at_hand_can_be_taken_back_until_it_is_not() -> None:
    yard = Yard(of_11=A)
    record = yard.publisher.records[11]
    assert yard.people.said(500.0, record, Note("lame"), "r1") == []
    changed = yard.people.said(501.0, record, Identify(tag=B), "r2")
    assert [(one.number, one.code) for one in changed] == [(11, B)]
    yard.publisher.changed(501.0, changed)
    spoken = yard.people.spoken("r2")
    assert spoken is not None
    reply, found = yard.people.undo(502.0, spoken)
    assert (reply.done, reply.text) == (True, f"Taken back: number 11 has {B}.")
    assert told(found) == [(11, 3, str(A))]
    assert (record.notes, yard.people.spoken("r2")) == (["lame"], None)
    first = yard.people.spoken("r1")
    assert first is not None
    assert told(yard.people.undo(503.0, first)[1]) == [(11, 4, str(A))]
    assert record.notes == []
    yard.people.said(504.0, record, Void(), "r3")
    del yard.publisher.records[11]
    assert yard.people.spoken("r3") is None


def test_a_tag_said_of_the_stay_that_has_it_is_one_word_and_takes_it_from_nobody() -> None:
    yard = Yard(of_11=A, of_14=A, of_15=A)
    changed = yard.people.said(500.0, yard.publisher.records[11], Identify(tag=A), None)
    assert [(one.number, one.code) for one in changed] == [(14, None), (11, A)]
