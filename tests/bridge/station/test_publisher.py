"""The weighings at hand: which is meant, what one lacks, and what is published anew when something changes."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing, Weight
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.instructions import About, Dosed, Found, Identify, Note, Void
from neckyoke.bridge.station.platform.happenings import Stood
from neckyoke.bridge.station.publisher import KEPT, Publisher
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.settings import Memory, Needs, Settings
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.bridge.station.words import takeback
from neckyoke.bridge.station.words.takeback import Spoken, Words, apply, verdicts_of
from neckyoke.protocols.tagcode import TagCode

A, B = TagCode(999, 101), TagCode(999, 102)
START = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def publisher(memory: Memory | None = None, needs: Needs | None = None, **settings: Any) -> tuple[Publisher, Account]:
    account = Account()
    made = Publisher(
        Settings("larkmoor", "crush", "indicator", **settings),
        lambda t: Stamp(START + timedelta(seconds=t), Clock.SYNCHRONISED),
        account,
        lambda number: number < 2,
        memory or Memory(),
        lambda _: needs or Needs(),
    )
    return made, account


def ended(number: int, code: TagCode | None = None, **known: Any) -> Record:
    record = Record("crush", number, f"w{number}", 20.0 * number)
    record.settled, record.off = 20.0 * number + 3, 20.0 * number + 9
    record.weight = Weight(kg=318.5, grade="good", first_kg=318.0)
    record.verdict = Verdict(number, code, flags=() if code else (Flag.NO_TAG,), rule="as heard", final_at=900.0)
    for name, value in known.items():
        setattr(record, name, value)
    return record


def told(events: list[Event]) -> list[tuple[int, int, str | None]]:
    """Number, revision and why of each weighing."""
    found = (event.data for event in events if isinstance(event.data, Weighing))
    return [(one.number, one.revision, one.why) for one in found]


def test_the_one_meant_is_found_by_id_by_number_or_is_the_last() -> None:
    made, _ = publisher()
    first, second = ended(1), ended(2)
    for record in (first, second):
        made.add(record)
    assert made.find(About(), 2) is second
    assert made.find(About(), 3) is None
    assert made.find(About(number=1), 2) is first
    assert made.find(About(weighing="w1"), 2) is first
    assert (made.find(About(number=9), 2), made.find(About(weighing="w9"), 2)) == (None, None)
    made.publish(50.0, ended(5), None)
    second.resumes = made.publish(60.0, ended(8), None)[0].data  # type: ignore[assignment]
    assert made.find(About(number=8), 2) is second, "by the number that it had in the run before"


def test_so_many_are_at_hand_and_the_oldest_goes() -> None:
    made, _ = publisher()
    for number in range(1, KEPT + 2):
        made.add(ended(number))
    assert [*made.records] == [*range(2, KEPT + 2)]


NOBODY = (Flag.NO_TAG, Flag.BY_PERSON)


@pytest.mark.parametrize(
    ("verdict", "visual", "ours", "sheets", "missing"),
    [
        (None, None, True, None, ("tag",)),
        (None, None, False, None, ()),
        (None, None, False, True, ("tag",)),  # the sheet's word goes before the settings'
        (None, None, True, False, ()),
        (Verdict(1, None), None, True, None, ("tag",)),
        (Verdict(1, A), None, True, None, ()),
        (Verdict(1, None, flags=NOBODY), None, True, None, ()),  # a person said that it has none
        (None, "47", True, None, ()),  # who read its ear has named it
    ],
)
def test_what_an_animal_lacks(
    verdict: Verdict | None, visual: str | None, missing: tuple[str, ...], *, ours: bool, sheets: bool | None
) -> None:
    made, _ = publisher(needs=Needs(sheets, ("teeth", "lame")), require_tag=ours)
    record = ended(1, verdict=verdict, visual=visual)
    assert made.missing(record) == (*missing, "teeth", "lame")
    record.find(Found("teeth", 4), 1.0)
    assert made.missing(record) == (*missing, "lame")


def test_it_is_told_to_settle_as_often_as_that_changes_each_time_by_a_key_of_its_own() -> None:
    made, _ = publisher()
    record = ended(1, A)
    ids = {made.settled(30.0, record)[0].id for _ in range(3)}
    assert (len(ids), record.told) == (3, 3)


def test_who_loses_a_tag_is_published_and_whoever_was_a_repeat_of_it_is_none_any_more() -> None:
    made, account = publisher()
    one, two, three = ended(1, A), ended(2, A), ended(3, B)
    for record in (one, two, three):
        made.add(record)
        made.publish(70.0, record, "not yet: a first revision has no reason")
    assert [record.published.flags for record in (one, two, three) if record.published] == [(), (Flag.REPEAT,), ()]
    assert [record.published.why for record in (one, two, three) if record.published] == [None] * 3
    assert [record.published.final for record in (one, two) if record.published] == [True, False]
    events = made.changed(80.0, [Verdict(1, None, flags=NOBODY, rule="said"), Verdict(9, A)], (1, "a person said"))
    assert told(events) == [(1, 2, "a person said"), (2, 2, "an earlier weighing no longer has this tag")]
    assert two.published is not None
    assert two.published.flags == ()
    assert account.weighed == {"w1": "w1", str(A): "w2", str(B): "w3"}
    assert told(made.changed(90.0, [Verdict(3, B, rule="as before")])) == [(3, 2, "no doubt is left: as before")]
    assert made.released(95.0, {str(A), str(B)}) == []


def test_a_stay_that_has_not_ended_is_not_amended() -> None:
    made, _ = publisher()
    made.add(ended(1, A, off=None))
    assert made.changed(80.0, [Verdict(1, B)]) == []
    assert made.records[1].code == A


def test_once_more_with_what_is_known_now_each_counted_in_its_turn() -> None:
    made, account = publisher()
    published, standing, other, bare = ended(1, A), ended(2, B, off=None), ended(3, A), ended(4, settled=None, off=None)
    for record in (published, standing, other, bare):
        made.add(record)
    for record in (published, other):
        made.publish(70.0, record, None)
    account.count("w1", (), None)
    account.count("w3", (str(A),), None)
    events = made.again(80.0, {"w1", "w2", "w4"}, "looked at")
    assert told(events) == [(1, 2, "looked at")]
    assert [event.data.number for event in events] == [1, 2]  # type: ignore[union-attr]
    assert published.published is not None
    assert published.published.flags == (Flag.REPEAT,), "the other has the tag meanwhile"


def test_times_of_before_the_clock_was_known_are_amended_once() -> None:
    made, _ = publisher()
    records = [ended(1, A), ended(2, B), ended(3)]
    for record in records:
        made.add(record)
    for record in records[:2]:
        made.publish(70.0, record, None)
    assert made.restamped(80.0) == []
    assert records[0].published is not None
    records[0].published = records[0].published.model_copy(update={"clock": Clock.UNSYNCHRONISED})
    assert told(made.restamped(80.0)) == [(1, 2, "the clock is known now")]
    assert made.restamped(90.0) == []


@pytest.mark.parametrize(
    ("flags", "off", "left"),
    [((Flag.INTERRUPTED,), 29.0, True), ((), 29.0, False), ((Flag.INTERRUPTED,), None, False)],
)
def test_what_ended_with_the_run_is_left_for_the_next(
    flags: tuple[Flag, ...], off: float | None, *, left: bool
) -> None:
    made, _ = publisher()
    record = ended(1, A, platform_flags=flags)
    made.publish(30.0, record, None)
    record.off, record.stood = off, Stood(last_kg=318.0, leaves=True)
    made.leave(record)
    assert (made.interrupted is not None) is left
    assert (made.stood_kg, made.leaves) == ((318.0, True) if left else (None, False))
    assert ({**made.kept}.get("stood_kg"), {**made.kept}.get("leaves", False)) == (made.stood_kg, made.leaves)
    assert made.away_s == (-29.0 if left else None)
    assert made.unseen_s(ended(2)) == (11.0 if left else None)


def test_the_first_stay_goes_on_with_what_the_last_run_left_and_no_later_one_does() -> None:
    before, _ = publisher()
    record = ended(7, A, platform_flags=(Flag.INTERRUPTED,))
    before.publish(170.0, record, None)
    assert record.published is not None
    kept = Memory(number=7, interrupted=record.published.model_dump(mode="json"), away_s=2.0)
    for first_on, same in ((0.0, True), (900.0, False)):
        made, _ = publisher(kept)
        first = ended(8, A, on=first_on, settled=first_on + 3, off=first_on + 9, platform_flags=(Flag.ON_AT_START,))
        made.add(first)
        made.publish(first_on + 10, first, None)
        assert (first.weighing, first.resumes is not None) == (("w7", True) if same else ("w8", False))
        assert made.interrupted is None
        assert (made.find(About(number=7), 8) is first) is same
        later = ended(9, A, platform_flags=(Flag.ON_AT_START,))
        made.publish(990.0, later, None)
        assert later.weighing == "w9"


@pytest.mark.parametrize("leaves", [False, True])
def test_what_was_leaving_as_the_box_stopped_is_not_held_to_stand_there_still_for_a_like_weight(
    *, leaves: bool
) -> None:
    before, _ = publisher()
    record = ended(7, platform_flags=(Flag.INTERRUPTED,))
    before.publish(170.0, record, None)
    assert record.published is not None
    kept = Memory(number=7, interrupted=record.published.model_dump(mode="json"), away_s=2.0, leaves=leaves)
    made, _ = publisher(kept)
    first = ended(8, on=0.0, settled=3.0, off=9.0, platform_flags=(Flag.ON_AT_START,))
    first.weight = Weight(kg=320.0, grade="good")
    made.add(first)
    made.publish(10.0, first, None)
    assert (first.resumes is None, first.may_be is not None) == (leaves, leaves)


# -- what people said, in order


def spoken(asked: str, number: int, said: Any, *, past: bool = False) -> Spoken:
    return Spoken(asked, number, said, 1.0, past=past)


def test_a_record_is_what_the_words_on_it_make_of_it_and_no_others() -> None:
    words, record = Words(), ended(1, A)
    said = [
        spoken("a", 1, Note("lame")),
        spoken("b", 2, Note("of another")),
        spoken("c", 1, Note("of one long gone"), past=True),
        spoken("d", 1, Void()),
        spoken("e", 1, Identify(visual="47")),
        spoken("f", 1, Found("teeth", 4)),
        spoken("g", 1, Dosed("drench", given=False)),
    ]
    for one in said:
        words.add(one)
        if one.number == 1 and not one.past:
            apply(record, one.said, one.t)
    by_words = (record.notes, record.voided, record.visual, dict(record.findings), dict(record.doses))
    assert by_words[:3] == (["lame"], True, "47")
    assert (list(record.findings), list(record.doses)) == (["teeth"], ["drench"])
    words.fold(record)
    assert (record.notes, record.voided, record.visual, record.findings, record.doses) == by_words
    words.leave_out(said[3])
    words.leave_out(said[0])
    words.fold(record)
    assert (record.notes, record.voided, record.visual) == ([], False, "47")
    assert (words.find("a"), words.find("b"), words.find("g")) == (None, said[1], said[6])
    for one in said[4:]:
        words.leave_out(one)
    words.fold(record)
    assert (record.notes, record.voided, record.visual, record.findings, record.doses) == ([], False, None, {}, {})


def test_the_last_five_hundred_words_can_be_taken_back() -> None:
    assert takeback.KEPT == 500
    words = Words()
    for at in range(501):
        words.add(spoken(f"r{at}", at, Note("x")))
    assert [words.find(f"r{at}") is not None for at in (0, 1, 500)] == [False, True, True]


def test_what_is_held_of_each() -> None:
    one, two = ended(1, A), ended(2, verdict=None)
    assert verdicts_of([one, two]) == {1: one.verdict, 2: None}
