"""One stay's record: which flags stand when what the platform thinks and what the tags say are put together."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Clock, Flag, Stamp, Weight
from neckyoke.bridge.station.again import Before
from neckyoke.bridge.station.instructions import Dosed, Found
from neckyoke.bridge.station.record import Record, code_flags, dose_said, not_given, tag
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode
from tests.support import events

ONE, OTHER = TagCode(999, 112233), TagCode(999, 445566)
START = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def _record(code: TagCode | None, before: TagCode | None) -> Record:
    record = Record("crush", 2, "w", 0.0)
    record.platform_flags = (Flag.CAME_BACK,)
    record.verdict = Verdict(number=2, code=code)
    record.before = Before(weighing="w1", called=1, weight=Weight(kg=318.0, grade="good"), code=before)
    return record


@pytest.mark.parametrize(
    ("code", "before", "came_back"),
    [
        (ONE, OTHER, False),  # alike in weight, but two animals
        (ONE, ONE, True),
        (None, ONE, True),  # not known to be another
        (ONE, None, True),
    ],
)
def test_another_tag_before_shows_that_nobody_came_back(
    code: TagCode | None, before: TagCode | None, *, came_back: bool
) -> None:
    assert (Flag.CAME_BACK in _record(code, before).flags({})) is came_back


@pytest.mark.parametrize(
    ("past", "code", "flags", "marked"),
    [
        (None, ONE, (), False),
        (str(ONE), ONE, (), True),
        (str(ONE), OTHER, (), True),  # nobody could tell with that known
        (None, None, (Flag.BY_PERSON,), False),
        (str(ONE), ONE, (Flag.BY_PERSON,), True),
        (str(ONE), OTHER, (Flag.BY_PERSON,), False),
        (str(ONE), None, (Flag.BY_PERSON,), True),  # a person said that it wears none: they may have meant either
        ("", OTHER, (Flag.BY_PERSON,), True),  # of the one before nothing is known
    ],
)
def test_that_it_may_be_the_one_before_stands_until_a_person_says_another_tag(
    past: str | None, code: TagCode | None, flags: tuple[Flag, ...], *, marked: bool
) -> None:
    record = _record(code, None)
    record.verdict = Verdict(number=2, code=code, flags=flags)
    before = events.weighing(1, tag=past)
    record.may_be = None if past is None else before if past else before.model_copy(update={"tag": None})
    assert (Flag.MAYBE_SAME in record.flags({})) is marked
    record.verdict = None
    assert (Flag.MAYBE_SAME in record.flags({})) is (past is not None)


def stamp(t: float) -> Stamp:
    return Stamp(START + timedelta(seconds=t), Clock.SYNCHRONISED)


def weighed(**known: Any) -> Record:
    made = Record("crush", 7, "w7", 1.0, "j1", 3)
    made.settled, made.off, made.revision = 3.0, 9.0, 2
    made.weight = Weight(kg=318.5, grade="good")
    made.verdict = Verdict(7, ONE, link="panel", reads=12, flags=(Flag.TAG_DOUBTFUL,), seen=2, final_at=600.0)
    for name, value in known.items():
        setattr(made, name, value)
    return made


def test_a_weighing_is_published_with_all_that_is_known_of_it() -> None:
    record = weighed(visual="47", notes=["lame"], platform_flags=(Flag.INTERRUPTED,))
    record.find(Found("teeth", 4), 12.0)
    record.dose(Dosed("drench", given=False), 13.0)
    data = record.as_weighing(stamp, {}, "a person added a note", final=False)
    assert (data.weighing, data.revision, data.station, data.number) == ("w7", 2, "crush", 7)
    assert (data.job, data.job_number, data.why) == ("j1", 3, "a person added a note")
    assert [(data.on, data.settled, data.off)] == [tuple(stamp(t).time for t in (1.0, 3.0, 9.0))]
    assert (data.clock, data.weight) == (Clock.SYNCHRONISED, record.weight)
    assert data.tag is not None
    assert (data.tag.id, data.tag.link, data.tag.reads, data.tag.code) == (str(ONE), "panel", 12, "999")
    assert data.flags == tuple(flag for flag in Flag if flag in {Flag.INTERRUPTED, Flag.TAG_DOUBTFUL})
    assert (data.animal, data.notes, data.skipped) == ({"visual": "47"}, ("lame",), ("drench",))
    assert [(one.name, one.value, one.by, one.at) for one in data.findings] == [
        ("teeth", 4, "person", stamp(12.0).time)
    ]
    assert [(one.name, one.given, one.at) for one in data.doses_said] == [("drench", False, stamp(13.0).time)]
    assert (data.final, data.final_at) == (False, stamp(600.0).time)


@pytest.mark.parametrize(
    ("known", "final", "told"),
    [
        ({}, True, (True, None)),
        ({"verdict": None}, False, (True, None)),
        ({"verdict": Verdict(7, ONE, final_at=None)}, False, (True, None)),
        ({}, False, (False, stamp(600.0).time)),
    ],
)
def test_it_is_final_where_nothing_will_change_it(
    known: dict[str, Any], told: tuple[object, ...], *, final: bool
) -> None:
    data = weighed(**known).as_weighing(stamp, {}, None, final=final)
    assert (data.final, data.final_at) == told


def test_settled_it_says_whether_it_may_leave_and_how_many_tags_were_heard() -> None:
    data = weighed(off=None).as_settled(stamp, {}, ("tag",))
    assert (data.weighing, data.number, data.job, data.job_number) == ("w7", 7, "j1", 3)
    assert (data.on, data.settled, data.tags_seen) == (stamp(1.0).time, stamp(3.0).time, 2)
    assert (data.may_leave, data.missing) == (False, ("tag",))
    bare = weighed(verdict=None).as_settled(stamp, {}, ())
    assert (bare.may_leave, bare.missing, bare.tags_seen, bare.tag, bare.animal) == (True, (), 0, None, None)


@pytest.mark.parametrize(
    ("known", "before", "flags", "claims"),
    [
        ({}, {}, set(), (str(ONE),)),
        ({}, {str(ONE): "w7"}, set(), (str(ONE),)),
        ({}, {str(ONE): "w1"}, {Flag.REPEAT}, (str(ONE),)),
        ({}, {str(OTHER): "w1"}, set(), (str(ONE),)),
        ({"voided": True}, {str(ONE): "w1"}, {Flag.VOIDED}, ()),
        ({"paused": True}, {str(ONE): "w1"}, {Flag.PAUSED}, ()),
        ({"visual": " 0047a "}, {}, set(), (str(ONE), "visual 47a")),
        ({"verdict": None}, {str(ONE): "w1"}, None, ("w7",)),
        ({"verdict": None, "visual": "000"}, {}, None, ("visual 0",)),
    ],
)
def test_what_it_is_counted_by_and_whether_it_was_weighed_before(
    known: dict[str, Any], before: dict[str, str], flags: set[Flag] | None, claims: tuple[str, ...]
) -> None:
    record = weighed(**known)
    assert record.claims == claims
    assert set(record.flags(before)) == (set() if flags is None else {Flag.TAG_DOUBTFUL, *flags})


@pytest.mark.parametrize(
    ("code", "flags"),
    [
        (TagCode(999, 1), []),
        (TagCode(1, 1), []),
        (TagCode(0, 1), [Flag.ODD_CODE]),
        (TagCode(1000, 1), [Flag.ODD_CODE]),
        (TagCode(982, 1, animal=False), [Flag.NOT_ANIMAL]),
    ],
)
def test_a_code_that_no_animal_wears_by_the_standard_is_flagged(code: TagCode, flags: list[Flag]) -> None:
    """ISO 11784: the animal bit, and a country or manufacturer code from 1 to 999."""
    assert list(code_flags(code)) == flags


def test_a_finding_taken_back_is_gone_and_one_said_anew_comes_last() -> None:
    record = weighed()
    for t, said in enumerate((Found("teeth", 4), Found("lame", value=True), Found("teeth", 6), Found("none", None))):
        record.find(said, float(t))
    assert list(record.findings.items()) == [("lame", (True, 1.0)), ("teeth", (6, 2.0))]
    record.find(Found("lame", None), 5.0)
    assert list(record.findings) == ["teeth"]


def test_what_is_said_of_a_dose_is_laid_over_what_was_said_before() -> None:
    record = weighed()
    record.dose(Dosed("drench", given=False), 1.0)
    assert record.doses["drench"] == (Dosed("drench", given=False), 1.0), "the first is kept as it was said"
    record.dose(Dosed("drench", amount=30.0), 2.0)
    record.dose(Dosed("drench", batch="B7"), 3.0)
    assert record.doses["drench"] == (Dosed("drench", given=True, amount=30.0, batch="B7"), 3.0)
    record.dose(Dosed("drench", given=False), 4.0)
    assert record.doses["drench"][0].given is False
    assert not_given([dose_said(said, stamp(t).time) for said, t in record.doses.values()]) == ("drench",)


def test_a_tag_is_published_as_nobody_read_it_when_it_was_typed() -> None:
    typed = tag(ONE)
    assert (typed.id, typed.reads, typed.link, typed.sure_percent) == (str(ONE), 0, None, None)
    assert (typed.code, typed.national, typed.animal) == ("999", "000000112233", True)


@pytest.mark.parametrize(
    ("former", "now", "maybe"),
    [
        ((318.0, "good"), (318.0, "good"), True),
        ((318.0, "good"), (321.0, "fair"), True),
        ((318.0, "good"), (314.9, "fair"), True),
        ((318.0, "good"), (321.3, "fair"), False),
        ((318.0, "good"), (314.7, "fair"), False),
        ((318.0, "poor"), (327.0, "good"), True),
        ((318.0, "poor"), (328.0, "good"), False),
        ((318.0, "good"), (170.0, "poor"), True),  # it may have two feet on
        ((318.0, "good"), (None, "none"), True),
        ((None, "none"), (318.0, "good"), True),
    ],
)
def test_what_weighs_the_same_may_be_the_one_before_come_on_again(
    former: tuple[float | None, Any], now: tuple[float | None, Any], *, maybe: bool
) -> None:
    before = Before(weighing="w1", called=1, weight=Weight(kg=former[0], grade=former[1]))
    weight = Weight(kg=now[0], grade=now[1])
    assert before.may_weigh(weight) is maybe
    assert not before.model_copy(update={"settled": False}).may_weigh(weight), "nothing was done to it"
