"""One that may be the animal before it, come on again: its doses are in doubt until somebody has looked."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.daemon.gather import advice
from neckyoke.bridge.events import DoseSaid, Flag, Former, Settled, Weighing, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.doses.given import doubt
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.job.sheet import Sheet, load_sheet
from neckyoke.bridge.telling import terminal
from tests.support import events
from tests.support.sheets import one

TAG, OTHER = "999000000000001", "999000000000002"
SHEET = """\
title = "Drench"
[[treatments]]
name = "drench"
ml_per_kg = 0.1
withhold_days = 28
[[treatments]]
name = "copper"
amount = 1
unit = "bolus"
"""
GIVEN, NOT = (DoseSaid(name="drench", given=True),), (DoseSaid(name="drench", given=False),)
LOOK = "may have been given today at 02:12, if this is number 1 again: look.  If it is another, give"


@dataclass
class Crush:
    """The first, number 1, has been weighed and given what the sheet says."""

    clerk: Clerk
    past: Past

    @classmethod
    def of(cls, sheet: Sheet, **first: Any) -> "Crush":
        past = Past()
        made = Clerk(one(sheet, None), history=past.weights, doses=past.doses, shown=past.shown, had=past.had)
        crush = cls(made, past)
        crush.goes(1, TAG, again=0, **first)
        return crush

    def told(self, data: Settled | Weighing, key: str) -> Any:
        event = wrap(data, site=events.SITE, time=data.on, key=key)
        self.past.leave(event)
        told = self.clerk.fill(event)
        self.past.add(told)
        return told.data

    def stands(self, number: int = 2, tag: str | None = None, again: int = 1, **more: Any) -> Settled:
        """Let one settle; `again`: the number of whom it may be, 0 of nobody."""
        data = events.weighing(number, tag=tag).model_dump() | {"job": "j1"} | former(again) | more
        shown = Settled.model_validate({key: data[key] for key in Settled.model_fields if key in data})
        told = self.told(shown, f"{number} settled")
        assert isinstance(told, Settled)
        return told

    def goes(self, number: int = 2, tag: str | None = None, again: int = 1, **more: Any) -> Weighing:
        """Let one be weighed."""
        data = events.weighing(number, tag=tag).model_copy(update={"job": "j1"} | former(again) | more)
        told = self.told(data, f"{number}/{data.revision}")
        assert isinstance(told, Weighing)
        return told


def former(again: int) -> dict[str, Any]:
    who = events.weighing(again or 1)
    return {"maybe_same": Former(weighing=who.weighing, number=who.number) if again else None}


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Sheet:
    path: Path = tmp_path_factory.mktemp("sheet") / "sheet.toml"
    path.write_text(SHEET)
    return load_sheet(path)


@pytest.fixture
def crush(sheet: Sheet) -> Crush:
    return Crush.of(sheet)


def test_no_dose_is_offered_as_if_it_had_never_been_given_and_it_is_held(crush: Crush) -> None:
    shown = crush.stands()
    drench, copper = shown.treatments
    assert (drench.skipped, drench.amount, drench.withheld_until) == (True, None, None)
    assert (drench.remark or "").startswith(LOOK)
    assert copper.remark == f"{LOOK} 1 bolus and say so"
    assert drench.given_before is not None
    assert not shown.may_leave
    assert shown.missing == ()
    assert doubt(shown) == "it may be number 1 again: look, and say whether it was given"
    assert terminal.advice(shown) == "Hold it: it may be number 1 again.  Look, and tell give, or tell skip."


def test_what_to_do_is_said_while_it_stands_there() -> None:
    assert advice("settled", 318.0, (), held=True, again="it may be number 1 again") == (
        "Hold it: it may be number 1 again."
    )


@pytest.mark.parametrize(("said", "skipped"), [(GIVEN, False), (NOT, True)])
def test_a_person_says_of_each_and_then_it_may_go(crush: Crush, said: tuple[DoseSaid, ...], *, skipped: bool) -> None:
    one_said = crush.stands(doses_said=said)
    assert one_said.treatments[0].skipped is skipped
    assert (one_said.treatments[0].given_before is not None) is skipped, "for one that comes on once more"
    assert not one_said.may_leave, "nothing was said of the other"
    both = crush.stands(doses_said=(*said, DoseSaid(name="Copper", given=False)))
    assert both.may_leave
    assert doubt(both) == ""


def test_where_it_is_another_after_all_it_is_offered_as_to_any(crush: Crush) -> None:
    crush.stands()
    shown = crush.stands(tag=OTHER, again=0)
    assert [one.skipped for one in shown.treatments] == [False, False]
    assert shown.may_leave
    weighed = crush.goes(tag=OTHER, again=0)
    assert [one.skipped for one in weighed.treatments] == [False, False]
    assert Flag.NOT_GIVEN not in weighed.flags


def test_what_turns_out_when_it_has_left_is_told_and_not_silent(crush: Crush) -> None:
    crush.stands()
    weighed = crush.goes()
    assert Flag.NOT_GIVEN not in weighed.flags, "nobody can tell"
    assert weighed.treatments[0].skipped
    another = crush.goes(tag=OTHER, again=0, revision=2)
    assert Flag.NOT_GIVEN in another.flags
    assert another.treatments[0].remark == "not given: it was taken for one that had it today at 02:12"
    same = crush.goes(tag=TAG, again=0, revision=3)
    assert Flag.NOT_GIVEN not in same.flags


def test_a_doubt_that_comes_when_it_has_left_takes_back_no_dose(crush: Crush) -> None:
    assert not crush.stands(again=0).treatments[0].skipped
    assert [one.skipped for one in crush.goes().treatments] == [False, False]


def test_with_the_tag_in_doubt_it_is_said_with_doubt_too(crush: Crush) -> None:
    assert (crush.stands(tag=TAG).treatments[0].remark or "").startswith(LOOK)
    assert (crush.stands(tag=TAG, again=0).treatments[0].remark or "").startswith("given today at")


def test_on_again_a_second_time_it_still_had_what_it_had(crush: Crush) -> None:
    crush.stands()
    crush.goes()
    third = crush.stands(3, again=2)
    assert third.treatments[0].skipped
    assert third.treatments[0].given_before == crush.stands(2).treatments[0].given_before


def test_nor_is_it_offered_a_third_time_to_one_of_which_a_person_said_that_it_was_not_given_twice(crush: Crush) -> None:
    said = (*NOT, DoseSaid(name="copper", given=False))
    assert crush.stands(doses_said=said).may_leave
    crush.goes(doses_said=said)
    third = crush.stands(3, again=2)
    assert [one.skipped for one in third.treatments] == [True, True]
    assert not third.may_leave


def test_a_word_on_the_batch_says_nothing_of_whether_it_was_given(crush: Crush) -> None:
    shown = crush.stands(doses_said=(DoseSaid(name="drench", batch="B8"), DoseSaid(name="copper", given=False)))
    assert shown.treatments[0].skipped
    assert doubt(shown) != ""
    assert not shown.may_leave


@pytest.mark.parametrize("first", [{"flags": (Flag.VOIDED,), "none_given": True}, {"doses_said": NOT}])
def test_what_the_one_before_was_not_given_is_offered(sheet: Sheet, first: dict[str, Any]) -> None:
    assert not Crush.of(sheet, **first).stands().treatments[0].skipped


def test_what_the_one_before_had_is_in_doubt_also_where_it_was_struck_out(sheet: Sheet) -> None:
    assert Crush.of(sheet, flags=(Flag.VOIDED,)).stands().treatments[0].skipped


WORDS = st.sampled_from([(), GIVEN, NOT])


@given(st.sampled_from([None, TAG, OTHER]), st.booleans(), WORDS, WORDS, st.booleans())
def test_what_is_not_offered_is_said_to_be_in_doubt_or_known_to_have_been_given(
    sheet: Sheet,
    tag: str | None,
    again: bool,  # noqa: FBT001
    first: tuple[DoseSaid, ...],
    said: tuple[DoseSaid, ...],
    weighed: bool,  # noqa: FBT001
) -> None:
    crush = Crush.of(sheet, doses_said=first)
    had = first != NOT
    shown = crush.stands(tag=tag, again=int(again), doses_said=said)
    told = crush.goes(tag=tag, again=int(again), doses_said=said) if weighed else shown
    for data in (shown, told):
        (drench, *_) = data.treatments
        offered = not drench.skipped
        if said:
            assert offered is (said == GIVEN)
        else:
            assert offered is not (had and (again or tag == TAG))
        if not offered and not said:
            assert (doubt(data) != "") is again
            assert "given today at" in (drench.remark or "") or LOOK in (drench.remark or "")
