"""A weighing of long ago with what a person says of it now, and one that belongs elsewhere: each change by itself."""

from datetime import UTC, datetime
from typing import Any

import pytest

from neckyoke.bridge.events import DoseSaid, Finding, Flag, Treatment, Weighing
from neckyoke.bridge.station.amend import amended, claimed, known_anew, moved
from neckyoke.bridge.station.instructions import AnimalInstruction, Dosed, Found, Identify, Note, Void
from neckyoke.bridge.station.settings import Place
from neckyoke.protocols.tagcode import TagCode
from tests.support import events

A, B, ODD = TagCode(999, 1), TagCode(999, 2), TagCode(0, 3)
AT, BEFORE = (datetime(2026, 11, 25, hour, tzinfo=UTC) for hour in (9, 8))


def past(**known: Any) -> Weighing:
    made = events.weighing(1, revision=2, tag=str(A))
    return made.model_copy(update={"final": False, "final_at": AT, **known})


def found(name: str, value: Any, at: datetime, by: str = "person") -> Finding:
    return Finding.model_validate({"name": name, "value": value, "by": by, "at": at})


TEETH, LAME = found("teeth", 4, BEFORE), found("lame", value=True, at=BEFORE)
DOSE = DoseSaid(name="drench", given=False, at=BEFORE)


@pytest.mark.parametrize(
    ("known", "said", "changed", "why"),
    [
        ({"notes": ("lame",)}, Note("ringworm"), {"notes": ("lame", "ringworm")}, "a person added a note"),
        ({"findings": (TEETH, LAME)}, Found("teeth", 6), {"findings": (LAME, found("teeth", 6, AT))}, None),
        ({"findings": (TEETH, LAME)}, Found("teeth", None), {"findings": (LAME,)}, None),
        (
            {"doses_said": (DOSE,), "skipped": ("drench",)},
            Dosed("drench", amount=30.0),
            {"doses_said": (DoseSaid(name="drench", given=True, amount=30.0, at=AT),), "skipped": ()},
            None,
        ),
        (
            {"doses_said": (DOSE,), "skipped": ("drench",)},
            Dosed("vaccine", given=False),
            {"doses_said": (DOSE, DoseSaid(name="vaccine", given=False, at=AT)), "skipped": ("drench", "vaccine")},
            "a person said that vaccine was not given",
        ),
        ({"flags": (Flag.REPEAT, Flag.INTERRUPTED)}, Void(), {"flags": {Flag.INTERRUPTED, Flag.VOIDED}}, None),
        ({"animal": {"id": "a1"}}, Identify(visual="47"), {"animal": {"id": "a1", "visual": "47"}}, None),
        ({"animal": {"id": "a1"}, "tag": None}, Identify(visual="47"), {"animal": {"visual": "47"}}, None),
        (
            {"animal": {"id": "a1"}, "flags": (Flag.NO_TAG, Flag.INTERRUPTED), "tag": None},
            Identify(tag=B),
            {"animal": None, "flags": {Flag.BY_PERSON, Flag.INTERRUPTED}, "tag": str(B)},
            None,
        ),
        ({}, Identify(tag=A), {"flags": {Flag.BY_PERSON}, "tag": str(A)}, None),
        ({}, Identify(tag=ODD), {"flags": {Flag.BY_PERSON, Flag.ODD_CODE}, "tag": str(ODD)}, None),
        ({}, Identify(), {"flags": {Flag.NO_TAG, Flag.BY_PERSON}, "tag": None, "animal": None}, None),
        (
            {},
            Identify(tag=B, visual="48"),
            {"tag": str(B), "animal": {"visual": "48"}, "flags": {Flag.BY_PERSON}},
            None,
        ),
    ],
)
def test_one_word_changes_what_it_is_about_and_nothing_else(
    known: dict[str, Any], said: AnimalInstruction, changed: dict[str, Any], why: str | None
) -> None:
    before = past(**known)
    after = amended(before, said, {}, AT)
    assert (after.revision, after.final, after.final_at) == (3, True, None)
    assert after.why
    assert why in (None, after.why)
    told = {name: getattr(after, name) for name in changed}
    if "flags" in told:
        told["flags"] = set(told["flags"])
    if "tag" in told:
        told["tag"] = told["tag"] and told["tag"].id
    assert told == changed
    same = set(Weighing.model_fields) - changed.keys() - {"revision", "final", "final_at", "why", "animal"}
    assert {name for name in same if getattr(after, name) != getattr(before, name)} == set()


def test_the_tag_that_was_heard_keeps_its_reads_where_a_person_only_says_it_again() -> None:
    assert amended(past(), Identify(tag=A), {}, AT).tag == past().tag
    typed = amended(past(), Identify(tag=B), {}, AT).tag
    assert typed is not None
    assert (typed.reads, typed.link) == (0, None)


@pytest.mark.parametrize(
    ("flags", "weighed", "repeat"),
    [
        ((), {}, False),
        ((), {str(B): "other"}, True),
        ((), {str(B): past().weighing}, False),
        ((Flag.VOIDED,), {str(B): "other"}, False),
        ((Flag.PAUSED,), {str(B): "other"}, False),
    ],
)
def test_a_tag_given_by_a_person_may_have_been_weighed_before(
    flags: tuple[Flag, ...], weighed: dict[str, str], *, repeat: bool
) -> None:
    assert (Flag.REPEAT in amended(past(flags=flags), Identify(tag=B), weighed, AT).flags) is repeat


GIVEN = (Treatment(name="drench", dose_ml=30.0),)


@pytest.mark.parametrize(
    ("flags", "place", "weighed", "after"),
    [
        ((), Place("j2", 4), {}, set()),
        ((Flag.PAUSED,), Place("j2", 4), {}, set()),
        ((), Place(paused=True), {str(A): "other"}, {Flag.PAUSED}),
        ((), Place("j2", 4), {str(A): "other"}, {Flag.REPEAT}),
        ((Flag.REPEAT,), Place("j2", 4), {str(A): past().weighing}, set()),
        ((Flag.VOIDED,), Place("j2", 4), {str(A): "other"}, {Flag.VOIDED}),
        ((Flag.NOT_EXPECTED, Flag.ALREADY_WEIGHED, Flag.WEIGHT_UNLIKELY, Flag.WITHHELD), Place("j2", 4), {}, set()),
        ((Flag.INTERRUPTED, Flag.TAG_DOUBTFUL), Place(), {}, {Flag.INTERRUPTED, Flag.TAG_DOUBTFUL}),
    ],
)
def test_what_belongs_elsewhere_now_is_to_be_filled_in_again(
    flags: tuple[Flag, ...], place: Place, weighed: dict[str, str], after: set[Flag]
) -> None:
    own = {"id": "a1", "known_as": "Bess", "visual": "47"}
    before = past(flags=flags, sheet="x", treatments=GIVEN, pen="keep", animal={**own, "sex": "steer"})
    now = moved(before, place, weighed, "why", {"breed": "red", "visual": "46"})
    assert (set(now.flags), now.job, now.job_number) == (after, place.job, place.job_number)
    assert (now.sheet, now.treatments, now.pen) == (None, (), None)
    assert now.animal == {"breed": "red", **own}
    assert (now.revision, now.final, now.final_at, now.why) == (3, True, None, "why")
    assert moved(past(), place, weighed, "why", {}).animal is None


@pytest.mark.parametrize(
    ("known", "weighed", "animal", "flags"),
    [
        ({}, {}, None, {Flag.REPEAT}),  # of a job long ago nothing is known: what was said stands
        ({}, {"x": "y"}, None, set()),
        ({}, {str(A): "other"}, None, {Flag.REPEAT}),
        ({}, {str(A): past().weighing}, None, set()),
        ({"tag": None}, {"x": "y"}, {"visual": "47"}, set()),
        ({"flags": (Flag.WHICH_ANIMAL,)}, {"x": "y"}, {"visual": "47"}, {Flag.WHICH_ANIMAL}),
        ({"flags": (Flag.VOIDED,)}, {str(A): "other"}, None, {Flag.VOIDED}),
    ],
)
def test_an_animal_known_anew_keeps_what_a_person_said_of_it(
    known: dict[str, Any], weighed: dict[str, str], animal: dict[str, str] | None, flags: set[Flag]
) -> None:
    usual = found("lame", value=False, at=BEFORE, by="usual")
    before = past(
        **{"flags": (Flag.REPEAT,), "animal": {"id": "a1", "visual": "47"}, "findings": (TEETH, usual), **known}
    )
    now = known_anew(before, weighed, "why")
    assert (now.animal, set(now.flags), now.findings) == (animal, flags, (TEETH,))
    assert (now.revision, now.final, now.final_at, now.why) == (3, True, None, "why")


@pytest.mark.parametrize(
    ("known", "names"),
    [
        ({}, (str(A),)),
        ({"animal": {"visual": "0047"}}, (str(A), "visual 47")),
        ({"animal": {"visual": None}, "tag": None}, (past().weighing,)),
        ({"animal": {"visual": "47"}, "flags": (Flag.VOIDED,)}, ()),
        ({"flags": (Flag.PAUSED, Flag.NO_TAG)}, ()),
    ],
)
def test_what_a_weighing_is_counted_by(known: dict[str, Any], names: tuple[str, ...]) -> None:
    assert claimed(past(**known)) == names
