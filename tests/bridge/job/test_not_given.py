"""An animal taken for one that had been treated: what was shown stands, and it is said that it was not treated."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.events import DoseSaid, Event, Flag, Settled, Weighing, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.job.sheet import load_sheet
from tests.support import events
from tests.support.sheets import one

MINE, OTHER = "999000000000002", "999000000000001"
SHEET = 'title = "Drench"\n[[treatments]]\nname = "drench"\nml = 10\nwithhold_days = 28\n'
GIVEN = DoseSaid(name="drench", given=True)


@dataclass
class Crush:
    """The second animal's tag was heard at the first as well."""

    clerk: Clerk
    past: Past

    def told(self, event: Event) -> Event:
        self.past.leave(event)
        told = self.clerk.fill(event)
        self.past.add(told)
        return told

    def stands(self, **more: Any) -> Settled:
        """Let the second settle."""
        data = _weighing(2).model_dump()
        shown = Settled.model_validate({key: data[key] for key in Settled.model_fields if key in data} | more)
        told = self.told(wrap(shown, site=events.SITE, time=shown.settled, key="2")).data
        assert isinstance(told, Settled)
        return told

    def goes(self, number: int, tag: str | None = None, **more: Any) -> Weighing:
        """Let one be weighed, or a word change its weighing."""
        data = _weighing(number, tag).model_copy(update=more)
        told = self.told(wrap(data, site=events.SITE, time=data.off, key=f"{number}/{data.revision}")).data
        assert isinstance(told, Weighing)
        return told


def _weighing(number: int, tag: str | None = None) -> Weighing:
    return events.weighing(number, tag=tag).model_copy(update={"job": "j1"})


@pytest.fixture
def crush(tmp_path: Path) -> Crush:
    path = tmp_path / "sheet.toml"
    path.write_text(SHEET)
    past = Past()
    made = Clerk(one(load_sheet(path), None), history=past.weights, doses=past.doses, shown=past.shown, had=past.had)
    crush = Crush(made, past)
    assert not crush.goes(1, MINE).treatments[0].skipped
    shown = crush.stands()
    assert shown.treatments[0].skipped
    assert Flag.NOT_GIVEN not in shown.flags, "it may yet be another, and be given it"
    return crush


def test_what_was_shown_stands_and_that_it_was_not_given_is_told(crush: Crush) -> None:
    assert not crush.goes(1, OTHER, revision=2).treatments[0].skipped, "the first was given it, whoever it was"
    weighed = crush.goes(2)
    (dose,) = weighed.treatments
    assert (dose.skipped, dose.withheld_until) == (True, None)
    assert dose.remark == "not given: it was taken for one that had it today at 02:12"
    assert Flag.NOT_GIVEN in weighed.flags
    assert Flag.WITHHELD not in weighed.flags, "by nothing but the other's dose"


def test_one_that_did_come_twice_misses_nothing(crush: Crush) -> None:
    weighed = crush.goes(2)
    assert weighed.treatments[0].skipped
    assert Flag.NOT_GIVEN not in weighed.flags
    assert Flag.WITHHELD in weighed.flags


def test_one_that_turns_out_another_as_it_stands_there_is_given_it(crush: Crush) -> None:
    crush.goes(1, OTHER, revision=2)
    assert not crush.stands().treatments[0].skipped
    weighed = crush.goes(2)
    assert not weighed.treatments[0].skipped
    assert Flag.NOT_GIVEN not in weighed.flags


def test_a_person_who_gave_it_as_it_stood_there_has_the_word(crush: Crush) -> None:
    crush.goes(1, OTHER, revision=2)
    weighed = crush.goes(2, doses_said=(GIVEN,))
    assert not weighed.treatments[0].skipped
    assert Flag.NOT_GIVEN not in weighed.flags


@pytest.mark.parametrize("other", [False, True])
@pytest.mark.parametrize(("words", "missed"), [((), True), ((GIVEN,), False)])
def test_given_afterwards_it_is_missed_no_more(
    crush: Crush, words: tuple[DoseSaid, ...], *, other: bool, missed: bool
) -> None:
    crush.goes(1, OTHER, revision=2)
    weighed = crush.goes(2).model_copy(update={"doses_said": words, "revision": 2})
    event = wrap(weighed, site=events.SITE, time=weighed.off, key="2/2")
    now = crush.clerk.afterwards(event, other=other).data
    assert isinstance(now, Weighing)
    assert (now.treatments[0].skipped, Flag.NOT_GIVEN in now.flags) == (missed, missed)


GONE = "not given, unless you say so: it left before its weight settled, and no dose was shown"
SHORT: dict[str, Any] = {"settled": None}


def test_one_that_left_before_it_settled_was_shown_no_dose_and_got_none(crush: Crush) -> None:
    weighed = crush.goes(3, OTHER, **SHORT)
    (dose,) = weighed.treatments
    assert (dose.skipped, dose.remark, dose.withheld_until) == (True, GONE, None)
    assert Flag.NOT_GIVEN in weighed.flags
    again = crush.goes(4, OTHER)
    assert not again.treatments[0].skipped, "nor did it have any"
    assert Flag.NOT_GIVEN not in again.flags


@pytest.mark.parametrize(
    ("said", "given", "flagged"),
    [
        ({"doses_said": (GIVEN,)}, True, False),
        ({"doses_said": (DoseSaid(name="drench", amount=12.0),)}, True, False),
        ({"doses_said": (DoseSaid(name="drench", given=False),)}, False, False),  # it is known
        ({"doses_said": (DoseSaid(name="drench", batch="B7"),)}, False, True),
        ({"flags": (Flag.VOIDED,), "none_given": True}, False, False),
        ({}, False, True),
    ],
)
@pytest.mark.parametrize("long_ago", [False, True])
def test_a_person_says_whether_it_was_given(
    crush: Crush, said: dict[str, Any], *, given: bool, flagged: bool, long_ago: bool
) -> None:
    told = crush.goes(3, OTHER, **SHORT)
    weighed = told.model_copy(update={**said, "revision": 2}) if long_ago else None
    if weighed is None:
        weighed = crush.goes(3, OTHER, **SHORT, **said, revision=2)
    else:
        event = wrap(weighed, site=events.SITE, time=weighed.off, key="3/2")
        now = crush.clerk.afterwards(event, other=False).data
        assert isinstance(now, Weighing)
        weighed = now
        if "flags" in said:
            flagged = Flag.NOT_GIVEN in weighed.flags  # they are the word's
    assert (not weighed.treatments[0].skipped, Flag.NOT_GIVEN in weighed.flags) == (given, flagged)


def test_one_that_settled_was_shown_it_though_nobody_saw_it_leave(crush: Crush) -> None:
    assert not crush.goes(3, OTHER).treatments[0].skipped
